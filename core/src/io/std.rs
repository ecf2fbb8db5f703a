//! Adapters for streams and UDP sockets of a computer. Both must be set not to wait (or to wait shortly) by whoever opens them.

use ::std::{
    io::{self, ErrorKind, Read, Write},
    net::UdpSocket,
};

use super::{Datagram, Line, Medium, Received, Taken};
use crate::time::Instant;

/// A line over a stream that does not wait: a TCP stream after `set_nonblocking`, a serial device with a time-out of zero.
///
/// `WouldBlock`, `TimedOut` and `Interrupted` mean "nothing now". The end of the stream is an error, [`ErrorKind::UnexpectedEof`]. The system keeps a queue of its own
/// behind the stream that cannot be seen from here; set-points can grow old in it, so keep it short.
#[derive(Debug)]
pub struct Stream<S>(pub S);

/// Whether an error only says that nothing can be moved now.
fn is_not_now(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted)
}

impl<S: Read + Write> Line for Stream<S> {
    type Error = io::Error;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> io::Result<Taken> {
        let octets = match self.0.read(into) {
            Ok(0) if !into.is_empty() => return Err(ErrorKind::UnexpectedEof.into()),
            Ok(octets) => octets,
            Err(error) if is_not_now(&error) => 0,
            Err(error) => return Err(error),
        };
        Ok(Taken { octets, arrived: now })
    }

    fn put(&mut self, octets: &[u8]) -> io::Result<usize> {
        match self.0.write(octets) {
            Ok(written) => Ok(written),
            Err(error) if is_not_now(&error) => Ok(0),
            Err(error) => Err(error),
        }
    }
}

/// A connected UDP socket after `set_nonblocking`. A peer that does not listen yet is silence, not an error.
impl Datagram for UdpSocket {
    type Error = io::Error;

    fn send(&mut self, datagram: &[u8]) -> io::Result<Medium> {
        sent(UdpSocket::send(self, datagram))
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> io::Result<Option<Received>> {
        received(self.recv(into), now)
    }
}

/// What the system said to a datagram that was to be sent. A refused connection tells of an earlier one: nobody listened.
pub(super) fn sent(said: io::Result<usize>) -> io::Result<Medium> {
    match said {
        Ok(_) => Ok(Medium::Free),
        Err(error) if error.kind() == ErrorKind::ConnectionRefused => Ok(Medium::Free),
        Err(error) if is_not_now(&error) => Ok(Medium::Busy),
        Err(error) => Err(error),
    }
}

/// What the system said when asked for a datagram.
pub(super) fn received(said: io::Result<usize>, now: Instant) -> io::Result<Option<Received>> {
    match said {
        Ok(octets) => Ok(Some(Received { octets, arrived: now, strength: None })),
        Err(error) if is_not_now(&error) || error.kind() == ErrorKind::ConnectionRefused => Ok(None),
        Err(error) => Err(error),
    }
}
