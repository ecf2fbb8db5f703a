//! What an input might be where nothing could be decoded.

use crate::{
    endpoint::{Direction, FcsName, FramingName, Wiring},
    report::Tracker,
};

/// The framing and FCS under which these octets hold the most frames, and how many.
pub(super) fn guess(octets: &[u8]) -> Option<(Wiring, u64)> {
    let mut best = None;
    for framing in [FramingName::Cobs, FramingName::OctetStuffing, FramingName::Slip] {
        for fcs in FcsName::ALL {
            let wiring = Wiring { framing, fcs, map: 0 };
            let mut tracker = Tracker::new(wiring);
            tracker.octets(None, 0, Direction::In, octets, &mut |_| {});
            let frames = tracker.sum().all_frames();
            if frames > best.map_or(0, |(_, most)| most) {
                best = Some((wiring, frames));
            }
        }
    }
    // One frame may be chance: the 16-bit FCS lets one in 65 536 through.
    best.filter(|(_, frames)| *frames > 1 || octets.len() < 256)
}
