//! Exit codes of the `bellwire` command.

use std::process::ExitCode;

/// How a run ended; the numbers are part of the tool's interface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Exit {
    /// All went well, or the reader of the output went away.
    Good = 0,
    /// The work was done, and what it was to find out is not good: a check failed, an outcome is unknown or not sent.
    NotGood = 1,
    /// The command line makes no sense.
    Usage = 2,
    /// The input is not what it should be.
    BadInput = 65,
    /// The endpoint is not there, is in use, or nobody answers.
    Unavailable = 69,
    /// Reading or writing failed, for instance because the disk is full.
    Io = 74,
    /// The peer speaks another wire version or holds another agreement.
    Mismatch = 76,
    /// The system does not allow it.
    Permission = 77,
}

impl Exit {
    /// All codes, in order.
    pub const ALL: [Self; 8] = [
        Self::Good,
        Self::NotGood,
        Self::Usage,
        Self::BadInput,
        Self::Unavailable,
        Self::Io,
        Self::Mismatch,
        Self::Permission,
    ];

    /// The number that the shell sees.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }

    /// What the code says, as in the help text.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Good => "all went well",
            Self::NotGood => "not good: a check failed, or an outcome is unknown or not sent",
            Self::Usage => "the command line makes no sense",
            Self::BadInput => "the input is not what it should be",
            Self::Unavailable => "the endpoint is not there or in use, or nobody answers",
            Self::Io => "reading or writing failed, for instance on a full disk",
            Self::Mismatch => "the peer speaks another version or holds another agreement",
            Self::Permission => "the system does not allow it",
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
