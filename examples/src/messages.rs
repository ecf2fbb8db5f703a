//! The messages of the observatory that the lessons use: one enum, the agreement of all its boards.
//!
//! The place of a variant is its message number, so variants are only ever added at the end.

use serde::{Deserialize, Serialize};

/// The fingerprint of `examples/observatory/agreement.toml`, which every board states when it opens. Of its messages the lessons have the first
/// nine: a board may leave out what is not for it.
pub const FINGERPRINT: u32 = 0x5350_2311;

/// A message of the observatory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Message {
    /// 0, set-point: how fast the dome shall turn.
    DomeRate {
        /// 0.01 °/s; positive is clockwise seen from above.
        rate: i16,
    },
    /// 1, errand: where the dome shall turn to.
    DomeGoto {
        /// 0.01 ° from north through east, 0..=35 999.
        azimuth: u16,
    },
    /// 2, errand: what the shutter shall do.
    Shutter(ShutterMove),
    /// 3, report: the state of the dome.
    DomeState {
        /// 0.01 °.
        azimuth: u16,
        /// 0.01 °/s.
        rate: i16,
        /// How far the shutter is open, %.
        shutter: u8,
        /// What the dead-man of the rotation does.
        motion: DomeMotion,
    },
    /// 4, errand from the dome to the desk: something is wrong.
    DomeAlarm(Alarm),
    /// 5, errand: an operator re-arms the dome.
    Rearm,
    /// 6, errand: where the focuser shall go.
    FocuserGoto {
        /// µm.
        position: u32,
    },
    /// 7, report: the state of the focuser.
    FocuserState {
        /// µm.
        position: u32,
        /// 0.01 °C.
        temperature: i16,
    },
    /// 8, report of the mast: the weather.
    Weather {
        /// 0.1 m/s.
        wind: u16,
        /// Whether it rains.
        rain: bool,
        /// Temperature of the sky, 0.01 °C.
        sky: i16,
        /// lx.
        light: u32,
    },
}

/// What the shutter shall do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ShutterMove {
    /// Open.
    Open,
    /// Close.
    Close,
    /// Stop where it is.
    Stop,
}

/// What the dead-man of the dome does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum DomeMotion {
    /// Held.
    Held,
    /// Running.
    Running,
    /// No fresh news.
    Stale,
    /// Must be re-armed.
    Rearm,
}

/// What is wrong at the dome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Alarm {
    /// No new set-point within the limit.
    NoNews,
    /// Rain on the dome.
    Rain,
    /// A limit switch.
    Limit,
}
