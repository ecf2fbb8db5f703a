//! What a board says besides: an ordinary link, a leaf, or a hub.

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Framing,
    link::{Config, Event, Link, OwnNumber, Wake},
    star::{Address, Hub, HubConfig, Leaf, LeafConfig, Speaks},
    time::{Duration, Instant},
};
use std::collections::VecDeque;

/// Octets of the receive buffers: every frame that the wire allows.
pub(crate) const FRAME: usize = 1040;
/// Leaves of the star: the first has the transfer.
pub(crate) const LEAVES: u8 = 2;

/// Who a board is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    /// One of two.
    Peer,
    /// The hub, with a line to each leaf.
    Hub,
    /// The leaf at this address.
    Leaf(u8),
}

/// A conversation of the core; what it hears is kept.
pub(crate) trait Talk {
    fn octets(&mut self, now: Instant, port: usize, octets: &[u8]);
    fn timeout(&mut self, now: Instant);
    fn unsent(&mut self, now: Instant, octets: usize);
    /// Sends a report to whoever is at the other end of the first line; gives whether it was taken.
    fn report(&mut self, now: Instant, payload: &[u8]) -> bool;
    fn transmit(&mut self, now: Instant, port: usize) -> Option<Vec<u8>>;
    fn wake(&self) -> Wake;
    fn heard(&mut self) -> Vec<Vec<u8>>;
}

fn message(event: Event<'_>) -> Option<Vec<u8>> {
    if let Event::Message(message) = event { Some(message.payload.to_vec()) } else { None }
}

/// The conversation of `who`, for the so-manieth life of the board.
pub(crate) fn talk<F>(framing: F, who: Who, rate: u32, life: u32, now: Instant) -> Box<dyn Talk>
where
    F: Framing + 'static,
{
    let number = 0x1000 * (1 + if let Who::Leaf(own) = who { u32::from(own) } else { 0 }) + 0x10 * life;
    let lifetime = Duration::from_ticks(20_000);
    let own = OwnNumber::Stored(number);
    let config =
        if F::ORDERED { Config::uart(rate * 10, own) } else { Config::datagram(rate, lifetime, own) };
    // The two of a pair do not begin alike.
    let config = Config { jitter_seed: number | 1, ..config };
    match who {
        Who::Peer => Box::new(One { link: Link::new(framing, config, now), heard: Vec::new() }),
        Who::Leaf(own) => {
            let leaf = Leaf::new(framing, LeafConfig::new(config, Address::Known(own)), now);
            Box::new(ALeaf { leaf, heard: Vec::new() })
        }
        Who::Hub => {
            let config = if F::ORDERED {
                HubConfig::wire(rate * 10, number)
            } else {
                HubConfig::datagram(rate, lifetime, number)
            };
            let config = HubConfig { octet_rate: 0, ..config };
            let mut hub = Hub::new(framing, config, now);
            assert!((1..=LEAVES).all(|leaf| hub.admit(now, leaf, Speaks::Hub)));
            Box::new(TheHub { hub, heard: Vec::new(), streams: Default::default(), out: Default::default() })
        }
    }
}

struct One<F: Framing> {
    link: Link<F, Fcs16, FRAME, 8, 16>,
    heard: Vec<Vec<u8>>,
}

impl<F: Framing> One<F> {
    fn drain(&mut self) {
        while let Some(event) = self.link.poll_event() {
            self.heard.extend(message(event));
        }
    }
}

impl<F: Framing> Talk for One<F> {
    fn octets(&mut self, now: Instant, _port: usize, mut octets: &[u8]) {
        while !octets.is_empty() {
            octets = &octets[self.link.handle_octets(now, octets)..];
            self.drain();
        }
    }
    fn timeout(&mut self, now: Instant) {
        self.link.handle_timeout(now);
        self.drain();
    }
    fn unsent(&mut self, now: Instant, octets: usize) {
        self.link.handle_unsent(now, octets);
    }
    fn report(&mut self, now: Instant, payload: &[u8]) -> bool {
        self.link.send(now, Class::Report, payload).is_ok()
    }
    fn transmit(&mut self, now: Instant, _port: usize) -> Option<Vec<u8>> {
        let mut out = vec![0; 2 * FRAME];
        let len = self.link.poll_transmit(now, &mut out);
        self.drain();
        out.truncate(len?);
        Some(out)
    }
    fn wake(&self) -> Wake {
        self.link.poll_wake()
    }
    fn heard(&mut self) -> Vec<Vec<u8>> {
        core::mem::take(&mut self.heard)
    }
}

struct ALeaf<F: Framing> {
    leaf: Leaf<F, Fcs16, FRAME, 1, 16>,
    heard: Vec<Vec<u8>>,
}

impl<F: Framing> ALeaf<F> {
    fn drain(&mut self) {
        while let Some(event) = self.leaf.poll_event() {
            self.heard.extend(event.of_link().and_then(message));
        }
    }
}

impl<F: Framing> Talk for ALeaf<F> {
    fn octets(&mut self, now: Instant, _port: usize, mut octets: &[u8]) {
        while !octets.is_empty() {
            octets = &octets[self.leaf.handle_octets(now, octets)..];
            self.drain();
        }
    }
    fn timeout(&mut self, now: Instant) {
        self.leaf.handle_timeout(now);
        self.drain();
    }
    fn unsent(&mut self, now: Instant, octets: usize) {
        self.leaf.handle_unsent(now, octets);
    }
    fn report(&mut self, now: Instant, payload: &[u8]) -> bool {
        self.leaf.send(now, Class::Report, payload).is_ok()
    }
    fn transmit(&mut self, now: Instant, _port: usize) -> Option<Vec<u8>> {
        let mut out = vec![0; 2 * FRAME];
        let len = self.leaf.poll_transmit(now, &mut out);
        self.drain();
        out.truncate(len?);
        Some(out)
    }
    fn wake(&self) -> Wake {
        self.leaf.poll_wake()
    }
    fn heard(&mut self) -> Vec<Vec<u8>> {
        core::mem::take(&mut self.heard)
    }
}

struct TheHub<F: Framing> {
    hub: Hub<F, Fcs16, { LEAVES as usize }, 16, FRAME>,
    heard: Vec<Vec<u8>>,
    streams: [Vec<u8>; LEAVES as usize],
    out: [VecDeque<Vec<u8>>; LEAVES as usize],
}

impl<F: Framing> TheHub<F> {
    fn serve(&mut self, now: Instant) {
        while let Some(told) = self.hub.poll_event() {
            let first = told.leaf == Some(1);
            self.heard.extend(message(told.event).filter(|_| first));
        }
        let mut out = [0; 2 * FRAME];
        while let Some(sent) = self.hub.poll_transmit(now, &mut out) {
            assert!(sent.len > 0, "there was room");
            self.out[usize::from(sent.leaf) - 1].push_back(out[..sent.len].to_vec());
        }
    }
}

impl<F: Framing> Talk for TheHub<F> {
    /// Each line has a stream of its own, and the hub hears one: what comes is handed over as far as its frames are whole.
    fn octets(&mut self, now: Instant, port: usize, octets: &[u8]) {
        let stream = &mut self.streams[port];
        stream.extend(octets);
        let ends = stream.iter().rposition(|octet| F::DELIMITER == Some(*octet)).map_or(0, |last| last + 1);
        let whole: Vec<u8> = stream.drain(..ends).collect();
        let mut rest = &whole[..];
        while !rest.is_empty() {
            rest = &rest[self.hub.handle_octets(now, rest)..];
            self.serve(now);
        }
    }
    fn timeout(&mut self, now: Instant) {
        self.hub.handle_timeout(now);
        self.serve(now);
    }
    fn unsent(&mut self, _now: Instant, _octets: usize) {}
    fn report(&mut self, now: Instant, payload: &[u8]) -> bool {
        (1..=LEAVES).rev().fold(false, |_, leaf| self.hub.send(now, leaf, Class::Report, payload).is_ok())
    }
    fn transmit(&mut self, now: Instant, port: usize) -> Option<Vec<u8>> {
        self.serve(now);
        self.out[port].pop_front()
    }
    fn wake(&self) -> Wake {
        self.hub.poll_wake()
    }
    fn heard(&mut self) -> Vec<Vec<u8>> {
        core::mem::take(&mut self.heard)
    }
}
