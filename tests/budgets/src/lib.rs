//! The smallest board layer that the images need: start, clock, UART, an exit and a panic handler. The emulated board is a 32-bit M0.
#![no_std]

pub mod board;
mod panic;
pub mod star;
mod start;
pub mod tell;
pub mod whole;
