//! The caution that goes with everything that may move something.

use crate::lines;

/// What an operator must have read before something moves.
pub const MOVING: &str = "Caution: this may move something. Guard the moving parts and try with the motors disconnected first. The \
    freshness limit of a set-point is a functional stop, not an emergency stop: an emergency stop is a circuit that removes power \
    and does not pass through this software.";

/// What whoever builds the line must know about set-points.
pub const COPIES: &str = "On a stream link (UART, serial device, TCP) every set-point that arrives counts as new, a copy of an old one too: whatever \
    stands between the boards must neither repeat octets nor hold them back and let them go later.";

/// Both, as the end of a help page.
#[must_use]
pub fn page() -> String {
    format!("{}\n\n{}", lines::wrap("", MOVING), lines::wrap("", COPIES))
}
