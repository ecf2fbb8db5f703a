//! Outputs on pins 1 to 4 of the GPIO port. Pull resistors must hold the drivers off until the program runs.

use crate::{outputs::ALL, register::Register};

const OUT: Register = Register::at(0x5000_0504);
const OUTSET: Register = Register::at(0x5000_0508);
const OUTCLR: Register = Register::at(0x5000_050C);
const DIRSET: Register = Register::at(0x5000_0518);

/// The first pin.
const FIRST: u32 = 1;

pub(super) fn start() {
    clear(ALL);
    DIRSET.write(ALL << FIRST);
}

pub(crate) fn set(outputs: u32) {
    OUTSET.write(outputs << FIRST);
}

pub(crate) fn clear(outputs: u32) {
    OUTCLR.write(outputs << FIRST);
}

pub(crate) fn read() -> u32 {
    OUT.read() >> FIRST
}
