//! An M3-class board with three UARTs (`qemu-system-arm -M lm3s6965evb`). Registers: LM3S6965 data sheet.

mod timer;
mod uart;

pub(crate) mod pins;

use bellwire::link::OwnNumber;

use crate::{
    Outputs, Uart,
    bench::Script,
    cortex::{self, systick},
    register::Register,
};

#[cfg(feature = "defmt")]
pub(crate) use cortex::{hold_interrupts, restore_interrupts};
pub use systick::{TICK_MICROS, now};

/// The board.
#[derive(Debug)]
pub struct Board {
    /// The first UART: 115 200 bits per second, 8N1, as the others.
    pub uart: Uart,
    /// The second.
    pub second: Uart,
    /// The third.
    pub third: Uart,
    /// The outputs, all off.
    pub outputs: Outputs,
    /// Where the board's own number comes from: it has neither a random generator nor a place to store one.
    pub own: OwnNumber,
    /// What happens to the board, in the emulator.
    pub script: Script,
}

/// A tick in counts of the clock after a reset, 12.5 MHz.
const TICK_COUNTS: u32 = 12_500;
/// Which peripherals have a clock.
const RCGC1: Register = Register::at(0x400F_E104);
const RCGC2: Register = Register::at(0x400F_E108);

/// Starts clock and UARTs. Called once, by [`start!`](crate::start).
#[must_use]
pub fn start() -> Board {
    // The three UARTs and a timer; ports A, D and G for the UARTs, and E for the outputs.
    RCGC1.write(1 << 16 | 0b111);
    RCGC2.write(0b101_1001);
    pins::start();
    let script = Script::read();
    let own = script.own().unwrap_or(OwnNumber::Numberless);
    systick::start();
    timer::start(TICK_COUNTS);
    let [uart, second, third] = uart::start();
    Board { uart, second, third, outputs: Outputs(()), own, script }
}

/// Sleeps until the next interrupt: an octet or the next tick.
pub fn wait() {
    cortex::sleep();
}

/// Holds all interrupts off for so long.
pub(crate) fn hear_nothing(millis: u32) {
    systick::hear_nothing(millis, TICK_COUNTS);
}

/// Numbers as in table 2-9 of the data sheet.
pub(crate) fn handle_interrupt(interrupt: i16) {
    match interrupt {
        5 => uart::UARTS[0].handle_interrupt(),
        6 => uart::UARTS[1].handle_interrupt(),
        timer::INTERRUPT => {
            timer::handle_interrupt();
            systick::handle_tick(TICK_COUNTS);
        }
        33 => uart::UARTS[2].handle_interrupt(),
        _ => {}
    }
}
