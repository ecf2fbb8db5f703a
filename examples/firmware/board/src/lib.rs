//! The board layer: everything that knows a register.
//!
//! | module | machine | target |
//! |---|---|---|
//! | `m0` | a 32-bit M0-class board, one UART | `thumbv6m-none-eabi` |
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
pub mod outputs;
mod register;

#[cfg(target_arch = "arm")]
mod cortex;
#[cfg(machine = "m0")]
mod m0;

#[cfg(machine = "m0")]
use m0 as machine;

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
