//! Our own number (W-22): drawn at random, or kept in a file over restarts.

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

use crate::{exit::Exit, fail::Fail};

/// Numbers set aside at each visit to the file.
const BLOCK: u32 = 16;

/// A file that keeps the own number over restarts.
#[derive(Debug)]
pub struct OwnNumberFile {
    path: PathBuf,
    first: u32,
    ends: u32,
}

impl OwnNumberFile {
    /// Reads the number and sets a block aside before any frame is sent. A file that is not there begins at a random number.
    ///
    /// # Errors
    /// If the file holds anything but one number, or cannot be written.
    pub fn open(path: &Path) -> Result<Self, Fail> {
        let first = match fs::read_to_string(path) {
            Ok(text) => text.trim().parse().map_err(|_| {
                Fail::new(Exit::BadInput, "the file of the own number holds something else")
                    .at(path.display().to_string())
                    .next("name another file; a new one is made if it is not there")
            })?,
            Err(error) if error.kind() == io::ErrorKind::NotFound => random32()?,
            Err(error) => {
                return Err(Fail::io("cannot read the own number", &error).at(path.display().to_string()));
            }
        };
        let file = Self { path: path.to_owned(), first, ends: 0 };
        file.store(first.wrapping_add(BLOCK))?;
        Ok(file)
    }

    /// The number to begin with.
    #[must_use]
    pub const fn number(&self) -> u32 {
        self.first
    }

    /// To be told of each end of a session, which uses up a number: sets a new block aside before this one is gone.
    ///
    /// # Errors
    /// If the file cannot be written.
    pub fn used(&mut self) -> Result<(), Fail> {
        self.ends = self.ends.wrapping_add(1);
        if self.ends.is_multiple_of(BLOCK / 2) {
            self.store(self.first.wrapping_add(self.ends).wrapping_add(BLOCK))?;
        }
        Ok(())
    }

    /// Replaces the file in one step, so that a power cut leaves the old or the new number.
    fn store(&self, number: u32) -> Result<(), Fail> {
        let mut beside = self.path.clone().into_os_string();
        beside.push(".new");
        let write = || {
            let mut file = fs::File::create(&beside)?;
            writeln!(file, "{number}")?;
            file.sync_all()?;
            fs::rename(&beside, &self.path)
        };
        write().map_err(|e| Fail::io("cannot keep the own number", &e).at(self.path.display().to_string()))
    }
}

/// 32 random bits of the system.
///
/// # Errors
/// If the system has none.
pub fn random32() -> Result<u32, Fail> {
    getrandom::u32().map_err(|e| no_random(&e))
}

/// 64 random bits of the system.
///
/// # Errors
/// If the system has none.
pub fn random64() -> Result<u64, Fail> {
    getrandom::u64().map_err(|e| no_random(&e))
}

fn no_random(error: &getrandom::Error) -> Fail {
    Fail::new(Exit::Io, format!("the system gives no random number: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }

    #[test]
    fn no_number_is_used_twice_over_restarts_and_ends() {
        let folder = folder();
        let path = folder.path().join("number");
        fs::write(&path, "41\n").unwrap();
        let mut used = std::collections::BTreeSet::new();
        for ends in [0, 3, 7, 8, 40, 1] {
            let mut file = OwnNumberFile::open(&path).unwrap();
            assert!(used.insert(file.number()));
            for end in 1..=ends {
                let stored: u32 = fs::read_to_string(&path).unwrap().trim().parse().unwrap();
                assert!(file.number() + end < stored, "number {end} is in no block that was set aside");
                assert!(used.insert(file.number() + end));
                file.used().unwrap();
            }
        }
        assert_eq!(used.first(), Some(&41));
    }

    #[test]
    fn a_file_of_something_else_is_left_alone() {
        let folder = folder();
        let path = folder.path().join("number");
        fs::write(&path, "diary").unwrap();
        assert_eq!(OwnNumberFile::open(&path).unwrap_err().exit(), Exit::BadInput);
        assert_eq!(fs::read_to_string(&path).unwrap(), "diary");
    }

    #[test]
    fn a_new_file_begins_anywhere() {
        let folder = folder();
        let file = OwnNumberFile::open(&folder.path().join("a")).unwrap();
        let kept = fs::read_to_string(folder.path().join("a")).unwrap();
        assert_eq!(kept.trim().parse::<u32>().unwrap(), file.number().wrapping_add(BLOCK));
        assert!(OwnNumberFile::open(&folder.path().join("no/such/folder")).is_err());
    }
}
