//! The books of confirmed messages, numbers only: what may be sent, what has arrived (W-37 to W-40, W-42).

mod pace;
mod receive;
mod send;

pub(crate) use pace::Pace;
pub(crate) use receive::{Place, ReceiveWindow};
pub(crate) use send::SendWindow;
