//! A 32-bit M0-class board with one UART (`qemu-system-arm -M microbit`). Registers: nRF51 Series Reference Manual v3.0.

mod clock;
mod random;
mod uart;

pub(crate) mod pins;

use bellwire::link::OwnNumber;

use crate::{Outputs, Uart, bench::Script, cortex};

pub use clock::{TICK_MICROS, now};
#[cfg(feature = "defmt")]
pub(crate) use cortex::{hold_interrupts, restore_interrupts};

/// The board.
#[derive(Debug)]
pub struct Board {
    /// The UART: 115 200 bits per second, 8N1.
    pub uart: Uart,
    /// The outputs, all off.
    pub outputs: Outputs,
    /// Where the board's own number comes from: its random generator.
    pub own: OwnNumber,
    /// What happens to the board, in the emulator.
    pub script: Script,
}

/// Starts clock and UART. Called once, by [`start!`](crate::start).
#[must_use]
pub fn start() -> Board {
    pins::start();
    let script = Script::read();
    let own = script.own().unwrap_or_else(|| OwnNumber::Random(random::number()));
    clock::start();
    Board { uart: uart::start(), outputs: Outputs(()), own, script }
}

/// Sleeps until the next interrupt: an octet or the next tick.
pub fn wait() {
    cortex::sleep();
}

/// Numbers as in the manual, 5.1: a peripheral's interrupt is its address.
pub(crate) fn handle_interrupt(interrupt: i16) {
    match interrupt {
        2 => uart::handle_interrupt(),
        8 => clock::handle_interrupt(),
        _ => {}
    }
}
