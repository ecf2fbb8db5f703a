//! The words of the library as small numbers. What comes in from C is a plain octet and is looked up here: an octet may hold anything.

use bellwire::{frame, link, setpoint};

use crate::status::Status;

/// Class of a message: how it is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Class {
    /// Newest wins; unconfirmed; never repeated by the library.
    SetPoint = 0,
    /// Confirmed, in order, exactly once within a session.
    Errand = 1,
    /// Confirmed, order not kept.
    Report = 2,
    /// Unconfirmed.
    Notice = 3,
}

/// Where the board's own number comes from, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Own {
    /// From storage: the program read N and has stored N + 16 before it made the port.
    Stored = 0,
    /// 32 random bits.
    Random = 1,
    /// Neither: the link keeps quiet for a while after each start.
    Numberless = 2,
}

/// What stopping means for an actuator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Stop {
    /// Stay where it is, under power.
    Hold = 0,
    /// Short the motor or close the brake.
    Brake = 1,
    /// Let it run out.
    Coast = 2,
    /// Cut the supply.
    Off = 3,
}

/// State of a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum State {
    /// No session.
    Down = 0,
    /// A session, and the peer is heard.
    Up = 1,
    /// A session, but the peer has been silent for one and a half of its keep-alive periods.
    Quiet = 2,
}

/// What a dead-man does now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Motion {
    /// Stopped; no set-point has been taken since the reason arose.
    Held = 0,
    /// The newest set-point drives.
    Running = 1,
    /// Stopped; set-points came, and ceased.
    Stale = 2,
    /// Stopped although set-points are fresh: first the stop value, then an operator's re-arming.
    MustRearm = 3,
}

/// Why a dead-man is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Reason {
    /// It is not, or has nothing new to tell.
    None = 0,
    /// The board has just started.
    Boot = 1,
    /// The session with the peer ended.
    LinkEnded = 2,
    /// The agreements differ.
    Mismatch = 3,
    /// No new set-point arrived within the limit.
    NoNews = 4,
    /// An operator, or the board itself, asked for the stop.
    Operator = 5,
}

/// What an event is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Happening {
    /// Nothing more for now.
    None = 0,
    /// A session is open: `identity`, `fingerprint`, `cause` of the peer.
    Opened = 1,
    /// The peer is silent for longer than it should be.
    Quiet = 2,
    /// The peer is heard again.
    Resumed = 3,
    /// The session has ended: `end`, and `cause` where the peer restarted.
    Ended = 4,
    /// The boards do not speak the same: `identity` and `fingerprint` of the peer.
    Mismatch = 5,
    /// A message: `message_class`, `message`, `octets`, `length`, `arrived`, `missed`.
    Message = 6,
    /// What became of an errand or report: `ticket`, `outcome`.
    Outcome = 7,
    /// An errand or report is sent again: `ticket`, `tries`.
    Resent = 8,
    /// Foreign text, as it came: `octets`, `length`.
    Text = 9,
    /// Something was refused: `reject`.
    Refused = 10,
}

/// What became of an errand or report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Outcome {
    /// The receiving program had it. It does not mean done.
    Delivered = 0,
    /// Certain: it never left.
    NotSent = 1,
    /// It may have arrived.
    Unknown = 2,
}

/// Why a session ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum End {
    /// The peer restarted, or left.
    PeerRestarted = 0,
    /// Nothing was heard for longer than the peer promised.
    Silence = 1,
    /// Wire version or agreement differ.
    Mismatch = 2,
    /// The program closed the port.
    Closed = 3,
}

/// The class of this number.
pub(crate) fn class(number: u8) -> Result<frame::Class, Status> {
    frame::Class::ALL.get(usize::from(number)).copied().ok_or(Status::NoSuchValue)
}

/// The stop of this number.
pub(crate) fn stop(number: u8) -> Result<setpoint::Stop, Status> {
    setpoint::Stop::ALL.get(usize::from(number)).copied().ok_or(Status::NoSuchValue)
}

/// Where an own number comes from.
pub(crate) const fn own(from: u8, number: u32) -> Result<link::OwnNumber, Status> {
    match from {
        0 => Ok(link::OwnNumber::Stored(number)),
        1 => Ok(link::OwnNumber::Random(number)),
        2 => Ok(link::OwnNumber::Numberless),
        _ => Err(Status::NoSuchValue),
    }
}

/// Why the board started, as section 4 of the wire text numbers it.
pub(crate) fn cause(number: u8) -> Result<frame::ResetCause, Status> {
    use frame::ResetCause as Cause;
    let all = [
        Cause::Unknown,
        Cause::Power,
        Cause::Pin,
        Cause::Watchdog,
        Cause::Software,
        Cause::LowVoltage,
        Cause::Wake,
        Cause::Fault,
    ];
    all.get(usize::from(number)).copied().ok_or(Status::NoSuchValue)
}

impl From<frame::Class> for Class {
    fn from(class: frame::Class) -> Self {
        match class {
            frame::Class::SetPoint => Self::SetPoint,
            frame::Class::Errand => Self::Errand,
            frame::Class::Report => Self::Report,
            frame::Class::Notice => Self::Notice,
        }
    }
}

impl From<link::State> for State {
    fn from(state: link::State) -> Self {
        match state {
            link::State::Down => Self::Down,
            link::State::Up => Self::Up,
            link::State::Quiet => Self::Quiet,
        }
    }
}

impl From<link::EndReason> for End {
    fn from(reason: link::EndReason) -> Self {
        match reason {
            link::EndReason::PeerRestarted(_) => Self::PeerRestarted,
            link::EndReason::Silence => Self::Silence,
            link::EndReason::Mismatch => Self::Mismatch,
            link::EndReason::Closed => Self::Closed,
        }
    }
}

impl From<setpoint::Motion> for Motion {
    fn from(motion: setpoint::Motion) -> Self {
        match motion {
            setpoint::Motion::Held(_) => Self::Held,
            setpoint::Motion::Running => Self::Running,
            setpoint::Motion::Stale(_) => Self::Stale,
            setpoint::Motion::MustRearm(_) => Self::MustRearm,
        }
    }
}

impl From<Option<setpoint::Reason>> for Reason {
    fn from(reason: Option<setpoint::Reason>) -> Self {
        match reason {
            None => Self::None,
            Some(setpoint::Reason::Boot) => Self::Boot,
            Some(setpoint::Reason::LinkEnded(_)) => Self::LinkEnded,
            Some(setpoint::Reason::Mismatch) => Self::Mismatch,
            Some(setpoint::Reason::NoNews) => Self::NoNews,
            Some(setpoint::Reason::Operator) => Self::Operator,
        }
    }
}
