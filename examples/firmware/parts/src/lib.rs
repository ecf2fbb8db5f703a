//! What board layers have in common, without a register in it: it builds for the computer too, where it is tested.
#![no_std]
#![forbid(unsafe_code)]

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
