//! Outputs on pins 0 to 3 of port E. Pull resistors must hold the drivers off until the program runs.

use crate::{outputs::ALL, register::Register};

const PORT: u32 = 0x4002_4000;
const DIRECTION: Register = Register::of(PORT, 0x400);
const DIGITAL: Register = Register::of(PORT, 0x51C);

/// The data register of some pins alone: which ones is in the address.
const fn data(outputs: u32) -> Register {
    Register::of(PORT, outputs << 2)
}

/// Pins to the functions of the UARTs: A0 and A1, D2 and D3, G0 and G1.
const UARTS: [(u32, u32); 3] = [(0x4000_4000, 0b11), (0x4000_7000, 0b1100), (0x4002_6000, 0b11)];

pub(super) fn start() {
    DIGITAL.write(ALL);
    clear(ALL);
    DIRECTION.write(ALL);
    for (port, pins) in UARTS {
        Register::of(port, 0x420).write(pins);
        Register::of(port, 0x51C).write(pins);
    }
}

pub(crate) fn set(outputs: u32) {
    data(outputs).write(outputs);
}

pub(crate) fn clear(outputs: u32) {
    data(outputs).write(0);
}

pub(crate) fn read() -> u32 {
    data(ALL).read()
}
