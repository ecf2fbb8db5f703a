//! From the reset to `main`: a stack, and variables at zero.

use core::arch::global_asm;

global_asm!(
    ".section .init, \"ax\"",
    ".global _start",
    "_start:",
    "la sp, _stack",
    "la t0, trap_entry",
    "csrw mtvec, t0",
    "la t0, _zeros",
    "la t1, _zeros_end",
    "1: bgeu t0, t1, 2f",
    "sw zero, 0(t0)",
    "addi t0, t0, 4",
    "j 1b",
    "2: call main",
    "3: j 3b",
);
