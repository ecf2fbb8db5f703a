//! The ends of a wire: a socket that an emulated UART connects to, or a pseudo-terminal that the tool opens as a device.

use std::{
    fs::File,
    io::{self, ErrorKind, Read, Write},
    os::{
        fd::{AsFd, BorrowedFd, OwnedFd},
        unix::{
            fs::{OpenOptionsExt, symlink},
            net::{UnixListener, UnixStream},
        },
    },
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use rustix::{
    fs::{OFlags, fcntl_getfl, fcntl_setfl},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
    termios::{OptionalActions, tcgetattr, tcsetattr},
};

/// How long an emulator may take to connect before it counts as hung.
const HANGS: Duration = Duration::from_secs(30);

/// A place where an emulated UART connects. It is there before the emulator starts, so that not one octet of its boot text is lost.
#[derive(Debug)]
pub struct Plug {
    listener: UnixListener,
    path: PathBuf,
}

impl Plug {
    /// A socket at this path, which must be free and shorter than 100 octets.
    ///
    /// # Errors
    /// If the system does not give it.
    pub fn new(path: &Path) -> io::Result<Self> {
        let listener = UnixListener::bind(path)?;
        listener.set_nonblocking(true)?;
        Ok(Self { listener, path: path.to_path_buf() })
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Waits until somebody has plugged in.
    ///
    /// # Errors
    /// If nobody does within half a minute.
    pub fn end(&self) -> io::Result<End> {
        End::of(self.stream()?)
    }

    /// As [`Plug::end`], as the bare stream, which blocks.
    ///
    /// # Errors
    /// As there.
    pub fn stream(&self) -> io::Result<UnixStream> {
        let until = Instant::now() + HANGS;
        loop {
            match self.listener.accept() {
                Ok((stream, _)) => {
                    stream.set_nonblocking(false)?;
                    return Ok(stream);
                }
                Err(error) if error.kind() == ErrorKind::WouldBlock && Instant::now() < until => {
                    std::thread::sleep(Duration::from_millis(2));
                }
                Err(error) => return Err(error),
            }
        }
    }
}

/// What an end has to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    /// So many octets, at the front of the buffer.
    Octets(usize),
    /// Nothing at the moment.
    Nothing,
    /// Nobody is there; of a pseudo-terminal somebody may come later.
    Nobody,
}

/// One end of a wire.
#[derive(Debug)]
pub struct End {
    file: File,
    /// The other side of a pseudo-terminal and the link to it, which goes when the end does.
    link: Option<PathBuf>,
}

impl End {
    fn of(stream: UnixStream) -> io::Result<Self> {
        stream.set_nonblocking(true)?;
        Ok(Self { file: File::from(OwnedFd::from(stream)), link: None })
    }

    /// Two ends joined to each other, without a rate: what is written here is read there.
    ///
    /// # Errors
    /// If the system does not give them.
    pub fn pair() -> io::Result<[Self; 2]> {
        let (one, two) = UnixStream::pair()?;
        Ok([Self::of(one)?, Self::of(two)?])
    }

    /// A pseudo-terminal whose other side any program opens at `link`, as if it were a serial device.
    ///
    /// # Errors
    /// If the system has none, or something is at `link`.
    pub fn device(link: &Path) -> io::Result<Self> {
        let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&ours)?;
        unlockpt(&ours)?;
        fcntl_setfl(&ours, fcntl_getfl(&ours)? | OFlags::NONBLOCK)?;
        let name = ptsname(&ours, Vec::new())?;
        let theirs = name.to_str().map_err(io::Error::other)?;
        // Opened and closed once, and raw: from then on the system tells whether anybody is there.
        let no_control = i32::try_from(OFlags::NOCTTY.bits()).map_err(io::Error::other)?;
        let other = File::options().read(true).write(true).custom_flags(no_control).open(theirs)?;
        let mut settings = tcgetattr(&other)?;
        settings.make_raw();
        tcsetattr(&other, OptionalActions::Now, &settings)?;
        symlink(theirs, link)?;
        Ok(Self { file: File::from(ours), link: Some(link.to_path_buf()) })
    }

    /// Reads what is there, without waiting.
    pub fn read(&mut self, buffer: &mut [u8]) -> Heard {
        match self.file.read(buffer) {
            Ok(0) => Heard::Nobody,
            Ok(len) => Heard::Octets(len),
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => {
                Heard::Nothing
            }
            Err(_) => Heard::Nobody,
        }
    }

    /// Writes, without waiting; gives how many octets were taken. Where nobody is, all are taken and lost, as on a bare wire.
    pub fn write(&mut self, octets: &[u8]) -> usize {
        match self.file.write(octets) {
            Ok(len) => len,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => 0,
            Err(_) => octets.len(),
        }
    }

    /// Whether somebody may come after nobody was there.
    #[must_use]
    pub const fn is_device(&self) -> bool {
        self.link.is_some()
    }
}

impl AsFd for End {
    fn as_fd(&self) -> BorrowedFd<'_> {
        self.file.as_fd()
    }
}

impl Drop for End {
    fn drop(&mut self) {
        if let Some(link) = &self.link {
            let _ = std::fs::remove_file(link);
        }
    }
}
