//! Kinds of damage, in words.

/// A kind of damage to the wire image of a frame, delimiters and stuffing included.
///
/// Bits are counted as a UART sends them, least significant first; a burst of n bits has its first and its last bit flipped and each
/// between with odds of one half.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Damage {
    /// Each flip of so many bits, 1 to 3.
    Flips(usize),
    /// Bursts, each length from the first to the second with the same odds, anywhere.
    Bursts(usize, usize),
    /// Each octet at each place put in.
    PutIn,
    /// Each run of 1 to 8 octets lost.
    Lost,
    /// Each octet replaced by each other one.
    Replaced,
    /// 24 random octets between delimiters.
    Garbage,
    /// 4 to 60 printable octets with CR LF between delimiters.
    Console,
    /// 1 to 64 of one octet, as they are and between delimiters.
    Held(u8),
}

/// All kinds with their names.
pub const DAMAGE: [(&str, Damage); 14] = [
    ("each 1-bit flip", Damage::Flips(1)),
    ("each 2-bit flip", Damage::Flips(2)),
    ("each 3-bit flip", Damage::Flips(3)),
    ("bursts of 2 to 16 bits", Damage::Bursts(2, 16)),
    ("bursts of 17 bits", Damage::Bursts(17, 17)),
    ("bursts of 18 to 32 bits", Damage::Bursts(18, 32)),
    ("each octet put in", Damage::PutIn),
    ("each run of 1 to 8 octets lost", Damage::Lost),
    ("each octet replaced by each other", Damage::Replaced),
    ("24 random octets", Damage::Garbage),
    ("4 to 60 printable octets, CR LF", Damage::Console),
    ("a line of zeros, 1 to 64 octets", Damage::Held(0)),
    ("a line of ones, 1 to 64 octets", Damage::Held(0xFF)),
    ("a line of 0x55, 1 to 64 octets", Damage::Held(0x55)),
];

/// Samples of each frame, where not every damage can be tried.
pub(super) const SAMPLES: u64 = 1_000;

/// Octets of the shortest wire image (a datagram with the 16-bit FCS).
const SHORTEST: u64 = 20;

impl Damage {
    /// Frames that have at least `trials` trials.
    pub(super) const fn frames(self, trials: u64) -> u64 {
        let bits = SHORTEST * 8;
        let each = match self {
            Self::Flips(1) => bits,
            Self::Flips(2) => bits * (bits - 1) / 2,
            Self::Flips(_) => bits * (bits - 1) * (bits - 2) / 6,
            Self::PutIn => (SHORTEST + 1) * 256,
            Self::Lost => SHORTEST * 8 - 28,
            Self::Replaced => SHORTEST * 255,
            Self::Bursts(..) | Self::Garbage | Self::Console => SAMPLES,
            // Nothing random: once is all.
            Self::Held(_) => return 1,
        };
        trials.div_ceil(each)
    }
}
