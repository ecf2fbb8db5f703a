//! What has come of a content so far, beside the file that it will be: `PATH.partial` and `PATH.map`.
//!
//! Nothing stands under the final name before the whole is there and checked. A map is written to the side and moved into place, after the part that
//! it counts: so a killed program goes on where it was. After a loss of power the map may be ahead of the disk; then the check of the whole
//! finds it, and the content is sent again.

use std::{
    fs::{self, File, OpenOptions},
    io::{self, Read, Seek, SeekFrom},
    os::unix::fs::FileExt,
    path::{Path, PathBuf},
};

use bellwire::transfer::{Limits, Receiver, Whole};

/// A content under way.
#[derive(Debug)]
pub struct Partial {
    whole: PathBuf,
    content: PathBuf,
    map: PathBuf,
    side: PathBuf,
    file: Option<File>,
}

fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

impl Partial {
    /// What stands beside `path`, and a receiver that goes on with it, or a fresh one.
    ///
    /// # Errors
    /// If what is there cannot be read.
    pub fn open(path: &Path, limits: Limits) -> io::Result<(Self, Receiver)> {
        let mut partial = Self {
            whole: path.to_owned(),
            content: beside(path, ".partial"),
            map: beside(path, ".map"),
            side: beside(path, ".map.new"),
            file: None,
        };
        let saved = match fs::read(&partial.map) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            read => read?,
        };
        let Some(receiver) = Receiver::restore(limits, &saved) else {
            return Ok((partial, Receiver::new(limits)));
        };
        if path.exists() {
            return Ok((partial, receiver));
        }
        match OpenOptions::new().read(true).write(true).open(&partial.content) {
            Ok(file) => partial.file = Some(file),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Ok((partial, Receiver::new(limits)));
            }
            Err(error) => return Err(error),
        }
        Ok((partial, receiver))
    }

    /// Begins a new content.
    ///
    /// # Errors
    /// If the file cannot be made.
    pub fn begin(&mut self) -> io::Result<()> {
        remove(&self.map)?;
        let file =
            OpenOptions::new().read(true).write(true).create(true).truncate(true).open(&self.content)?;
        self.file = Some(file);
        Ok(())
    }

    /// Stores a part.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn store(&self, at: u32, octets: &[u8]) -> io::Result<()> {
        let file = self.file.as_ref().ok_or(io::ErrorKind::NotFound)?;
        file.write_all_at(octets, at.into())
    }

    /// Keeps the receiver's state.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn keep(&self, receiver: &Receiver) -> io::Result<()> {
        fs::write(&self.side, receiver.save())?;
        fs::rename(&self.side, &self.map)
    }

    /// The CRC over the first `size` octets stored.
    ///
    /// # Errors
    /// If they cannot be read.
    pub fn crc(&mut self, size: u32) -> io::Result<u32> {
        let file = self.file.as_mut().ok_or(io::ErrorKind::NotFound)?;
        file.seek(SeekFrom::Start(0))?;
        let (mut whole, mut piece, mut left) = (Whole::new(), vec![0; 65_536], u64::from(size));
        while left > 0 {
            let most = piece.len().min(usize::try_from(left).unwrap_or(usize::MAX));
            let read = file.read(&mut piece[..most])?;
            if read == 0 {
                break;
            }
            whole.update(&piece[..read]);
            left -= read as u64;
        }
        Ok(whole.crc())
    }

    /// Gives the checked content its name; the map stays until [`Partial::forget`], so that a sender that asks after a restart is told.
    ///
    /// # Errors
    /// If it cannot be written out or renamed.
    pub fn finish(&mut self) -> io::Result<()> {
        if let Some(file) = self.file.take() {
            file.sync_all()?;
        }
        fs::rename(&self.content, &self.whole)
    }

    /// Removes what stands beside the file.
    ///
    /// # Errors
    /// If it cannot be removed.
    pub fn forget(&mut self) -> io::Result<()> {
        self.file = None;
        [&self.content, &self.map, &self.side].into_iter().try_for_each(|path| remove(path))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::time::Duration;

    const LIMITS: Limits =
        Limits { largest: 1 << 24, part: 1024, window: 32, patience: Duration::from_millis(10_000) };

    #[test]
    fn nothing_stands_under_the_name_before_it_is_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sky.log");
        let (mut partial, receiver) = Partial::open(&path, LIMITS).unwrap();
        partial.begin().unwrap();
        partial.store(3, b"lo").unwrap();
        partial.store(0, b"hel").unwrap();
        partial.keep(&receiver).unwrap();
        assert!(!path.exists());
        // The check value of CRC-32/ISO-HDLC over "hello" by zlib's crc32.
        assert_eq!(partial.crc(5).unwrap(), 0x3610_A686);
        partial.finish().unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"hello");
        partial.forget().unwrap();
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_damaged_map_begins_anew_and_takes_nothing_for_held() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sky.log");
        fs::write(beside(&path, ".map"), [1; 37]).unwrap();
        let (_, receiver) = Partial::open(&path, LIMITS).unwrap();
        assert_eq!(receiver, Receiver::new(LIMITS));
    }
}
