//! Why a candidate or a frame was refused: one variant per rule of the wire text.

macro_rules! rejects {
    ($($variant:ident = $code:literal, $rule:literal, $name:literal, $reason:literal;)*) => {
        /// Why a candidate or a frame was refused; each names the rule of `WIRE.md` that was broken (section 9).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[non_exhaustive]
        #[repr(u8)]
        pub enum Reject {
            $(#[doc = concat!($rule, ": ", $reason, ".")] $variant = $code,)*
        }

        impl Reject {
            /// All rejects in the order of their codes.
            pub const ALL: [Self; rejects!(@count $($variant)*)] = [$(Self::$variant,)*];

            /// The number of the broken rule, for instance `W-11`.
            #[must_use]
            pub const fn rule(self) -> &'static str {
                match self { $(Self::$variant => $rule,)* }
            }

            /// Two or three words, for instance `bad FCS`.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// The reason in plain words, for instance `damaged on the way`.
            #[must_use]
            pub const fn reason(self) -> &'static str {
                match self { $(Self::$variant => $reason,)* }
            }
        }
    };
    (@count $($variant:ident)*) => { 0 $(+ { let _ = stringify!($variant); 1 })* };
}

rejects! {
    BrokenCode = 0, "W-3", "broken code", "a code octet points past the end of the frame";
    NotCanonical = 1, "W-4", "not canonical", "an encoding that no encoder makes";
    Aborted = 2, "W-5", "aborted", "the sender broke the frame off";
    BadEscape = 3, "W-6", "bad escape", "an escape octet before an octet that is never escaped";
    TooLong = 4, "W-8", "too long", "longer than the receiver's buffer";
    TooShort = 5, "W-10", "too short", "shorter than any frame";
    BadFcs = 6, "W-11", "bad FCS", "damaged on the way";
    ReservedKind = 7, "W-12", "reserved kind", "kind 0, or extension 0xFF";
    SessionBits = 8, "W-13", "session bits", "session bits in a frame that has none";
    BadAddress = 9, "W-15", "bad address", "an address that is reserved";
    NotForUs = 10, "W-15", "not for us", "an addressed frame on a point-to-point link";
    BadAckForm = 11, "W-16", "bad acknowledgement form", "form 3, or a form this kind does not allow";
    BadLength = 12, "W-17", "bad length", "ends inside its fields, or octets are left over";
    BadMessageNumber = 13, "W-18", "bad message number", "missing, too large, or not in the shortest form";
    UnknownExtension = 14, "W-19", "unknown extension", "an extension this version does not know";
    BadOpen = 15, "W-20", "bad open field", "a field of OPEN out of its range";
    OtherVersion = 16, "W-21", "other version", "an OPEN of another wire version";
    NotOpen = 17, "W-27", "not open", "a message before the session is open";
    OtherSession = 18, "W-32", "other session", "a message of another session";
    OutsideWindow = 19, "W-38", "outside window", "a sequence number that is neither new nor a repeat";
    BadAcknowledgement = 20, "W-40", "bad acknowledgement", "acknowledges what was never sent";
    NoRoom = 21, "W-39", "no room", "nowhere to put it; the sender will try again";
    StaleSetPoint = 22, "W-45", "stale set-point", "older than one already taken";
}

impl Reject {
    /// The stable code, also its place among the counters (section 9).
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }
}

impl core::fmt::Display for Reject {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} ({}): {}", self.name(), self.rule(), self.reason())
    }
}

impl core::error::Error for Reject {}
