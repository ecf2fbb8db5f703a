#![doc = include_str!("../README.md")]
//!
//! # The layers of this crate
//!
//! Bottom up: [`framing`] turns an octet stream into candidates, [`fcs`] checks them, [`frame`] gives them
//! header and payload, [`link`] makes a conversation of them, [`setpoint`] keeps a motor from obeying old news, [`port`] is the easy way
//! in. The wire is described in `core/WIRE.md`; code and counters cite its rules by number (W-1, W-2 …).
#![no_std]
#![forbid(unsafe_code)]
#![deny(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::arithmetic_side_effects
)]
#![cfg_attr(
    test,
    allow(
        clippy::indexing_slicing,
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::arithmetic_side_effects
    )
)]

#[cfg(any(feature = "std", test))]
extern crate std;

pub mod fcs;
pub mod frame;
pub mod framing;
pub mod io;
pub mod link;
#[cfg(feature = "defmt")]
mod log;
pub mod port;
pub mod radio;
pub mod retry;
pub mod rtt;
#[cfg(not(bellwire_rule_switch))]
mod rules;
#[cfg(bellwire_rule_switch)]
pub mod rules;
pub mod seq;
mod session;
pub mod setpoint;
pub mod star;
pub mod stats;
pub mod time;
pub mod timeline;
pub mod transfer;
#[cfg(feature = "postcard")]
pub mod typed;
mod window;
