//! The commands that take part, as processes: two of them talking, or one and a board made of a few lines.

mod agreed;
mod check;
mod exits;
mod replay;
mod steer;
mod talking;
mod tool;
