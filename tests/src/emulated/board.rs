//! An emulated board: one process of the emulator, its UARTs, and what it says beside them.

use std::{
    fs, io,
    io::{BufRead, BufReader, Write},
    os::unix::net::UnixStream,
    path::{Path, PathBuf},
    process::{Child, Command, ExitStatus, Stdio},
    time::{Duration, Instant},
};

use super::end::{End, Plug};

/// Nothing here takes this long unless it hangs, not on a busy computer either.
pub const HANGS: Duration = Duration::from_secs(60);

/// The emulated machines that images are made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Machine {
    /// An M0-class board, one UART.
    Microbit,
    /// An M3-class board, three UARTs.
    Lm3s,
    /// An M3-class board, two UARTs.
    An385,
    /// A 32-bit RISC-V board, one UART.
    Virt,
}

impl Machine {
    /// As the emulator calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Microbit => "microbit",
            Self::Lm3s => "lm3s6965evb",
            Self::An385 => "mps2-an385",
            Self::Virt => "virt",
        }
    }

    const fn emulator(self) -> &'static str {
        match self {
            Self::Virt => "qemu-system-riscv32",
            _ => "qemu-system-arm",
        }
    }

    /// The compiler's name for it, which is the folder of its images.
    #[must_use]
    pub const fn target(self) -> &'static str {
        match self {
            Self::Microbit => "thumbv6m-none-eabi",
            Self::Lm3s | Self::An385 => "thumbv7m-none-eabi",
            Self::Virt => "riscv32imc-unknown-none-elf",
        }
    }
}

/// What drives the clock of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// The clock of the host: for conversations with the world outside. What a busy host does to it shows.
    Wall,
    /// Instructions, each 2^shift ns: the board's time stands still while the host is busy with something else, and runs repeat as far as
    /// their input does.
    Counted {
        /// The exponent.
        shift: u8,
    },
}

/// A running board; its process is ended when this is dropped.
#[derive(Debug)]
pub struct Board {
    running: Running,
    monitor: BufReader<UnixStream>,
    said: PathBuf,
}

/// How a board is started.
#[derive(Debug, Clone)]
pub struct Start<'a> {
    /// Name of its files; differs between the boards of one folder.
    pub name: &'a str,
    /// The machine.
    pub machine: Machine,
    /// The image.
    pub image: &'a Path,
    /// How many UARTs are wired, the first ones.
    pub uarts: usize,
    /// Its clock.
    pub clock: Clock,
    /// What happens to it: the arguments that the README of the firmware lists.
    pub script: &'a [&'a str],
}

impl Start<'_> {
    /// Starts the board; sockets and files go to `folder`. Gives its UARTs in order, plugged in before its first octet.
    ///
    /// # Errors
    /// If the emulator does not start or does not plug in.
    pub fn run(&self, folder: &Path) -> io::Result<(Board, Vec<End>)> {
        let place = |what: &str| folder.join(format!("{}.{what}", self.name));
        let said = place("said");
        let plugs: Vec<Plug> =
            (0..self.uarts).map(|uart| Plug::new(&place(&format!("u{uart}")))).collect::<io::Result<_>>()?;
        let monitor = Plug::new(&place("monitor"))?;
        let mut command = Command::new(self.machine.emulator());
        command.args(["-M", self.machine.name(), "-display", "none", "-nodefaults"]);
        command.arg("-chardev").arg(format!("socket,id=monitor,path={}", monitor.path().display()));
        command.args(["-mon", "chardev=monitor,mode=control"]);
        command.arg("-chardev").arg(format!("file,id=said,path={}", said.display()));
        let script: String = self.script.iter().map(|act| format!(",arg={act}")).collect();
        command.arg("-semihosting-config");
        command.arg(format!("enable=on,target=native,chardev=said,arg={}{script}", self.name));
        for (uart, plug) in plugs.iter().enumerate() {
            command.arg("-chardev").arg(format!("socket,id=u{uart},path={}", plug.path().display()));
            command.arg("-serial").arg(format!("chardev:u{uart}"));
        }
        if let Clock::Counted { shift } = self.clock {
            command.arg("-icount").arg(format!("shift={shift}"));
        }
        if self.machine == Machine::Virt {
            // The image is the first thing that runs.
            command.args(["-bios", "none"]);
        }
        command.arg("-kernel").arg(self.image);
        let log = fs::File::create(place("log"))?;
        command.stdin(Stdio::null()).stdout(log.try_clone()?).stderr(log);
        let running = Running(command.spawn()?);
        let monitor = monitor.stream()?;
        monitor.set_read_timeout(Some(HANGS))?;
        let ends = plugs.iter().map(Plug::end).collect::<io::Result<Vec<End>>>()?;
        let mut board = Board { running, monitor: BufReader::new(monitor), said };
        board.order("qmp_capabilities")?;
        Ok((board, ends))
    }
}

impl Board {
    /// Presses the reset button: memory that the start-up code does not set stays, everything else begins anew.
    ///
    /// # Errors
    /// If the emulator is gone.
    pub fn reset(&mut self) -> io::Result<()> {
        self.order("system_reset")
    }

    /// Stands the whole board still, clock included, or lets it go on.
    ///
    /// # Errors
    /// If the emulator is gone.
    pub fn freeze(&mut self, still: bool) -> io::Result<()> {
        self.order(if still { "stop" } else { "cont" })
    }

    /// Gives an order to the emulator's monitor (a line of JSON each way) and waits until it is done.
    fn order(&mut self, word: &str) -> io::Result<()> {
        let monitor = self.monitor.get_mut();
        writeln!(monitor, r#"{{"execute": "{word}"}}"#)?;
        let mut line = String::new();
        // Greeting and events come between.
        while !line.contains("\"return\"") {
            line.clear();
            if self.monitor.read_line(&mut line)? == 0 || line.contains("\"error\"") {
                return Err(io::Error::other(format!("the emulator does not {word}: {line}")));
            }
        }
        Ok(())
    }

    /// What it has said beside its UARTs (semihosting), so far.
    #[must_use]
    pub fn said(&self) -> String {
        fs::read(&self.said).map(|octets| String::from_utf8_lossy(&octets).into_owned()).unwrap_or_default()
    }

    /// Waits until it has said this; gives all it said.
    ///
    /// # Panics
    /// If it never does.
    #[must_use]
    pub fn says(&self, text: &str) -> String {
        let until = Instant::now() + HANGS;
        loop {
            let said = self.said();
            if said.contains(text) {
                return said;
            }
            assert!(Instant::now() < until, "the board never said {text:?}, but:\n{said}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Waits until the board ends by itself.
    ///
    /// # Panics
    /// If it never does.
    #[must_use]
    pub fn ends(&mut self) -> ExitStatus {
        let until = Instant::now() + HANGS;
        loop {
            if let Some(status) = self.running.0.try_wait().expect("a child of ours") {
                return status;
            }
            assert!(Instant::now() < until, "the board never ended; it said:\n{}", self.said());
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// A process of ours, ended when this is dropped.
#[derive(Debug)]
struct Running(Child);

impl Running {
    fn end(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.end();
    }
}
