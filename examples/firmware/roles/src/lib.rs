//! What the boards of the observatory do, without a board.
//!
//! A role is a line, a state and one method, `turn`: it is handed the time and what the board's inputs show, serves its line, and says what the
//! outputs shall do. It has no clock, no register and no interrupt, so the same code runs on every board and on the computer, where a test can feed it
//! the octets and times that a board had and compare every octet that comes back.
//!
//! | role | what it does |
//! |---|---|
//! | [`Dome`] | turns at a set-point, through a dead-man; closes its shutter when it rains, link or not |
//! | [`Listener`] | receives only, and counts |
//!
//! [`Mechanics`] plays the dome's motor and shutter where there is none.
#![no_std]
#![forbid(unsafe_code)]

mod agreement;
mod dome;
mod listener;
mod mechanics;

pub use agreement::{FINGERPRINT, identity, log_line, read};
pub use dome::{Dome, Drive, Sensors};
pub use listener::{Heard, Listener};
pub use mechanics::Mechanics;

#[cfg(test)]
extern crate std;
