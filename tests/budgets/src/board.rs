//! Registers of the board.

use bellwire::time::Instant;

/// UART of the emulated board: enable, start, and one octet in and out.
const UART: usize = 0x4000_2000;
/// The system tick: control, reload, value.
const TICK: usize = 0xE000_E010;

fn read(address: usize) -> u32 {
    // SAFETY: the callers name registers of this board.
    unsafe { (address as *const u32).read_volatile() }
}

fn write(address: usize, value: u32) {
    // SAFETY: the callers name registers of this board.
    unsafe { (address as *mut u32).write_volatile(value) }
}

/// Starts the UART and the free-running tick.
pub fn begin() {
    write(UART + 0x500, 4);
    write(UART, 1);
    write(UART + 8, 1);
    write(TICK + 4, 0xFF_FFFF);
    write(TICK + 8, 0);
    write(TICK, 0b101);
}

/// Ticks counted down, 24 bits.
pub fn ticks() -> u32 {
    read(TICK + 8)
}

/// The time, as far as these images need one.
pub fn now() -> Instant {
    Instant::from_ticks(0xFF_FFFF - ticks())
}

/// An octet that has arrived.
pub fn take() -> Option<u8> {
    if read(UART + 0x108) == 0 {
        return None;
    }
    write(UART + 0x108, 0);
    Some(read(UART + 0x518) as u8)
}

/// Puts out an octet.
pub fn put(octet: u8) {
    write(UART + 0x51C, octet.into());
}

/// An output of the board: a motor, a lamp.
pub fn drive(value: u32) {
    write(0x5000_0504, value);
}

#[cfg(target_os = "none")]
fn host(operation: u32, parameter: usize) {
    // SAFETY: a semihosting call; it changes no memory of ours.
    unsafe { core::arch::asm!("bkpt 0xAB", inout("r0") operation => _, in("r1") parameter) }
}

#[cfg(not(target_os = "none"))]
fn host(_: u32, _: usize) {}

/// Writes a text that ends with a zero to the emulator's error output.
pub fn tell(text: &[u8]) {
    host(0x04, text.as_ptr() as usize);
}

/// Ends the emulation with this code.
pub fn exit(code: u32) -> ! {
    let block = [0x2_0026, code];
    host(0x20, block.as_ptr() as usize);
    loop {}
}

/// The buttons of the board.
pub fn buttons() -> u32 {
    read(0x5000_0510)
}
