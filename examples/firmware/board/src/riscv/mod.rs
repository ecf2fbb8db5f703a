//! A 32-bit RISC-V board with one UART (`qemu-system-riscv32 -M virt -bios none`). Registers: QEMU's documentation of the machine, the
//! PLIC specification 1.0, and the data sheet of the 16550 (TI PC16550D).

mod clock;
mod start;
mod trap;
mod uart;

use bellwire::link::OwnNumber;

use crate::{Outputs, Uart, bench::Script, register::Register};

pub(crate) use crate::no_pins as pins;
pub use clock::{TICK_MICROS, now};
#[cfg(feature = "defmt")]
pub(crate) use trap::{hold_interrupts, restore_interrupts};

/// The board.
#[derive(Debug)]
pub struct Board {
    /// The UART: 115 200 bits per second, 8N1.
    pub uart: Uart,
    /// The outputs, all off.
    pub outputs: Outputs,
    /// Where the board's own number comes from: its clock with a battery.
    pub own: OwnNumber,
    /// What happens to the board, in the emulator.
    pub script: Script,
}

/// The clock with a battery: its nanoseconds at a start are as good as random.
const NANOSECONDS: Register = Register::at(0x0010_1000);

/// Starts clock and UART. Called once, by [`start!`](crate::start).
#[must_use]
pub fn start() -> Board {
    let script = Script::read();
    let own = script.own().unwrap_or_else(|| OwnNumber::Random(NANOSECONDS.read()));
    let uart = uart::start();
    clock::start();
    trap::allow();
    Board { uart, outputs: Outputs(()), own, script }
}

/// Sleeps until the next interrupt: an octet or the next tick.
pub fn wait() {
    trap::sleep();
}
