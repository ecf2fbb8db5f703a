//! Reading and writing one open descriptor without waiting longer than asked.

use std::{
    fs::File,
    io::{self, ErrorKind, Read, Write},
    net::{TcpStream, UdpSocket},
    os::fd::AsFd,
    sync::Arc,
    time::{Duration, Instant},
};

use rustix::{
    event::{PollFd, PollFlags, Timespec, poll},
    io::Errno,
};

/// What a reading side heard.
#[derive(Debug)]
pub(super) enum Heard {
    /// So many octets, at the front of the buffer.
    Octets(usize),
    /// Nothing came in time.
    Nothing,
    /// The other side is gone; it may come back.
    Gone(String),
    /// Everything has been read, and that is as it should be.
    End,
}

/// The reading side of a connection.
pub(super) trait Reading: Send {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Heard;
}

/// The writing side of a connection.
pub(super) trait Writing: Send {
    /// All or an error; [`ErrorKind::TimedOut`] if the other side takes no more in time.
    fn write(&mut self, octets: &[u8], wait: Duration) -> io::Result<()>;

    /// Octets that the system still holds.
    fn unsent(&self) -> usize {
        0
    }
}

/// A descriptor that does not block.
pub(super) trait Octets: AsFd + Send + Sync {
    fn take(&self, buffer: &mut [u8]) -> io::Result<usize>;
    fn give(&self, octets: &[u8]) -> io::Result<usize>;
    /// What a read of no octets means, if it is an end.
    const ENDS: Option<&'static str>;
}

impl Octets for File {
    fn take(&self, buffer: &mut [u8]) -> io::Result<usize> {
        (&mut &*self).read(buffer)
    }
    fn give(&self, octets: &[u8]) -> io::Result<usize> {
        (&mut &*self).write(octets)
    }
    const ENDS: Option<&'static str> = Some(CLOSED);
}

impl Octets for TcpStream {
    fn take(&self, buffer: &mut [u8]) -> io::Result<usize> {
        (&mut &*self).read(buffer)
    }
    fn give(&self, octets: &[u8]) -> io::Result<usize> {
        (&mut &*self).write(octets)
    }
    const ENDS: Option<&'static str> = Some("the other side closed the connection");
}

impl Octets for UdpSocket {
    fn take(&self, buffer: &mut [u8]) -> io::Result<usize> {
        self.recv(buffer)
    }
    fn give(&self, octets: &[u8]) -> io::Result<usize> {
        self.send(octets)
    }
    const ENDS: Option<&'static str> = None;
}

/// Why a device or pseudo-terminal is gone.
const CLOSED: &str = "unplugged or closed by the other side";

/// One end of a descriptor that reader and writer share.
#[derive(Debug)]
pub(super) struct Pipe<T>(pub(super) Arc<T>);

impl<T> Clone for Pipe<T> {
    fn clone(&self) -> Self {
        Pipe(Arc::clone(&self.0))
    }
}

/// Waits until the descriptor is ready for `what`; false if it is not in time.
pub(super) fn ready(fd: &impl AsFd, what: PollFlags, wait: Duration) -> io::Result<PollFlags> {
    let wait = Timespec {
        tv_sec: i64::try_from(wait.as_secs()).unwrap_or(i64::MAX),
        tv_nsec: i64::from(wait.subsec_nanos()),
    };
    let mut polled = [PollFd::new(fd, what)];
    match poll(&mut polled, Some(&wait)) {
        Ok(_) => Ok(polled[0].revents()),
        Err(Errno::INTR) => Ok(PollFlags::empty()),
        Err(error) => Err(error.into()),
    }
}

impl<T: Octets> Reading for Pipe<T> {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Heard {
        match ready(&*self.0, PollFlags::IN, wait) {
            Ok(seen) if seen.is_empty() => return Heard::Nothing,
            Ok(_) => {}
            Err(error) => return Heard::Gone(error.to_string()),
        }
        match self.0.take(buffer) {
            Ok(0) => T::ENDS.map_or(Heard::Nothing, |why| Heard::Gone(why.into())),
            Ok(len) => Heard::Octets(len),
            Err(error) => match error.kind() {
                ErrorKind::WouldBlock | ErrorKind::Interrupted => Heard::Nothing,
                // A datagram that nobody took; the next may be taken.
                ErrorKind::ConnectionRefused if T::ENDS.is_none() => Heard::Nothing,
                _ => Heard::Gone(gone(&error)),
            },
        }
    }
}

impl<T: Octets> Writing for Pipe<T> {
    fn write(&mut self, mut octets: &[u8], wait: Duration) -> io::Result<()> {
        let until = Instant::now() + wait;
        while !octets.is_empty() {
            match self.0.give(octets) {
                Ok(len) => octets = octets.get(len..).unwrap_or_default(),
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) if error.kind() == ErrorKind::WouldBlock => {
                    let left = until.saturating_duration_since(Instant::now());
                    if left.is_zero() {
                        return Err(ErrorKind::TimedOut.into());
                    }
                    ready(&*self.0, PollFlags::OUT, left)?;
                }
                Err(error) if error.kind() == ErrorKind::ConnectionRefused && T::ENDS.is_none() => {
                    return Ok(());
                }
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

/// In plain words why a descriptor is gone.
fn gone(error: &io::Error) -> String {
    match Errno::from_io_error(error) {
        // What the system gives for a device that is pulled out, and for a pseudo-terminal whose other side is closed.
        Some(Errno::IO | Errno::NODEV | Errno::NXIO) => CLOSED.into(),
        _ => error.to_string(),
    }
}
