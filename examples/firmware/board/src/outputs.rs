//! What the board switches: motor driver, brake, shutter.

use crate::machine::pins;

/// The motor's driver is on.
pub const MOTOR: u32 = 1;
/// The motor turns clockwise.
pub const CLOCKWISE: u32 = 1 << 1;
/// The shutter opens.
pub const OPEN: u32 = 1 << 2;
/// The shutter closes.
pub const CLOSE: u32 = 1 << 3;
/// All of them.
pub const ALL: u32 = MOTOR | CLOCKWISE | OPEN | CLOSE;

/// The right to switch the outputs: the loop has it. [`all_off`] needs no right.
#[derive(Debug)]
pub struct Outputs(pub(crate) ());

impl Outputs {
    /// Switches on what is in `on` (a sum of the constants of this module) and everything else off.
    pub fn set(&mut self, on: u32) {
        pins::clear(ALL & !on);
        pins::set(ALL & on);
    }
}

/// Switches everything off: safe at any time, from the loop, an interrupt or a fault.
pub fn all_off() {
    pins::clear(ALL);
}

/// What is on now, as the pins' register has it.
#[must_use]
pub fn read() -> u32 {
    pins::read() & ALL
}
