//! A receiver that is asked one thing only: does it take a frame other than the one sent?

use bellwire::{
    fcs::Fcs,
    frame::View,
    framing::{Framing, Step},
};
use core::marker::PhantomData;

/// Room for the longest image that is tried.
const ROOM: usize = 128;

/// A receiver without memory from one image to the next.
pub(super) struct Receiver<F, C> {
    framing: F,
    length_octet: bool,
    buffer: [u8; ROOM],
    fcs: PhantomData<C>,
}

impl<F: Framing, C: Fcs> Receiver<F, C> {
    pub(super) const fn new(framing: F, length_octet: bool) -> Self {
        Self { framing, length_octet, buffer: [0; ROOM], fcs: PhantomData }
    }

    /// Whether `image`, fed to a fresh receiver, gives a frame other than `sent`.
    pub(super) fn takes_wrong(&mut self, image: &[u8], sent: &[u8]) -> bool {
        let mut state = F::State::default();
        let mut rest = image;
        loop {
            let fed = self.framing.feed::<C>(&mut state, rest, &mut self.buffer);
            rest = &rest[fed.consumed..];
            match fed.step {
                Step::More => return false,
                Step::Frame { start, len } => {
                    let octets = &self.buffer[start..][..len];
                    if octets != sent && self.is_frame(octets) {
                        return true;
                    }
                }
                Step::Text { .. } | Step::Refused { .. } => {}
            }
            if rest.is_empty() {
                return false;
            }
        }
    }

    fn is_frame(&self, octets: &[u8]) -> bool {
        let frame = match octets {
            [length, frame @ ..] if self.length_octet => {
                if usize::from(*length) != frame.len() {
                    return false;
                }
                frame
            }
            _ => octets,
        };
        View::parse(frame, !F::ORDERED).is_ok()
    }
}
