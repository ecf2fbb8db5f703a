//! The parts of a star: a hub and up to 250 leaves that share a wire or a radio.
//!
//! Who may talk is one question, [`Access`], with three answers: [`FullDuplex`], the [`Turn`] that a hub gives on a shared half-duplex wire
//! ([`TurnTaken`] at the leaf), and the [`Chance`] that a sender takes on a radio, with an account of [`Airtime`].
//!
//! Each is plain data with time handed in as spans. They stand by themselves; the hub and the leaf that are to join them to links are not written yet.

mod access;
mod airtime;
mod chance;
mod turn;

pub use access::{Access, FullDuplex, May};
pub use airtime::{Airtime, Allowance};
pub use chance::{Chance, Deferred, Rules, Step};
pub use turn::{Give, Timing, Turn, TurnEnd, TurnTaken};
