//! Log output of the large objects: what they are about, not all that they hold. The small types derive theirs.

use crate::{fcs::Fcs, frame::Reader, framing::Framing, link::Link, port::Port};

impl<F: Framing, C: Fcs, const FRAME: usize> defmt::Format for Reader<F, C, FRAME> {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Reader of {=usize} octets, {=str}", FRAME, C::NAME);
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> defmt::Format
    for Link<F, C, FRAME, WINDOW, QUEUE>
{
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Link {}, peer {}, wakes {}", self.state(), self.peer(), self.poll_wake());
    }
}

impl<L, F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> defmt::Format
    for Port<L, F, C, FRAME, WINDOW, QUEUE>
{
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Port, {}", self.link);
    }
}
