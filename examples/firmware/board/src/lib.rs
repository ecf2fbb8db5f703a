//! The board layer: everything that knows a register.
//!
//! | module | machine | target |
//! |---|---|---|
//! | `m0` | a 32-bit M0-class board, one UART | `thumbv6m-none-eabi` |
//! | `m3` | an M3-class board, three UARTs | `thumbv7m-none-eabi` |
//! | `m4` | an M4-class board without floating point, two UARTs | `thumbv7em-none-eabi` |
//! | `riscv` | a 32-bit RISC-V board, one UART | `riscv32imc-unknown-none-elf` |
//!
//! # What a board layer of your own must have
//! - [`start!`]: names the function that a reset ends in; it is handed the board.
//! - [`Board`]: `uart` (and `second`, `third` where there are more), each a [`Uart`] whose octets are stamped in the interrupt;
//!   `outputs`; `own`, where the board's own number comes from.
//! - [`now`]: microseconds since the start, wrapping. [`wait`]: sleeps until the next interrupt, at most one tick.
//! - [`outputs::all_off`]: switches every output off, from anywhere, also from a fault.
//! - [`bench`]: the emulator's side door. On a board of your own every call of it may go.
#![no_std]

pub mod bench;
mod fault;
#[cfg(feature = "defmt")]
mod log;
pub mod outputs;
mod register;

#[cfg(target_arch = "arm")]
mod cortex;
#[cfg(machine = "m0")]
#[path = "m0/mod.rs"]
mod machine;
#[cfg(machine = "m3")]
#[path = "m3/mod.rs"]
mod machine;
#[cfg(machine = "m4")]
#[path = "m4/mod.rs"]
mod machine;
#[cfg(machine = "riscv")]
#[path = "riscv/mod.rs"]
mod machine;
/// Outputs of a machine that has no pins.
#[cfg(any(machine = "m4", machine = "riscv"))]
mod no_pins;

pub use machine::{Board, TICK_MICROS, now, start, wait};
pub use outputs::Outputs;
pub use parts::{Channel, Text, Uart};

/// Names the function that a reset ends in: `board::start!(run);` with `fn run(board: Board) -> !`.
#[macro_export]
macro_rules! start {
    ($run:path) => {
        #[unsafe(export_name = "main")]
        extern "C" fn start() -> ! {
            $run($crate::start())
        }
    };
}
