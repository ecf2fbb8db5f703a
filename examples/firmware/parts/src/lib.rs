//! What board layers have in common, without a register in it: it builds for the computer too, where it is tested.
#![no_std]
#![forbid(unsafe_code)]
// A test may panic: that is how it fails.
#![cfg_attr(test, allow(clippy::indexing_slicing, clippy::arithmetic_side_effects))]

mod channel;
mod chip;
mod halves;
mod ring;
mod text;

pub use channel::{Channel, Uart};
pub use chip::Chip;
pub use halves::{Receiver, Sender, block_on};
pub use ring::Ring;
pub use text::Text;

#[cfg(test)]
extern crate std;
