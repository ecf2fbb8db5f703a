//! Pseudo-terminals of our own: another program opens a path as if it were a serial device, and talks to us.

use std::{
    ffi::OsStr,
    fs::{File, OpenOptions, read_link, remove_file},
    io,
    os::unix::{
        ffi::OsStrExt,
        fs::{OpenOptionsExt, symlink},
    },
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};

use rustix::{
    event::PollFlags,
    fs::{OFlags, fcntl_getfl, fcntl_setfl},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
    termios::{OptionalActions, QueueSelector, tcflush, tcgetattr, tcsetattr},
};

use super::{
    live::{Connection, Connector},
    pipe::{Heard, Pipe, Reading, ready},
};
use crate::{exit::Exit, fail::Fail};

/// Our side of a pseudo-terminal, and the link to the other side; the link is removed at the end.
pub(super) struct Twin {
    ours: Arc<File>,
    link: PathBuf,
    theirs: PathBuf,
}

impl Twin {
    /// Makes the pseudo-terminal and the link.
    ///
    /// # Errors
    /// If something else is at `link`, or the system has no pseudo-terminal.
    pub(super) fn new(link: &Path) -> Result<Self, Fail> {
        let (ours, theirs) = pair().map_err(|error| Fail::io("cannot make a pseudo-terminal", &error))?;
        make_room(link, &theirs)?;
        symlink(&theirs, link).map_err(|error| {
            Fail::io("cannot make the link of the twin", &error)
                .at(link.display().to_string())
                .next("choose a path in a folder of yours, as in twin:/tmp/dome")
        })?;
        Ok(Twin { ours: Arc::new(ours), link: link.to_path_buf(), theirs })
    }
}

/// Reads our side; when its user is gone, makes it ready for the next one.
struct Side {
    pipe: Pipe<File>,
    theirs: PathBuf,
}

impl Reading for Side {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Heard {
        let heard = self.pipe.read(buffer, wait);
        if matches!(heard, Heard::Gone(_)) {
            let _ = clean(&self.theirs);
            return Heard::Gone("closed by the program that had it open".into());
        }
        heard
    }
}

/// Raw again whatever the last user left behind, and without octets that were meant for that one. They lie on the other side, so
/// that is opened for a moment.
fn clean(theirs: &Path) -> io::Result<()> {
    let file = open_other(theirs)?;
    tcflush(&file, QueueSelector::IFlush)?;
    raw(&file)
}

/// Opens the other side without making it our terminal.
fn open_other(theirs: &Path) -> io::Result<File> {
    let flags = i32::try_from(OFlags::NOCTTY.bits()).unwrap_or_default();
    OpenOptions::new().read(true).write(true).custom_flags(flags).open(theirs)
}

impl Drop for Twin {
    fn drop(&mut self) {
        if read_link(&self.link).is_ok_and(|target| target == self.theirs) {
            let _ = remove_file(&self.link);
        }
    }
}

impl Connector for Twin {
    fn connect(&mut self, _wait: Duration) -> Result<Option<Connection>, Fail> {
        // Somebody who wrote and closed at once is gone already, but what was written is there to be read.
        match ready(&*self.ours, PollFlags::IN, Duration::ZERO) {
            Ok(seen) if seen.contains(PollFlags::IN) || !seen.contains(PollFlags::HUP) => {}
            _ => return Ok(None),
        }
        let pipe = Pipe(Arc::clone(&self.ours));
        Ok(Some(Connection {
            reading: Box::new(Side { pipe: pipe.clone(), theirs: self.theirs.clone() }),
            writing: Some(Box::new(pipe)),
            note: None,
        }))
    }

    fn pause(&self, _tries: u32) -> Duration {
        Duration::from_millis(5)
    }
}

/// What is left at the place of the link: a dead link of an earlier run, which points to where pseudo-terminals are, goes. Anything else
/// stays and stops us, also a link to a disk that is not there at the moment.
fn make_room(link: &Path, theirs: &Path) -> Result<(), Fail> {
    let target = read_link(link);
    let left_by_a_twin = target.as_ref().is_ok_and(|target| target.parent() == theirs.parent());
    // The system may have given us the very number that the one who left the link had: then it leads to ourselves.
    let dead = || target.is_ok_and(|target| target == theirs) || !link.exists();
    match link.symlink_metadata() {
        Err(_) => Ok(()),
        Ok(_) if left_by_a_twin && dead() => remove_file(link)
            .map_err(|error| Fail::io("cannot remove a dead link", &error).at(link.display().to_string())),
        Ok(_) => Err(Fail::new(Exit::Unavailable, "something is there already where the twin should be")
            .at(link.display().to_string())
            .next("choose another path, or remove it if no program uses it")),
    }
}

/// A pseudo-terminal: our side, which does not block, and the path of the other side, which is raw.
fn pair() -> io::Result<(File, PathBuf)> {
    let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
    grantpt(&ours)?;
    unlockpt(&ours)?;
    let theirs = PathBuf::from(OsStr::from_bytes(ptsname(&ours, Vec::new())?.as_bytes()));
    fcntl_setfl(&ours, fcntl_getfl(&ours)? | OFlags::NONBLOCK)?;
    // Opened and closed once: from then on the system tells whether anybody has the other side open.
    raw(&open_other(&theirs)?)?;
    Ok((File::from(ours), theirs))
}

fn raw(file: &File) -> io::Result<()> {
    let mut settings = tcgetattr(file)?;
    settings.make_raw();
    tcsetattr(file, OptionalActions::Now, &settings)?;
    Ok(())
}
