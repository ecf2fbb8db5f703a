//! The random generator of the chip.

use crate::register::Register;

const BASE: u32 = 0x4000_D000;
const START: Register = Register::at(BASE);
const STOP: Register = Register::at(BASE + 0x004);
const READY: Register = Register::at(BASE + 0x100);
const CONFIG: Register = Register::at(BASE + 0x504);
const VALUE: Register = Register::at(BASE + 0x508);

/// 32 random bits, bias corrected. Takes about 3 ms.
pub(super) fn number() -> u32 {
    CONFIG.write(1);
    START.write(1);
    let mut number = 0;
    for _ in 0..4 {
        while READY.read() == 0 {}
        READY.write(0);
        number = number << 8 | VALUE.read() & 0xFF;
    }
    STOP.write(1);
    number
}
