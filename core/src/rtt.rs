//! Round-trip estimate and retransmission time-out (RFC 6298, with the floor of W-49).

use crate::time::Duration;

/// What is known about the round trip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RoundTrip {
    /// Smoothed round trip; `None` before the first sample.
    pub smoothed: Option<Duration>,
    /// Retransmission time-out before any back-off.
    pub time_out: Duration,
}
