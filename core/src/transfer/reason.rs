//! Why a transfer ends early, and why a body is not taken.

macro_rules! reasons {
    ($($variant:ident = $code:literal, $reason:literal;)*) => {
        /// Why one side ended a transfer (W-56).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[repr(u8)]
        pub enum Reason {
            $(#[doc = concat!($reason, ".")] $variant = $code,)*
        }

        impl Reason {
            /// The reason with this code; unknown ones read as [`Reason::Other`].
            #[must_use]
            pub const fn from_code(code: u8) -> Self {
                match code { $($code => Self::$variant,)* _ => Self::Other }
            }

            /// In plain words, for instance `another transfer is under way`.
            #[must_use]
            pub const fn reason(self) -> &'static str {
                match self { $(Self::$variant => $reason,)* }
            }
        }
    };
}

reasons! {
    Other = 0, "a reason that this version does not know";
    TooLarge = 1, "larger than the receiver takes";
    PartTooLong = 2, "its parts are longer than the receiver takes";
    Busy = 3, "another transfer is under way";
    NotWanted = 4, "the receiver has no use for it";
    NotKnown = 5, "the receiver knows no such transfer: offer it";
    Damaged = 6, "the whole does not have its CRC";
    Storage = 7, "it could not be stored";
    Stopped = 8, "its program ended it";
    Unreadable = 9, "the sender can no longer read it";
}

/// Why a body was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refused {
    /// W-52: no such message, or not of its exact length.
    BadLength,
    /// W-52: a size, part length or window that cannot be.
    BadField,
    /// W-53: a part that the transfer does not have, or of another length than its place demands.
    BadPart,
    /// W-54: outside the window.
    OutsideWindow,
    /// W-53: held already; never replaced.
    Repeat,
    /// W-54: not the answer to the newest asking.
    OldRound,
    /// W-52: of another transfer.
    OtherTransfer,
    /// A message for the other role.
    OtherRole,
    /// W-56: the transfer is over.
    Over,
}

impl Refused {
    /// The reason in plain words.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::BadLength => "no transfer message, or not of its exact length",
            Self::BadField => "a size, part length or window that cannot be",
            Self::BadPart => "a part that the transfer does not have, or of another length",
            Self::OutsideWindow => "a part outside the window",
            Self::Repeat => "a part that is held already",
            Self::OldRound => "a map that answers an earlier asking",
            Self::OtherTransfer => "of another transfer",
            Self::OtherRole => "a message for the other side of a transfer",
            Self::Over => "of a transfer that is over",
        }
    }
}

impl core::fmt::Display for Reason {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.reason())
    }
}

impl core::fmt::Display for Refused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.reason())
    }
}

impl core::error::Error for Refused {}
