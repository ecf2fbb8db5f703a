//! A network in virtual time: boards joined by lines that lose, damage, double and delay, the same for the same seed.
//!
//! It is sans-IO like the core: no clock, no thread, no input or output. [`Network`] jumps from one event to the next, so a
//! minute on a slow line takes as long as its octets need to be computed. `demo:`, the tests and the fuzz bodies share it.
//!
//! ```text
//!  Script (cut, lose, restart, act)      Seed -> Dice for each line
//!      |                                   |
//!      v                                   v
//!  Network:  Node <--- Line (rate, delay, Faults, Counted) <--- Node
//!                 ---> Line                                --->
//! ```

mod board;
mod books;
mod datagrams;
mod fault;
mod line;
mod moment;
mod network;
mod node;
mod octets;
pub mod profile;
mod script;
mod seed;
pub mod traffic;

pub use board::{Board, Program};
pub use books::{Balance, Books, Breach, Fate, Order};
pub use fault::{Counted, Faults, Spell};
pub use line::{BadSetup, Carries, Condition, Line, Setup};
pub use moment::{Moment, long};
pub use network::{LineId, Network, NodeId, Plug, Seen, Stalled};
pub use node::Node;
pub use script::{Action, Script};
pub use seed::{Dice, Seed};
