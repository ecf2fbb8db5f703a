//! The caution that goes with everything that may move something.

/// What an operator must have read before something moves.
pub const MOVING: &str = "Caution: this may move something. Guard the moving parts and try with the motors disconnected first. The \
    freshness limit of a set-point is a functional stop, not an emergency stop: an emergency stop is a circuit that removes power \
    and does not pass through this software.";
