//! What takes part in a simulated network.

use super::moment::Moment;

/// A board in the network, with one or more ports. All its calls come with the virtual time; it has no other clock.
///
/// After every call the network asks [`Node::transmit`] for each port until it gives nothing.
pub trait Node {
    /// The number of ports; they are counted from 0.
    fn ports(&self) -> usize {
        1
    }

    /// Octets (or one datagram) have arrived at a port.
    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]);

    /// The time of [`Node::wake`] has come.
    fn woken(&mut self, now: Moment);

    /// A look at the shared medium at a port, just before [`Node::transmit`] is asked: whether another board talks on it now. Where nobody listens, it is
    /// never busy.
    fn looks(&mut self, _now: Moment, _port: usize, _busy: bool) {}

    /// Puts one write for a port into `out`, which is empty; `false` if there is none now. `unsent` octets still lie in the port's
    /// driver.
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool;

    /// When the node next needs to be woken; at a time that has passed, at once.
    fn wake(&self) -> Option<Moment>;

    /// The board starts afresh: everything in its memory is gone.
    fn restart(&mut self, _now: Moment) {}

    /// Something that a person or the world does to the board; what a number means is between script and node.
    fn act(&mut self, _now: Moment, _act: u32) {}
}

impl<N: Node + ?Sized> Node for Box<N> {
    fn ports(&self) -> usize {
        (**self).ports()
    }
    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        (**self).arrived(now, port, octets);
    }
    fn woken(&mut self, now: Moment) {
        (**self).woken(now);
    }
    fn looks(&mut self, now: Moment, port: usize, busy: bool) {
        (**self).looks(now, port, busy);
    }
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        (**self).transmit(now, port, unsent, out)
    }
    fn wake(&self) -> Option<Moment> {
        (**self).wake()
    }
    fn restart(&mut self, now: Moment) {
        (**self).restart(now);
    }
    fn act(&mut self, now: Moment, act: u32) {
        (**self).act(now, act);
    }
}
