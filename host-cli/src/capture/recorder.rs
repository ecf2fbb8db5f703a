//! A capture file being written: nothing half-written, nothing overwritten, room for a full disk and for rotation.

use std::{
    fs::{File, OpenOptions},
    io::{self, ErrorKind, Write},
    path::{Path, PathBuf},
    sync::{Arc, Once, atomic::AtomicBool},
    time::{Duration, Instant},
};

use super::writer::Writer;
use crate::{
    endpoint::{Item, Note, PortInfo},
    exit::Exit,
    fail::Fail,
};

/// Octets that are held back at most before they are written.
const FULL: usize = 1 << 16;
/// How often the system is asked to bring the file to the disk.
const SYNC: Duration = Duration::from_secs(5);

/// What to do with a file that is there already.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Existing {
    /// Leave it alone and refuse.
    #[default]
    Keep,
    /// Write over it.
    Replace,
}

/// Writes items into a capture, or into a row of them.
#[derive(Debug)]
pub struct Recorder {
    wanted: PathBuf,
    rotate: Option<u64>,
    /// Number of the file, from 1, when rotating.
    number: u32,
    path: PathBuf,
    file: File,
    writer: Writer,
    ports: Vec<PortInfo>,
    /// How many of them are described in the file.
    described: usize,
    /// Octets of the file, whole blocks only.
    len: u64,
    synced: Instant,
    chunks: u64,
    files: u32,
}

impl Recorder {
    /// Creates the file. With `rotate`, a new one begins before a file grows beyond so many octets, and files are numbered:
    /// `night.pcapng` becomes `night-001.pcapng` and so on, with the next number that is free.
    ///
    /// # Errors
    /// If the file is there already, or cannot be created.
    pub fn create(path: &Path, rotate: Option<u64>, existing: Existing) -> Result<Self, Fail> {
        outlive_size_limits();
        let (path_now, number, file) = match rotate {
            None => (path.to_path_buf(), 0, create(path, existing).map_err(|error| refused(path, &error))?),
            Some(_) => next_free(path, 1)?,
        };
        let mut recorder = Recorder {
            wanted: path.to_path_buf(),
            rotate,
            number,
            path: path_now,
            file,
            writer: Writer::new(),
            ports: Vec::new(),
            described: 0,
            len: 0,
            synced: Instant::now(),
            chunks: 0,
            files: 1,
        };
        recorder.writer.section();
        recorder.flush()?;
        Ok(recorder)
    }

    /// The file that is being written.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was recorded, in one line.
    #[must_use]
    pub fn told(&self) -> String {
        let chunks = if self.chunks == 1 { "1 piece".into() } else { format!("{} pieces", self.chunks) };
        let files =
            if self.files == 1 { String::new() } else { format!(" and {} before it", self.files - 1) };
        format!("recorded {chunks} in {}{files}", self.path.display())
    }

    /// Takes an item; `ports` are those of its source. It is in the file after the next [`Recorder::flush`].
    ///
    /// # Errors
    /// As [`Recorder::flush`].
    pub fn item(&mut self, item: &Item, ports: &[PortInfo]) -> Result<(), Fail> {
        self.ports(ports);
        match item {
            Item::Chunk(chunk) => {
                self.writer.chunk(chunk);
                self.chunks += 1;
            }
            Item::Gap(gap) => self.writer.gap(gap),
            Item::Note(note) => self.writer.note(note),
            Item::End => {}
        }
        if self.writer.octets().len() >= FULL { self.flush() } else { Ok(()) }
    }

    /// Describes ports that are new.
    pub fn ports(&mut self, ports: &[PortInfo]) {
        for port in ports.iter().skip(self.ports.len()) {
            self.writer.port(port);
            self.ports.push(port.clone());
        }
    }

    /// Hands all blocks to the system in one piece: from then on a kill of this program cannot take them back. Every five seconds the
    /// system is asked to bring them to the disk, so that a power cut cannot either.
    ///
    /// # Errors
    /// If the disk is full or fails. The file then ends after its last whole block.
    pub fn flush(&mut self) -> Result<(), Fail> {
        let pending = self.writer.octets().len() as u64;
        if pending == 0 {
            return Ok(());
        }
        if self.rotate.is_some_and(|limit| self.len > 0 && self.len + pending > limit) {
            self.next_file()?;
        }
        self.write()?;
        if self.synced.elapsed() >= SYNC {
            self.sync()?;
        }
        Ok(())
    }

    /// Writes what is left and brings it to the disk.
    ///
    /// # Errors
    /// As [`Recorder::flush`].
    pub fn finish(&mut self) -> Result<(), Fail> {
        self.flush()?;
        self.sync()
    }

    fn write(&mut self) -> Result<(), Fail> {
        let (mut done, octets) = (0, self.writer.octets());
        while done < octets.len() {
            match self.file.write(&octets[done..]) {
                Ok(0) => return Err(self.cut_off(done, &ErrorKind::WriteZero.into())),
                Ok(more) => done += more,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(self.cut_off(done, &error)),
            }
        }
        self.len += done as u64;
        self.described = self.ports.len();
        self.writer.clear();
        Ok(())
    }

    /// Ends the file after the last block of which everything was written.
    fn cut_off(&mut self, written: usize, error: &io::Error) -> Fail {
        self.len += whole_blocks(self.writer.octets(), written) as u64;
        self.writer.clear();
        let cut = self.file.set_len(self.len).and_then(|()| self.file.sync_data());
        let state = if cut.is_ok() { "all of them intact" } else { "perhaps with a torn block after them" };
        let place = format!("{}: {} octets are saved, {state}", self.path.display(), self.len);
        Fail::new(Exit::Io, format!("cannot go on recording: {}", plain(error)))
            .at(place)
            .next("make room on the disk, or record elsewhere with -o")
            .next(format!("`bellwire decode {}` reads what is saved", self.path.display()))
    }

    fn sync(&mut self) -> Result<(), Fail> {
        self.synced = Instant::now();
        match self.file.sync_data() {
            // Pipes and some devices have nothing to bring anywhere.
            Err(error) if error.kind() != ErrorKind::InvalidInput => Err(self.cut_off(0, &error)),
            _ => Ok(()),
        }
    }

    /// Begins the next file with a section and all ports, so that it can be read alone; what waits goes there.
    fn next_file(&mut self) -> Result<(), Fail> {
        self.sync()?;
        let (path, number, file) = next_free(&self.wanted, self.number + 1)?;
        let mut writer = Writer::new();
        writer.section();
        let described = self.ports.get(..self.described).unwrap_or_default();
        described.iter().for_each(|port| writer.port(port));
        let text = format!("continues {}", self.path.file_name().unwrap_or_default().to_string_lossy());
        if !described.is_empty() {
            writer.note(&Note { at: crate::clock::now(), port: 0, text });
        }
        writer.append(&self.writer);
        (self.path, self.number, self.file, self.writer, self.len) = (path, number, file, writer, 0);
        self.files += 1;
        Ok(())
    }
}

fn create(path: &Path, existing: Existing) -> io::Result<File> {
    match existing {
        Existing::Keep => OpenOptions::new().write(true).create_new(true).open(path),
        Existing::Replace => File::create(path),
    }
}

/// The file of a row with the first free number from `number` on.
fn next_free(path: &Path, number: u32) -> Result<(PathBuf, u32, File), Fail> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let end = path.extension().map(|end| format!(".{}", end.to_string_lossy())).unwrap_or_default();
    for number in number.. {
        let path = path.with_file_name(format!("{stem}-{number:03}{end}"));
        match create(&path, Existing::Keep) {
            Ok(file) => return Ok((path, number, file)),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(refused(&path, &error)),
        }
    }
    Err(Fail::new(Exit::Io, "all file numbers are taken"))
}

fn refused(path: &Path, error: &io::Error) -> Fail {
    let fail = match error.kind() {
        ErrorKind::PermissionDenied => Fail::new(Exit::Permission, "no permission to create the capture"),
        ErrorKind::AlreadyExists => Fail::new(Exit::Usage, "the capture is there already, and is left alone"),
        _ => Fail::new(Exit::Io, format!("cannot create the capture: {}", plain(error))),
    };
    let next = match error.kind() {
        ErrorKind::AlreadyExists => "name another file, or say --replace to write over it",
        ErrorKind::NotFound => "does its folder exist?",
        ErrorKind::StorageFull => "make room on the disk",
        _ => "name a file in a folder of yours",
    };
    fail.at(path.display().to_string()).next(next)
}

fn plain(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::StorageFull => "the disk is full".into(),
        ErrorKind::QuotaExceeded => "your share of the disk is used up".into(),
        ErrorKind::FileTooLarge => "the file may not grow any more".into(),
        _ => error.to_string(),
    }
}

/// Octets of the whole blocks among the first `written`.
fn whole_blocks(octets: &[u8], written: usize) -> usize {
    let mut end = 0;
    while let Some(len) =
        octets.get(end + 4..end + 8).and_then(|len| len.try_into().ok()).map(u32::from_le_bytes)
    {
        match end + len as usize {
            next if len >= 12 && next <= written => end = next,
            _ => break,
        }
    }
    end
}

/// A file that meets a size limit is an error to tell, not the end of the process.
fn outlive_size_limits() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // If the system refuses, the default stays: the process ends there, and the file is whole up to the last flush.
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::new(AtomicBool::new(false)));
    });
}
