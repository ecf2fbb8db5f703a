//! Decoding a capture, raw octets or hex text of any length in constant memory, on several threads, in order.
//!
//! A cutter cuts the octets of each port and direction at delimiters into pieces of work. Each worker takes the next piece and
//! splits it into frames; then, in turn, lets the conversations see them (what was resent or lost depends on what came before);
//! then turns its records into lines; then, in turn, writes them. So the output does not depend on the number of threads.

mod cutter;
mod filter;
mod guess;
mod hex;
mod input;
mod merge;
mod pipeline;
#[cfg(test)]
mod tests;
mod turn;
mod work;

pub use filter::Filter;
pub use input::{Form, Input, Torn};
pub use pipeline::{Done, Plan, Show, run};
