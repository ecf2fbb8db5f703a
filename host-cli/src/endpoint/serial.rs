//! Serial devices.
//!
//! Control lines: the system itself raises DTR and RTS when a device is opened for the first time, which no program can prevent; beyond that
//! they are left alone. In particular they are not dropped on exit (`HUPCL` is off), so that a board whose reset hangs on DTR is not reset
//! by the end of one command and the begin of the next.

use std::{
    ffi::OsStr,
    fs::{File, OpenOptions},
    io,
    os::unix::fs::{FileTypeExt, OpenOptionsExt},
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};

use rustix::{
    fs::{FlockOperation, OFlags, flock},
    termios::{
        ControlModes, InputModes, LocalModes, OptionalActions, OutputModes, Termios, tcgetattr, tcsetattr,
    },
};
use serialport::{DataBits, FlowControl, Parity, SerialPort, StopBits, TTYPort};

use super::{
    LineSettings,
    devices::Devices,
    line,
    live::{Connection, Connector},
    pipe::{Pipe, Writing},
    trouble,
};
use crate::{exit::Exit, fail::Fail};

/// Makes connections to one device, found again by its identity where it has one.
pub(super) struct Serial {
    path: PathBuf,
    line: LineSettings,
    /// The by-id link that pointed to the device when it was first opened.
    by_id: Option<PathBuf>,
    devices: Devices,
}

impl Serial {
    pub(super) fn new(path: &Path, line: LineSettings, devices: Devices) -> Self {
        let by_id = devices.by_id(path);
        Serial { path: path.to_path_buf(), line, by_id, devices }
    }

    /// What tells the device from another of its kind: the name of its by-id link.
    pub(super) fn identity(&self) -> Option<String> {
        let name = self.by_id.as_deref()?.file_name()?;
        Some(name.to_string_lossy().into_owned())
    }

    /// Opens the device for the first time.
    ///
    /// # Errors
    /// What is wrong, and what to do about it.
    pub(super) fn first(&self) -> Result<Connection, Fail> {
        open(&self.path, self.line, &self.devices)
    }

    /// Where the device is now: a board with an identity is not mistaken for another one at the same path.
    fn place(&self) -> PathBuf {
        self.by_id.clone().unwrap_or_else(|| self.path.clone())
    }
}

impl Connector for Serial {
    fn connect(&mut self, _wait: Duration) -> Result<Option<Connection>, Fail> {
        let place = self.place();
        if !place.exists() {
            return Ok(None);
        }
        let mut connection = open(&place, self.line, &self.devices)?;
        let now = place.canonicalize().unwrap_or(place);
        if self.by_id.is_some() && self.path.canonicalize().ok().as_ref() != Some(&now) {
            connection.note = Some(format!("the same device came back as {}", now.display()));
        }
        Ok(Some(connection))
    }
}

fn open(path: &Path, line: LineSettings, devices: &Devices) -> Result<Connection, Fail> {
    let file = open_file(path).map_err(|error| trouble::opening(path, &error, devices))?;
    if flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
        return Err(trouble::busy(path));
    }
    // Only a probe: serialport takes the lock for itself. It would lift another program's exclusive use if it failed there.
    let _ = flock(&file, FlockOperation::Unlock);
    let port = TTYPort::open(&builder(path, line)).map_err(|error| refused(path, line, &error))?;
    settle(&file, line).map_err(|error| match error {
        Unsettled::Io(error) => trouble::opening(path, &error, devices),
        Unsettled::Different(what) => {
            Fail::new(Exit::Unavailable, format!("{} does not keep its settings: {what}", path.display()))
                .at(format!("asked for {line}"))
                .next("choose a rate and format that the device can make, with --rate and --format")
        }
    })?;
    let pipe = Pipe(Arc::new(file));
    let holders = trouble::holders(path);
    let note = (!holders.is_empty())
        .then(|| format!("also open in {}: it takes some of the octets", holders.join(", ")));
    Ok(Connection { reading: Box::new(pipe.clone()), writing: Some(Box::new(Line { pipe, port })), note })
}

/// Opens without waiting for a carrier, and without making it our terminal.
fn open_file(path: &Path) -> io::Result<File> {
    if !path.metadata()?.file_type().is_char_device() {
        return Err(io::ErrorKind::InvalidInput.into());
    }
    let flags = OFlags::NOCTTY | OFlags::NONBLOCK;
    let flags = i32::try_from(flags.bits()).unwrap_or_default();
    OpenOptions::new().read(true).write(true).custom_flags(flags).open(path)
}

fn builder(path: &Path, line: LineSettings) -> serialport::SerialPortBuilder {
    let data = match line.format.data_bits() {
        5 => DataBits::Five,
        6 => DataBits::Six,
        7 => DataBits::Seven,
        _ => DataBits::Eight,
    };
    let parity = match line.format.parity() {
        line::Parity::None => Parity::None,
        line::Parity::Even => Parity::Even,
        line::Parity::Odd => Parity::Odd,
    };
    let stop = if line.format.stop_bits() == 2 { StopBits::Two } else { StopBits::One };
    let path: &OsStr = path.as_os_str();
    serialport::new(path.to_string_lossy(), line.rate)
        .data_bits(data)
        .parity(parity)
        .stop_bits(stop)
        .flow_control(FlowControl::None)
}

fn refused(path: &Path, line: LineSettings, error: &serialport::Error) -> Fail {
    let why = error.to_string();
    let why = if why == "Not a typewriter" { "it is no serial line" } else { &why };
    Fail::new(Exit::Unavailable, format!("cannot set up {}: {why}", path.display()))
        .at(format!("asked for {line}"))
        .next("is it a serial device? `bellwire ports` lists those that are there")
}

enum Unsettled {
    Io(io::Error),
    Different(String),
}

impl From<rustix::io::Errno> for Unsettled {
    fn from(error: rustix::io::Errno) -> Self {
        Unsettled::Io(error.into())
    }
}

/// Leaves the control lines alone on exit, then reads all settings back.
fn settle(file: &File, line: LineSettings) -> Result<(), Unsettled> {
    let mut settings = tcgetattr(file)?;
    settings.control_modes.remove(ControlModes::HUPCL);
    tcsetattr(file, OptionalActions::Now, &settings)?;
    differs(&tcgetattr(file)?, line).map_or(Ok(()), |what| Err(Unsettled::Different(what)))
}

/// What of the settings is not as it should be: raw both ways, the rate within a hundredth.
fn differs(found: &Termios, line: LineSettings) -> Option<String> {
    let edited = InputModes::ICRNL
        | InputModes::INLCR
        | InputModes::IGNCR
        | InputModes::ISTRIP
        | InputModes::IXON
        | InputModes::IXOFF
        | InputModes::PARMRK;
    if found.input_modes.intersects(edited) || found.output_modes.contains(OutputModes::OPOST) {
        return Some("the system would change octets on their way".into());
    }
    if found.local_modes.intersects(LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG) {
        return Some("the system would gather lines, echo, or act on control characters".into());
    }
    let size = match line.format.data_bits() {
        5 => ControlModes::CS5,
        6 => ControlModes::CS6,
        7 => ControlModes::CS7,
        _ => ControlModes::CS8,
    };
    let parity = line.format.parity() != line::Parity::None;
    let odd = line.format.parity() == line::Parity::Odd;
    let modes = found.control_modes;
    if modes & ControlModes::CSIZE != size
        || modes.contains(ControlModes::PARENB) != parity
        || (parity && modes.contains(ControlModes::PARODD) != odd)
        || modes.contains(ControlModes::CSTOPB) != (line.format.stop_bits() == 2)
        || modes.contains(ControlModes::CRTSCTS)
    {
        return Some(format!("it cannot make the format {}", line.format));
    }
    [found.input_speed(), found.output_speed()]
        .into_iter()
        .find(|rate| rate.abs_diff(line.rate) > line.rate / 100)
        .map(|rate| format!("it cannot make {} Bd, the nearest is {rate} Bd", line.rate))
}

/// The writing side: our own descriptor for octets, serialport's for what it still holds.
struct Line {
    pipe: Pipe<File>,
    port: TTYPort,
}

impl Writing for Line {
    fn write(&mut self, octets: &[u8], wait: Duration) -> io::Result<()> {
        self.pipe.write(octets, wait)
    }

    fn unsent(&self) -> usize {
        self.port.bytes_to_write().map_or(0, |octets| octets as usize)
    }
}
