//! Lessons for two boards that run on a laptop, with nothing attached.
//!
//! | run | what it shows |
//! |---|---|
//! | `cargo run -p bellwire-examples --bin short_start_desk` | seven statements that stream a set-point |
//! | `… --bin short_start_dome` | nine statements that drive a motor only while news is fresh |
//! | `… --bin short_start_mast` | eight statements of a battery node that reports by radio and sleeps |
//! | `… --bin lost_octet` | what one lost octet costs |
//! | `… --bin restart` | a board restarts, and the other one knows |
//! | `… --bin stale_command` | the wire is cut while a motor turns |
//! | `… --bin console` | messages and a text console on the same wire |
//! | `… --bin two_agreements` | boards that do not mean the same by a number |
//!
//! The functions in [`short_start`] are written once, for a bare board and for the laptop alike. On the laptop `bench` plays the boards'
//! clocks and the wire between them, in virtual time, so that a lesson runs at once and the same every time.
#![cfg_attr(target_os = "none", no_std)]

#[cfg(not(target_os = "none"))]
pub mod bench;
#[cfg(target_os = "none")]
pub mod board;
pub mod messages;
pub mod short_start;
