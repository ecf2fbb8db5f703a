//! What the boards of the observatory do, without a board.
//!
//! A role is a line, a state and one method, `turn`: it is handed the time and what the board's inputs show, serves its line, and says what the
//! outputs shall do. It has no clock, no register and no interrupt, so the same code runs on every board and on the computer, where a test can feed it
//! the octets and times that a board had and compare every octet that comes back.
//!
//! | role | what it does |
//! |---|---|
//! | [`Dome`] | turns at a set-point, through a dead-man; closes its shutter when it rains, link or not |
//! | [`Focuser`] | steps to where an errand sends it |
//! | [`Mast`] | wakes, reports the weather by radio, sleeps |
//! | [`Desk`] | drives the others: a port for each UART |
//! | [`Radio`] | carries datagrams between the air and the desk |
//! | [`Listener`] | receives only, and counts |
//!
//! [`mirror`] plays a recording to a role, on a board and on the computer. [`Mechanics`] plays the dome's motor and shutter where there is none.
#![no_std]
#![forbid(unsafe_code)]
// A test may panic: that is how it fails.
#![cfg_attr(test, allow(clippy::indexing_slicing, clippy::arithmetic_side_effects))]

mod agreement;
mod desk;
mod dome;
mod focuser;
mod listener;
mod log;
mod mast;
mod mechanics;
pub mod mirror;
mod radio;

pub use agreement::{FINGERPRINT, identity, log_line, read};
pub use desk::{Desk, Seen, View};
pub use dome::{Dome, Drive, Sensors};
pub use focuser::Focuser;
pub use listener::{Heard, Listener};
pub use mast::{Mast, Nap};
pub use mechanics::Mechanics;
pub use radio::{LONGEST, Radio};

#[cfg(test)]
extern crate std;
