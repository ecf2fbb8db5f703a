//! Statistics: saturating counters of what a link has sent, received and refused (section 9 of the wire text).

use crate::{frame::Reject, time::Duration};

/// From how many microseconds on the uptime's rest is divided: at most once in a thousand seconds, and never beyond 32 bits.
const FOLD: u32 = 1_000_000_000;

macro_rules! counters {
    ($($variant:ident = $place:literal, $name:literal, $doc:literal;)*) => {
        /// A counter of [`Statistics`], in the order of the wire (section 9, layout 1); the reject counters follow.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[repr(u8)]
        pub enum Counter {
            $(#[doc = $doc] $variant = $place,)*
        }

        impl Counter {
            /// All counters in the order of the wire.
            pub const ALL: [Self; counters!(@count $($variant)*)] = [$(Self::$variant,)*];

            /// In plain words, for instance `frames received`.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }
        }
    };
    (@count $($variant:ident)*) => { 0 $(+ { let _ = stringify!($variant); 1 })* };
}

counters! {
    Uptime = 0, "time since start", "Time since the link was made, ms.";
    FramesReceived = 1, "frames received", "Frames that passed the FCS and the rules of the header.";
    FramesSent = 2, "frames sent", "Frames sent, of every kind.";
    OctetsReceived = 3, "octets received", "Octets received, of every sort.";
    OctetsSent = 4, "octets sent", "Octets sent, delimiters included.";
    Sessions = 5, "sessions opened", "Sessions opened.";
    Resent = 6, "frames resent", "Frames sent again.";
    Repeats = 7, "repeats received", "Confirmed frames received again.";
    SetPointsLost = 8, "set-points lost", "Set-points lost, by their number.";
    NoticesLost = 9, "notices lost", "Notices lost, by their number.";
    TextOctets = 10, "text octets", "Octets of foreign text.";
    Delivered = 11, "items delivered", "Confirmed items with the outcome delivered.";
    Unknown = 12, "items unknown", "Confirmed items with the outcome unknown.";
    NotSent = 13, "items not sent", "Items of any class that were dropped before they were sent.";
    RoundTrip = 14, "smoothed round trip", "Smoothed round trip, µs; 0 before the first sample.";
    TimeOut = 15, "time-out", "Retransmission time-out, µs.";
}

const OWN: usize = Counter::ALL.len();
const REJECTS: usize = Reject::ALL.len();

/// Octets of a whole STATISTICS body of layout 1: the layout octet and every counter.
pub const STATISTICS_LEN: usize = 1 + 4 * (OWN + REJECTS);

/// What a link has counted since it was made. Counters stay at their largest value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Statistics {
    own: [u32; OWN],
    rejects: [u32; REJECTS],
    /// Microseconds of the uptime that `own` does not count yet: a board divides slowly.
    rest: u32,
}

impl Default for Statistics {
    fn default() -> Self {
        Self::new()
    }
}

impl Statistics {
    /// All counters at zero.
    #[must_use]
    pub const fn new() -> Self {
        Self { own: [0; OWN], rejects: [0; REJECTS], rest: 0 }
    }

    /// A counter.
    #[must_use]
    pub fn get(&self, counter: Counter) -> u32 {
        let counted = self.own.get(counter as usize).copied().unwrap_or(0);
        if counter == Counter::Uptime { counted.saturating_add(self.rest / 1_000) } else { counted }
    }

    /// How often this rule was broken.
    #[must_use]
    pub fn rejects(&self, reject: Reject) -> u32 {
        self.rejects.get(usize::from(reject.code())).copied().unwrap_or(0)
    }

    /// The octets of a STATISTICS body that fit into `out`: the layout octet, then whole counters. Gives the octets written.
    pub fn write(&self, out: &mut [u8]) -> usize {
        let Some((layout, rest)) = out.split_first_mut() else { return 0 };
        *layout = LAYOUT;
        let mut len = 1_usize;
        let uptime = self.get(Counter::Uptime);
        let values = core::iter::once(&uptime).chain(self.own.iter().skip(1)).chain(&self.rejects);
        for (cell, value) in rest.chunks_exact_mut(4).zip(values) {
            cell.copy_from_slice(&value.to_le_bytes());
            len = len.saturating_add(4);
        }
        len
    }

    /// Time passes.
    pub(crate) fn elapse(&mut self, span: Duration) {
        self.rest = self.rest.saturating_add(span.as_ticks());
        if self.rest >= FOLD {
            let ms = self.rest / 1_000;
            self.rest = self.rest.wrapping_sub(ms.wrapping_mul(1_000));
            self.add(Counter::Uptime, usize::try_from(ms).unwrap_or(usize::MAX));
        }
    }

    pub(crate) fn set(&mut self, counter: Counter, value: u32) {
        if let Some(cell) = self.own.get_mut(counter as usize) {
            *cell = value;
        }
    }

    pub(crate) fn add(&mut self, counter: Counter, more: usize) {
        if let Some(cell) = self.own.get_mut(counter as usize) {
            *cell = cell.saturating_add(u32::try_from(more).unwrap_or(u32::MAX));
        }
    }

    pub(crate) fn refuse(&mut self, reject: Reject) {
        if let Some(cell) = self.rejects.get_mut(usize::from(reject.code())) {
            *cell = cell.saturating_add(1);
        }
    }
}

/// The layout of STATISTICS that this crate writes and reads.
const LAYOUT: u8 = 1;

/// The counters in a STATISTICS body of the peer. Those that did not fit are unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counters<'a>(&'a [u8]);

impl<'a> Counters<'a> {
    /// Reads the body of a STATISTICS frame; `None` if its layout is not 1.
    #[must_use]
    pub fn parse(body: &'a [u8]) -> Option<Self> {
        let (&layout, counters) = body.split_first()?;
        (layout == LAYOUT).then_some(Self(counters))
    }

    fn at(&self, place: usize) -> Option<u32> {
        let cell = self.0.get(place.checked_mul(4)?..)?.first_chunk::<4>()?;
        Some(u32::from_le_bytes(*cell))
    }

    /// A counter; `None` if the peer did not send it.
    #[must_use]
    pub fn get(&self, counter: Counter) -> Option<u32> {
        self.at(counter as usize)
    }

    /// How often the peer saw this rule broken; `None` if it did not send the counter.
    #[must_use]
    pub fn rejects(&self, reject: Reject) -> Option<u32> {
        self.at(usize::from(reject.code()).checked_add(OWN)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counters_stay_at_their_largest_value() {
        let mut statistics = Statistics::new();
        statistics.set(Counter::Resent, u32::MAX - 1);
        statistics.add(Counter::Resent, 5);
        assert_eq!(statistics.get(Counter::Resent), u32::MAX);
    }

    /// Two hours in microseconds do not fit 32 bits.
    #[test]
    fn uptime_counts_whole_milliseconds_whatever_the_pieces() {
        for piece in [1, 999, 1_000, 65_535, 1_234_567, 600_000_000, 4_000_000_000] {
            let mut statistics = Statistics::new();
            let mut passed = 0_u64;
            for _ in 0..12 {
                statistics.elapse(Duration::from_ticks(piece));
                passed += u64::from(piece);
                assert_eq!(u64::from(statistics.get(Counter::Uptime)), passed / 1_000, "{piece}");
            }
        }
    }

    #[test]
    fn any_cut_of_the_wire_form_reads_back_what_it_holds_and_calls_the_rest_unknown() {
        let mut statistics = Statistics::new();
        for (value, counter) in (1..).zip(Counter::ALL) {
            statistics.set(counter, value * 0x0101);
        }
        for reject in Reject::ALL.into_iter().filter(|reject| reject.code() % 2 == 1) {
            statistics.refuse(reject);
        }
        for room in 0..=STATISTICS_LEN + 3 {
            let mut out = [0xEE; STATISTICS_LEN + 3];
            let len = statistics.write(&mut out[..room]);
            assert!(len <= room && (room == 0 || len % 4 == 1));
            let Some(read) = Counters::parse(&out[..len]) else {
                assert_eq!(room, 0);
                continue;
            };
            for counter in Counter::ALL {
                let known = 4 * (counter as usize + 1) < len;
                assert_eq!(read.get(counter), known.then(|| statistics.get(counter)));
            }
            for reject in Reject::ALL {
                let known = 4 * (OWN + usize::from(reject.code()) + 1) < len;
                assert_eq!(read.rejects(reject), known.then(|| statistics.rejects(reject)));
            }
        }
        assert_eq!(statistics.write(&mut [0; 400]), STATISTICS_LEN, "all of it, and no more");
        assert_eq!(Counters::parse(&[2, 0, 0, 0, 0]), None);
    }
}
