//! Traps: which one came, and how they are held off (RISC-V privileged architecture, 3.1).

use core::arch::{asm, global_asm};

use crate::{fault, register::Register};

use super::{clock, uart};

/// Takes the interrupt that waits at the controller, and gives it back when done.
const CLAIM: Register = Register::at(0x0C20_0004);
/// Causes: the machine timer, an interrupt of the controller.
const TIMER: u32 = 0x8000_0007;
const EXTERNAL: u32 = 0x8000_000B;
/// In the machine status: interrupts are let in.
const ALLOWED: usize = 1 << 3;

// Keeps what a function call may change, and goes back to where the trap came from.
global_asm!(
    ".section .text.trap_entry, \"ax\"",
    ".balign 4",
    ".global trap_entry",
    "trap_entry:",
    "addi sp, sp, -64",
    "sw ra, 0(sp)",
    "sw t0, 4(sp)",
    "sw t1, 8(sp)",
    "sw t2, 12(sp)",
    "sw a0, 16(sp)",
    "sw a1, 20(sp)",
    "sw a2, 24(sp)",
    "sw a3, 28(sp)",
    "sw a4, 32(sp)",
    "sw a5, 36(sp)",
    "sw a6, 40(sp)",
    "sw a7, 44(sp)",
    "sw t3, 48(sp)",
    "sw t4, 52(sp)",
    "sw t5, 56(sp)",
    "sw t6, 60(sp)",
    "csrr a0, mcause",
    "call {handle}",
    "lw ra, 0(sp)",
    "lw t0, 4(sp)",
    "lw t1, 8(sp)",
    "lw t2, 12(sp)",
    "lw a0, 16(sp)",
    "lw a1, 20(sp)",
    "lw a2, 24(sp)",
    "lw a3, 28(sp)",
    "lw a4, 32(sp)",
    "lw a5, 36(sp)",
    "lw a6, 40(sp)",
    "lw a7, 44(sp)",
    "lw t3, 48(sp)",
    "lw t4, 52(sp)",
    "lw t5, 56(sp)",
    "lw t6, 60(sp)",
    "addi sp, sp, 64",
    "mret",
    handle = sym handle,
);

extern "C" fn handle(cause: u32) {
    match cause {
        TIMER => clock::handle_interrupt(),
        EXTERNAL => {
            let interrupt = CLAIM.read();
            if interrupt == uart::INTERRUPT {
                uart::handle_interrupt();
            }
            CLAIM.write(interrupt);
        }
        _ => fault::stop("fault"),
    }
}

/// Lets interrupts in: timer and controller.
pub(super) fn allow() {
    // SAFETY: the handlers are in place, and what they share with the loop is made for it.
    unsafe {
        asm!("csrs mie, {0}", in(reg) 1_usize << 7 | 1 << 11);
        asm!("csrs mstatus, {0}", in(reg) ALLOWED);
    }
}

/// Does something that the interrupts must not see half done.
pub(super) fn undisturbed<T>(what: impl FnOnce() -> T) -> T {
    let were_in = hold_interrupts();
    let result = what();
    restore_interrupts(were_in);
    result
}

/// Holds the interrupts off; gives whether they were let in.
pub(crate) fn hold_interrupts() -> bool {
    let before: usize;
    // SAFETY: nothing is changed but that.
    unsafe { asm!("csrrc {0}, mstatus, {1}", out(reg) before, in(reg) ALLOWED) };
    before & ALLOWED != 0
}

/// Lets the interrupts in again if they were.
pub(crate) fn restore_interrupts(were_in: bool) {
    let allowed = if were_in { ALLOWED } else { 0 };
    // SAFETY: as they were before `hold_interrupts`.
    unsafe { asm!("csrs mstatus, {0}", in(reg) allowed) };
}

/// Sleeps until the next interrupt.
pub(super) fn sleep() {
    // SAFETY: it waits and does nothing else.
    unsafe { asm!("wfi") };
}
