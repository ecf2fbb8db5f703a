//! Firmware on emulated boards: boards as processes, and the wire between them and whatever else talks.
//!
//! Nothing here asserts the time of the host. What a scenario asserts is what the boards report, in ticks of their own clocks, and exact counts.

pub mod air;
pub mod board;
pub mod desk;
pub mod end;
pub mod recording;
pub mod said;
pub mod scenarios;
pub mod tool;
pub mod wire;

pub use board::{Board, Clock, Machine};
pub use end::{End, Plug};
pub use wire::{Side, Wire};
