//! The emulator's side door: a script of what happens to the board comes in, lines of what it does go out, and a test can end it.
//!
//! All of it goes over semihosting, which needs an emulator or a debugger: without the feature `bench` nothing of it is left in an image.

mod script;
mod semihosting;

use parts::Text;

pub use script::{Act, Script};

/// Whether somebody listens.
const LISTENS: bool = cfg!(feature = "bench");

/// One line of what the board does.
pub type Line = Text<96>;

/// A line that begins with the time, µs, and what it is about: `1250000 motor`.
#[must_use]
pub fn line(about: &str) -> Line {
    Line::new().count(crate::now().as_ticks()).word(" ").word(about)
}

/// Tells a line.
pub fn say(line: Line) {
    if LISTENS {
        semihosting::write(line.octets());
    }
}

#[cfg(feature = "defmt")]
pub(crate) use semihosting::{standard_output, write_to};

/// Ends the emulator with an exit status. Where nobody listens it returns.
pub fn exit(status: u32) {
    if LISTENS {
        semihosting::exit(status);
    }
}
