//! Files that are whole or not there: written beside their place, then moved there.

use std::{
    fs,
    io::{self, Write},
    path::Path,
};

/// Puts `text` at `path`; what stood there stays until the new file is whole.
///
/// # Errors
/// What the system says; then nothing has changed at `path`.
pub fn save(path: &Path, text: &str) -> io::Result<()> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(format!(".{}.new", std::process::id()));
    let beside = Path::new(&beside);
    let written = fs::File::create(beside).and_then(|mut file| {
        file.write_all(text.as_bytes())?;
        file.sync_all()
    });
    let moved = written.and_then(|()| fs::rename(beside, path));
    if moved.is_err() {
        let _ = fs::remove_file(beside);
    }
    moved
}
