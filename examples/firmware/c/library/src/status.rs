//! How a call went.

use bellwire::{link::SendError, setpoint::RearmError};
use core::ffi::c_char;

/// How a call went. With anything but OK nothing was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Status {
    /// Done.
    Ok = 0,
    /// A pointer is null.
    Null = 1,
    /// The memory is smaller than this library needs: is the header that of the library?
    Short = 2,
    /// The memory is not aligned for its type.
    Unaligned = 3,
    /// The handle was not made, or was copied after it was made.
    NotMade = 4,
    /// Another call with this handle is under way: this one came out of a callback or an interrupt.
    Busy = 5,
    /// A value that does not exist: a class, a stop, where the own number comes from, why the board started.
    NoSuchValue = 6,
    /// Not sent: the link is down.
    NotOpen = 7,
    /// Not sent: the queue is full.
    QueueFull = 8,
    /// Not sent: longer than the session allows.
    TooLong = 9,
    /// Not sent: the payload does not begin with a message number in its shortest form.
    BadMessageNumber = 10,
    /// Not re-armed: the agreements differ; a matching peer must open first.
    Mismatch = 11,
    /// Not re-armed: no fresh set-point is there; the sender must stream.
    NoNews = 12,
    /// Not re-armed: the newest set-point is not the stop value; the sender must let go first.
    NotAtStop = 13,
}

/// The status in plain words, a text of ASCII that stays.
#[no_mangle]
pub extern "C" fn bellwire_status_words(status: u8) -> *const c_char {
    words(status).as_ptr().cast()
}

/// Each ends in a zero, as C wants it.
const fn words(status: u8) -> &'static str {
    match status {
        0 => "done\0",
        1 => "a pointer is null\0",
        2 => "the memory is too small: header and library are not of one version\0",
        3 => "the memory is not aligned\0",
        4 => "the handle was not made, or was copied: make it first, and where it stays\0",
        5 => "another call with this handle is under way: call from the loop alone\0",
        6 => "no such value\0",
        7 => "not sent: the link is down\0",
        8 => "not sent: the queue is full\0",
        9 => "not sent: longer than the session allows\0",
        10 => "not sent: the payload must begin with a message number\0",
        11 => "not re-armed: the agreements differ\0",
        12 => "not re-armed: no fresh set-point; start sending the stop value\0",
        13 => "not re-armed: the newest set-point is not the stop value\0",
        _ => "no status of this library\0",
    }
}

impl From<Result<(), Status>> for Status {
    fn from(result: Result<(), Status>) -> Self {
        result.err().unwrap_or(Self::Ok)
    }
}

impl From<SendError> for Status {
    fn from(error: SendError) -> Self {
        match error {
            SendError::NotOpen => Self::NotOpen,
            SendError::QueueFull => Self::QueueFull,
            SendError::TooLong { .. } => Self::TooLong,
            SendError::BadMessageNumber => Self::BadMessageNumber,
        }
    }
}

impl From<RearmError> for Status {
    fn from(error: RearmError) -> Self {
        match error {
            RearmError::Mismatch => Self::Mismatch,
            RearmError::NoNews => Self::NoNews,
            RearmError::NotAtStop => Self::NotAtStop,
        }
    }
}
