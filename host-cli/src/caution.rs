//! The caution that goes with everything that may move something.

use crate::{endpoint::FramingName, exit::Exit, fail::Fail, lines};

/// What an operator must have read before something moves.
pub const MOVING: &str = "Caution: this may move something. Guard the moving parts and try with the motors disconnected first. The \
    freshness limit of a set-point is a functional stop, not an emergency stop: an emergency stop is a circuit that removes power \
    and does not pass through this software.";

/// What whoever builds the line must know about set-points.
pub const COPIES: &str = "On a stream link (UART, serial device, TCP) every set-point that arrives counts as new, a copy of an old one too: whatever \
    stands between the boards must neither repeat octets nor hold them back and let them go later.";

/// Refuses what may move something over an open way (W-67), unless that was allowed by hand.
///
/// # Errors
/// The reason, and what to do next.
pub fn open_way(what: &str, framing: FramingName, is_allowed: bool) -> Result<(), Fail> {
    if is_allowed || !framing.is_unordered() {
        return Ok(());
    }
    let why = format!(
        "{what} over an open way (framing {framing}): until frames are sealed, anyone in range can forge and replay them (W-67)"
    );
    Err(Fail::new(Exit::Usage, why)
        .next("use a wire for what moves something")
        .next("or add --open-way, if a forged frame can hurt nobody: with the motors off, or on a network of your own"))
}

/// Both, as the end of a help page.
#[must_use]
pub fn page() -> String {
    format!("{}\n\n{}", lines::wrap("", MOVING), lines::wrap("", COPIES))
}
