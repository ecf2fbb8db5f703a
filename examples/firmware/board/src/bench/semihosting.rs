//! The calls to the emulator: "Semihosting for AArch32 and AArch64", and the same numbers for RISC-V ("RISC-V Semihosting").

use core::ffi::c_void;

#[cfg(feature = "defmt")]
const OPEN: usize = 0x01;
const WRITE0: usize = 0x04;
#[cfg(feature = "defmt")]
const WRITE: usize = 0x05;
const GET_CMDLINE: usize = 0x15;
const EXIT_EXTENDED: usize = 0x20;
/// The reason of an exit that the program wanted.
const APPLICATION_EXIT: usize = 0x2_0026;

/// Stops the processor for the emulator, with the number of the call and where its parameters are.
///
/// # Safety
/// `parameter` must point to what the call wants, and may be written to as the call says.
unsafe fn call(number: usize, parameter: *mut c_void) -> usize {
    let result;
    #[cfg(target_arch = "arm")]
    // SAFETY: the emulator changes r0 and what the call writes, which the caller answers for.
    unsafe {
        core::arch::asm!("bkpt 0xAB", inout("r0") number => result, in("r1") parameter, options(nostack));
    }
    #[cfg(target_arch = "riscv32")]
    // SAFETY: as above, with a0. The three instructions must be whole words that stand next to each other.
    unsafe {
        core::arch::asm!(
            ".balign 16", ".option push", ".option norvc",
            "slli x0, x0, 0x1f", "ebreak", "srai x0, x0, 7",
            ".option pop",
            inout("a0") number => result, in("a1") parameter, options(nostack),
        );
    }
    result
}

/// Writes a line.
pub(super) fn write(text: &[u8]) {
    let mut line = [0_u8; 98];
    let end = text.iter().chain(b"\n");
    for (cell, octet) in line.iter_mut().take(97).zip(end) {
        *cell = *octet;
    }
    // SAFETY: the text ends in a zero: the last cell is never written.
    unsafe { call(WRITE0, line.as_mut_ptr().cast()) };
}

/// The standard output of the emulator, which is another way than that of [`write`].
#[cfg(feature = "defmt")]
pub(crate) fn standard_output() -> usize {
    // The name that stands for it, and "for writing".
    let name = *b":tt\0";
    let mut block = [name.as_ptr() as usize, 4, 3];
    // SAFETY: the block names a text, its length and how it is opened.
    unsafe { call(OPEN, block.as_mut_ptr().cast()) }
}

/// Writes octets to what was opened.
#[cfg(feature = "defmt")]
pub(crate) fn write_to(file: usize, octets: &[u8]) {
    let mut block = [file, octets.as_ptr() as usize, octets.len()];
    // SAFETY: the call reads the octets that the block names.
    unsafe { call(WRITE, block.as_mut_ptr().cast()) };
}

/// The program's arguments, separated by spaces; what does not fit into `into` is refused whole.
pub(super) fn arguments(into: &mut [u8]) -> &[u8] {
    let mut block = [into.as_mut_ptr() as usize, into.len()];
    // SAFETY: the block names `into` and its length, and the emulator writes no more than that.
    let failed = unsafe { call(GET_CMDLINE, block.as_mut_ptr().cast()) };
    let [_, len] = block;
    if failed == 0 { into.get(..len).unwrap_or_default() } else { &[] }
}

/// Ends the emulator.
pub(super) fn exit(status: u32) {
    let mut block = [APPLICATION_EXIT, status as usize];
    // SAFETY: the call reads the two words.
    unsafe { call(EXIT_EXTENDED, block.as_mut_ptr().cast()) };
}

/// Runs into an undefined instruction.
pub(super) fn fault() {
    // SAFETY: the processor does not go on behind it, and the fault handler never returns.
    #[cfg(target_arch = "arm")]
    unsafe {
        core::arch::asm!("udf #0");
    }
    // SAFETY: as above.
    #[cfg(target_arch = "riscv32")]
    unsafe {
        core::arch::asm!("unimp");
    }
}
