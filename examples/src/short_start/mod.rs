//! The short start: each board in at most nine statements (a test counts them).
//!
//! Each function is the whole program of a board but for its hardware, which comes in as parameters: a line or a radio, a tick source, and what the
//! board is there for. Nothing else is set up elsewhere. A function runs until its line fails.

mod desk;
mod dome;
mod mast;

pub use desk::desk;
pub use dome::dome;
pub use mast::mast;
