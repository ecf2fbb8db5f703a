//! How a capture ends.

/// How a capture ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tail {
    /// After a whole block.
    Whole,
    /// Inside a block, as after a kill or a power cut: everything before it has been read.
    Torn {
        /// Where the torn block begins, in octets from the start.
        offset: u64,
        /// Octets of it that are there.
        octets: u64,
    },
    /// At a block that makes no sense: nothing behind it is read.
    Damaged {
        /// Where the block begins, in octets from the start.
        offset: u64,
        /// What is wrong with it.
        why: &'static str,
    },
}

impl core::fmt::Display for Tail {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Tail::Whole => f.write_str("the capture ends after a whole block"),
            Tail::Torn { offset, octets } => {
                write!(
                    f,
                    "the capture ends inside a block at octet {offset}; its {octets} octets are skipped"
                )
            }
            Tail::Damaged { offset, why } => {
                write!(f, "the capture is damaged at octet {offset}: {why}; the rest is skipped")
            }
        }
    }
}
