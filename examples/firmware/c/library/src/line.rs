//! The UART, as functions of the board.

use core::{convert::Infallible, ffi::c_void};

use bellwire::{
    io::{self, Taken},
    time::Instant,
};

use crate::status::Status;

/// A UART, as functions of the board. They are called within the calls of a port and must not wait, nor call with that port.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct Line {
    /// Handed to each function.
    pub context: *mut c_void,
    /// Moves octets that have come to `into`, at most `room`, and gives how many. Puts the time when they arrived, µs, to `arrived` (there is "now"
    /// before): stamp octets in the interrupt, and give those of one stamp at a time.
    pub take: Option<
        unsafe extern "C" fn(context: *mut c_void, into: *mut u8, room: usize, arrived: *mut u32) -> usize,
    >,
    /// Takes as many of the octets for sending as there is room for now, and gives how many.
    pub put: Option<unsafe extern "C" fn(context: *mut c_void, octets: *const u8, length: usize) -> usize>,
    /// Octets taken by `put` that have not left yet. May be null: unknown.
    pub unsent: Option<unsafe extern "C" fn(context: *mut c_void) -> usize>,
}

/// A line that has all it needs.
#[derive(Debug)]
pub(crate) struct Wire(Line);

impl Wire {
    pub(crate) const fn new(line: Line) -> Result<Self, Status> {
        if line.take.is_none() || line.put.is_none() {
            return Err(Status::Null);
        }
        Ok(Self(line))
    }
}

impl io::Line for Wire {
    type Error = Infallible;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Infallible> {
        let Line { context, take, .. } = self.0;
        let mut arrived = now.as_ticks();
        let octets = take.map_or(0, |take| {
            // SAFETY: the header says what the board may do with the pointers: write `room` octets, and one time.
            unsafe { take(context, into.as_mut_ptr(), into.len(), &mut arrived) }
        });
        // A board that says it gave more gave no more than there is room for.
        Ok(Taken { octets: octets.min(into.len()), arrived: Instant::from_ticks(arrived) })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Infallible> {
        let Line { context, put, .. } = self.0;
        // SAFETY: as above: the board reads `length` octets.
        let put = put.map_or(0, |put| unsafe { put(context, octets.as_ptr(), octets.len()) });
        Ok(put.min(octets.len()))
    }

    fn unsent(&self) -> Option<usize> {
        let Line { context, unsent, .. } = self.0;
        // SAFETY: as above; nothing is handed over.
        unsent.map(|unsent| unsafe { unsent(context) })
    }
}
