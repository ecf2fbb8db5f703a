//! The body of an OPEN frame (section 4).

use super::{PAYLOAD_RANGE, Reject};
use crate::rules::holds;

/// The wire version that this crate speaks.
pub const WIRE_VERSION: u8 = 1;

/// Octets of an OPEN body of version 1, without the control octet and the FCS.
pub const OPEN_LEN: usize = 26;

// The flags; the cause of the reset stands in bits 4 to 6.
const ASK: u8 = 0x01;
const ECHO: u8 = 0x02;
const NUMBERLESS: u8 = 0x04;
const RESERVED: u8 = 0x88;

/// Why a board last started, as far as it knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum ResetCause {
    /// Not known.
    #[default]
    Unknown = 0,
    /// Power came on.
    Power = 1,
    /// The reset pin.
    Pin = 2,
    /// The watchdog.
    Watchdog = 3,
    /// The program asked for it.
    Software = 4,
    /// The supply sagged.
    LowVoltage = 5,
    /// It woke from sleep.
    Wake = 6,
    /// A fault or panic handler.
    Fault = 7,
}

impl ResetCause {
    pub(crate) const fn from_bits(bits: u8) -> Self {
        match bits & 7 {
            1 => Self::Power,
            2 => Self::Pin,
            3 => Self::Watchdog,
            4 => Self::Software,
            5 => Self::LowVoltage,
            6 => Self::Wake,
            7 => Self::Fault,
            _ => Self::Unknown,
        }
    }

    /// In plain words, for instance `the watchdog`.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Unknown => "cause not known",
            Self::Power => "power came on",
            Self::Pin => "the reset pin",
            Self::Watchdog => "the watchdog",
            Self::Software => "the program asked for it",
            Self::LowVoltage => "the supply sagged",
            Self::Wake => "woke from sleep",
            Self::Fault => "a fault handler",
        }
    }
}

/// The body of an OPEN frame. For other versions only `version`, `ask`, `numberless`, `cause`, `mine` and `echo` mean something (W-21).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Open {
    /// Wire version.
    pub version: u8,
    /// "I am not up, answer me."
    pub ask: bool,
    /// The sender has neither storage nor randomness (W-36).
    pub numberless: bool,
    /// Why the sender last started.
    pub cause: ResetCause,
    /// The sender's own number (W-22).
    pub mine: u32,
    /// The own number last heard from the receiver, if any.
    pub echo: Option<u32>,
    /// Window, 1..=8.
    pub window: u8,
    /// Largest payload taken, octets.
    pub max_payload: u16,
    /// Fingerprint of the agreement; 0: none.
    pub fingerprint: u32,
    /// Longest pause between frames while up, in 100 ms; 0: no promise.
    pub silence: u8,
    /// The board's long name; 0: none.
    pub identity: u64,
}

fn u32_at(body: &[u8], at: usize) -> Option<u32> {
    let field = body.get(at..)?.first_chunk::<4>()?;
    Some(u32::from_le_bytes(*field))
}

impl Open {
    /// Reads the body of an OPEN frame (what follows the control octet).
    ///
    /// # Errors
    /// [`Reject::BadLength`] if it is too short, or not of the exact length in version 1; [`Reject::BadOpen`] for a field out of range.
    pub fn parse(body: &[u8]) -> Result<Self, Reject> {
        Self::check(body)?;
        let (&version, &flags) = body.first().zip(body.get(1)).ok_or(Reject::BadLength)?;
        let mine = u32_at(body, 2).ok_or(Reject::BadLength)?;
        let echo = u32_at(body, 6).ok_or(Reject::BadLength)?;
        let mut open = Self {
            version,
            ask: flags & ASK != 0,
            numberless: flags & NUMBERLESS != 0,
            cause: ResetCause::from_bits(flags >> 4),
            mine,
            echo: (flags & ECHO != 0).then_some(echo),
            window: 1,
            max_payload: *PAYLOAD_RANGE.start(),
            fingerprint: 0,
            silence: 0,
            identity: 0,
        };
        if version != WIRE_VERSION && holds(21) {
            return Ok(open);
        }
        let body: &[u8; OPEN_LEN] = body.try_into().map_err(|_| Reject::BadLength)?;
        let [_, _, _, _, _, _, _, _, _, _, window, low, high, f0, f1, f2, f3, silence, identity @ ..] = *body;
        open.window = window;
        open.max_payload = u16::from_le_bytes([low, high]);
        open.fingerprint = u32::from_le_bytes([f0, f1, f2, f3]);
        open.silence = silence;
        open.identity = u64::from_le_bytes(identity);
        Ok(open)
    }

    /// Checks the body of an OPEN frame, for a receiver that does not need what is in it: as [`parse`](Self::parse).
    pub(crate) fn check(body: &[u8]) -> Result<(), Reject> {
        match *body {
            [version, _, _, _, _, _, _, _, _, _, ..] if version != WIRE_VERSION && holds(21) => Ok(()),
            [_, flags, _, _, _, _, _, _, _, _, window, low, high, ..] if body.len() == OPEN_LEN => {
                let max_payload = u16::from_le_bytes([low, high]);
                let fits = flags & RESERVED == 0
                    && (1..=8).contains(&window)
                    && PAYLOAD_RANGE.contains(&max_payload);
                if fits || !holds(20) { Ok(()) } else { Err(Reject::BadOpen) }
            }
            _ => Err(Reject::BadLength),
        }
    }

    /// The body on the wire.
    #[must_use]
    pub fn octets(&self) -> [u8; OPEN_LEN] {
        let flag = |set: bool, bit: u8| if set { bit } else { 0 };
        let flags = flag(self.ask, ASK)
            | flag(self.echo.is_some(), ECHO)
            | flag(self.numberless, NUMBERLESS)
            | (self.cause as u8) << 4;
        let [m0, m1, m2, m3] = self.mine.to_le_bytes();
        let [e0, e1, e2, e3] = self.echo.unwrap_or(0).to_le_bytes();
        let [p0, p1] = self.max_payload.to_le_bytes();
        let [f0, f1, f2, f3] = self.fingerprint.to_le_bytes();
        let [i0, i1, i2, i3, i4, i5, i6, i7] = self.identity.to_le_bytes();
        [
            self.version,
            flags,
            m0,
            m1,
            m2,
            m3,
            e0,
            e1,
            e2,
            e3,
            self.window,
            p0,
            p1,
            f0,
            f1,
            f2,
            f3,
            self.silence,
            i0,
            i1,
            i2,
            i3,
            i4,
            i5,
            i6,
            i7,
        ]
    }
}
