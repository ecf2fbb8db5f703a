//! Counts over all that was seen.

use bellwire::frame::{Class, Kind, Reject};

/// Counts of the messages of one class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Numbered {
    /// Frames with a number not seen before.
    pub new: u64,
    /// Frames sent again: their number was seen before, or had been skipped when it was due.
    pub resent: u64,
    /// Numbers that were skipped when they were due: frames lost on the way to us. (A confirmed one is then resent.)
    pub missing: u64,
    /// Payload octets of the new ones, message number included.
    pub octets: u64,
}

/// Counts over all that was seen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sum {
    /// Octets seen, all ports and directions.
    pub octets: u64,
    /// Frames by kind, in the order of [`Kind::ALL`].
    pub frames: [u64; Kind::ALL.len()],
    /// Refused by reason, in the order of [`Reject::ALL`].
    pub rejects: [u64; Reject::ALL.len()],
    /// Octets of refused candidates.
    pub reject_octets: u64,
    /// Octets of foreign text.
    pub text_octets: u64,
    /// Messages by class, in the order of [`Class::ALL`].
    pub messages: [Numbered; Class::ALL.len()],
    /// Voids seen: errands and reports that their sender gave up (unknown).
    pub given_up: u64,
    /// Confirmations seen, errands and reports.
    pub delivered: u64,
    /// Sessions opened.
    pub opened: u64,
    /// Restarts seen.
    pub restarts: u64,
    /// Frames of another session.
    pub other_session: u64,
    /// Gaps in the recording.
    pub gaps: u64,
    /// Frames of a radio board's UART that carry a datagram, where the framing was not that of a radio board.
    pub enclosed: u64,
    /// Records shown, where a filter left some out.
    pub shown: Option<u64>,
    /// First and last time seen, ns since the Unix epoch.
    pub span: Option<(u64, u64)>,
    /// Round trips of errands and reports sent once: how many, smallest, largest and total, ns.
    pub round_trips: u64,
    /// Smallest round trip, ns.
    pub round_trip_min: u64,
    /// Largest round trip, ns.
    pub round_trip_max: u64,
    /// All round trips together, ns.
    pub round_trip_total: u64,
}

impl Sum {
    /// Takes one round trip, ns.
    pub(super) fn round_trip(&mut self, took: u64) {
        self.round_trip_min = if self.round_trips == 0 { took } else { self.round_trip_min.min(took) };
        self.round_trip_max = self.round_trip_max.max(took);
        self.round_trip_total += took;
        self.round_trips += 1;
    }

    /// Mean round trip, ns, if there was one.
    #[must_use]
    pub fn round_trip_mean(&self) -> Option<u64> {
        self.round_trip_total.checked_div(self.round_trips)
    }

    /// All frames.
    #[must_use]
    pub fn all_frames(&self) -> u64 {
        self.frames.iter().sum()
    }

    /// All refused candidates.
    #[must_use]
    pub fn all_rejects(&self) -> u64 {
        self.rejects.iter().sum()
    }

    /// Payload octets of all messages, repeats not counted.
    #[must_use]
    pub fn payload_octets(&self) -> u64 {
        self.messages.iter().map(|class| class.octets).sum()
    }

    /// The counts of one class.
    #[must_use]
    pub fn class(&self, class: Class) -> &Numbered {
        &self.messages[class as usize]
    }

    /// Payload octets a second, repeats not counted, where the input has times and lasts.
    #[must_use]
    pub fn goodput(&self) -> Option<f64> {
        let (first, last) = self.span?;
        let seconds = last.checked_sub(first).filter(|&ns| ns > 0)? as f64 / 1e9;
        Some(self.payload_octets() as f64 / seconds)
    }
}
