//! Files that are whole or not there: all are written beside their places, then moved there.

use std::{
    ffi::OsString,
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

/// Puts each text at its path. What stood there stays until all new files are whole.
///
/// # Errors
/// The path of the first one that cannot be written, and what the system says. Nothing has changed then, but where a place could no longer be
/// moved to after all files were written: those before it are new, it and those behind it are as they were.
pub fn save(files: &[(PathBuf, String)]) -> Result<(), (PathBuf, io::Error)> {
    let mut written = Vec::new();
    let mut outcome = Ok(());
    for (path, text) in files {
        written.push((beside(path), path));
        outcome = write(&beside(path), path, text).map_err(|error| (path.clone(), error));
        if outcome.is_err() {
            break;
        }
    }
    for (beside, path) in &written {
        if outcome.is_ok() {
            outcome = fs::rename(beside, path).map_err(|error| ((*path).clone(), error));
        }
        if outcome.is_err() {
            let _ = fs::remove_file(beside);
        }
    }
    outcome
}

/// Where a file is written before it goes to its place.
fn beside(path: &Path) -> PathBuf {
    let mut name = OsString::from(path);
    name.push(format!(".{}.new", std::process::id()));
    name.into()
}

fn write(beside: &Path, path: &Path, text: &str) -> io::Result<()> {
    if path.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    let mut file = fs::File::create(beside)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}
