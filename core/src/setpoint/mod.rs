//! Set-points at the receiving end: a dead-man that lets a value drive something only while news of it is fresh.
//!
//! A set-point must pass through a [`DeadMan`] on its way to an actuator. The dead-man gives the value while it is fresh and the
//! stop value at all other times, and after a stop it does not move again by itself.
//!
#![doc = include_str!("caution.md")]

mod dead_man;
mod gate;
mod reason;
mod stop;
#[cfg(feature = "postcard")]
mod typed;

pub use dead_man::{DeadMan, LONGEST_LIMIT, Motion};
pub use gate::{Gate, HeldBack, Moves, Way};
pub use reason::{RearmError, Reason};
pub use stop::Stop;

#[cfg(test)]
mod tests;
