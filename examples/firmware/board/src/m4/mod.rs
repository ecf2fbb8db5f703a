//! An M4-class board with two UARTs (`qemu-system-arm -M mps2-an386`). Registers: Arm application note AN386 and the Cortex-M System
//! Design Kit manual (DDI 0479).

mod timer;
mod uart;

use bellwire::link::OwnNumber;

use crate::{
    Outputs, Uart,
    bench::Script,
    cortex::{self, systick},
};

pub(crate) use crate::no_pins as pins;
#[cfg(feature = "defmt")]
pub(crate) use cortex::{hold_interrupts, restore_interrupts};
pub use systick::{TICK_MICROS, now};

/// The board.
#[derive(Debug)]
pub struct Board {
    /// The first UART: 115 200 bits per second, 8N1, as the other.
    pub uart: Uart,
    /// The second.
    pub second: Uart,
    /// The outputs, all off.
    pub outputs: Outputs,
    /// Where the board's own number comes from: it has neither a random generator nor a place to store one.
    pub own: OwnNumber,
    /// What happens to the board, in the emulator.
    pub script: Script,
}

/// A tick in counts of the clock, 25 MHz.
const TICK_COUNTS: u32 = 25_000;

/// Starts clock and UARTs. Called once, by [`start!`](crate::start).
#[must_use]
pub fn start() -> Board {
    let script = Script::read();
    let own = script.own().unwrap_or(OwnNumber::Numberless);
    systick::start();
    timer::start(TICK_COUNTS);
    let [uart, second] = uart::start();
    Board { uart, second, outputs: Outputs(()), own, script }
}

/// Sleeps until the next interrupt: an octet or the next tick.
pub fn wait() {
    cortex::sleep();
}

/// Holds all interrupts off for so long.
pub(crate) fn hear_nothing(millis: u32) {
    systick::hear_nothing(millis, TICK_COUNTS);
}

/// Numbers as in the application note: receive and transmit of each UART, and one for all overruns.
pub(crate) fn handle_interrupt(interrupt: i16) {
    match interrupt {
        0 | 1 => uart::UARTS[0].handle_interrupt(),
        2 | 3 => uart::UARTS[1].handle_interrupt(),
        timer::INTERRUPT => {
            timer::handle_interrupt();
            systick::handle_tick(TICK_COUNTS);
        }
        12 => uart::UARTS.iter().for_each(uart::Hardware::handle_interrupt),
        _ => {}
    }
}
