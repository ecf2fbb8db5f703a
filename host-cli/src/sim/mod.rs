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
//!                 ---> Medium (Shared: who overlaps is garbled) ---> an ear, which is a Line, of every other node
//! ```

mod agenda;
mod board;
mod books;
mod datagrams;
mod events;
mod fault;
mod ids;
mod line;
mod medium;
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
pub use ids::{LineId, MediumId, NodeId, Plug};
pub use line::{BadSetup, Carries, Condition, Line, Setup};
pub use medium::{Shared, Talked};
pub use moment::{Moment, long};
pub use network::{Network, Seen, Stalled};
pub use node::Node;
pub use script::{Action, Script};
pub use seed::{Dice, Seed};
