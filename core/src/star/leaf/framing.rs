//! What a leaf finds on the medium: frames of its link, as on a line of its own, and beside them WELCOMEs and frames to all.

use crate::{
    fcs::Fcs,
    frame::{Head, Kind},
    framing::{Fed, Framing, Lead, NoRoom},
    star::{Addressed, Welcome, addressed::addresses_at, extended::EXTENDED},
};

/// An address that nobody has (W-15): of a leaf that waits for one.
const NOBODY: u8 = 254;

/// The framing of a leaf's link.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct LeafFraming<F>(Addressed<F>);

impl<F: Framing> LeafFraming<F> {
    pub(super) const fn new(framing: F, address: Option<u8>) -> Self {
        let own = match address {
            Some(own) => own,
            None => NOBODY,
        };
        Self(Addressed { framing, own, peer: 0 })
    }

    pub(super) const fn set_address(&mut self, address: Option<u8>) {
        self.0.own = match address {
            Some(own) => own,
            None => NOBODY,
        };
    }

    /// The framing of the medium: of frames without addresses.
    pub(super) const fn of_medium(&self) -> &F {
        &self.0.framing
    }

    /// Whether a frame that is not the link's is for the leaf all the same.
    fn is_aside(frame: &[u8]) -> bool {
        match *frame {
            [EXTENDED, Welcome::CODE, ..] => true,
            [control, ..] => {
                let at = addresses_at(control, !F::ORDERED);
                let addresses = at.and_then(|at| frame.get(at..)?.first_chunk::<2>());
                let kind = Kind::from_control(control);
                addresses == Some(&[255, 0]) && matches!(kind, Some(Kind::SetPoint | Kind::Notice))
            }
            [] => false,
        }
    }
}

/// Whether a frame that was found has its addresses still: it is then one to all.
pub(super) fn is_to_all(control: u8) -> bool {
    addresses_at(control, false).is_some()
}

impl<F: Framing> Framing for LeafFraming<F> {
    type Order = F::Order;
    const DELIMITER: Option<u8> = F::DELIMITER;
    const EXTRA: usize = F::EXTRA;
    type State = F::State;
    const START: F::State = F::START;

    fn max_encoded_len(frame: usize) -> usize {
        Addressed::<F>::max_encoded_len(frame)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        self.0.encode(parts, lead, out)
    }

    fn encode_frame<C: Fcs>(
        &self,
        head: Head<'_>,
        payload: &[u8],
        lead: Lead,
        out: &mut [u8],
    ) -> Result<usize, NoRoom> {
        self.0.encode_frame::<C>(head, payload, lead, out)
    }

    fn feed<C: Fcs>(&self, state: &mut F::State, input: &[u8], buffer: &mut [u8]) -> Fed {
        self.0.feed_and_pass::<C>(state, input, buffer, Self::is_aside)
    }

    fn held(&self, state: &F::State) -> usize {
        self.0.held(state)
    }

    fn pending_text(&self, state: &F::State, buffer: &[u8]) -> usize {
        self.0.pending_text(state, buffer)
    }
}
