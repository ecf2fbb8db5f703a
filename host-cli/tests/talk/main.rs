//! The commands that take part, as processes: two of them talking, or one and a board made of a few lines.

mod agreed;
mod check;
mod exits;
mod files;
mod hub;
mod radio;
mod replay;
mod shared;
mod steer;
mod stop_test;
mod talking;
mod tool;
