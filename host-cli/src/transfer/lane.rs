//! Bodies of the TRANSFER extension over an endpoint.

use std::time::{Duration, Instant};

use bellwire::{
    frame::{Addresses, Header, Kind, Read},
    time,
};

use crate::{
    args::line::LineArgs,
    beyond::Beyond,
    endpoint::{Direction, Endpoint, EndpointSpec, Item, Loss},
    fail::Fail,
    machine::Between,
    talk::{Codec, codec, linger, open_endpoint, wiring_of},
};

/// Code of the extension (section 6 of the wire text).
const TRANSFER: u8 = 0x12;
/// With more octets than that unsent, no further body is handed over: a map then finds its way soon.
const CLEAR: usize = 2048;

/// Carries bodies, whatever the wiring.
pub struct Lane {
    endpoint: Box<dyn Endpoint>,
    codec: Box<dyn Codec>,
    spec: EndpointSpec,
    between: Option<Between>,
    looked: Instant,
    ended: bool,
    /// Frames of a shared medium were heard, and neither end was named.
    shared: bool,
}

impl Lane {
    /// Opens the endpoint; one that goes away is waited for.
    ///
    /// # Errors
    /// If it cannot be opened.
    pub fn open(spec: &EndpointSpec, line: &LineArgs, between: Option<Between>) -> Result<Self, Fail> {
        let endpoint = open_endpoint(spec, line, Loss::Wait)?;
        let codec = codec(wiring_of(spec, line));
        let (looked, ended, shared) = (Instant::now(), false, false);
        Ok(Self { endpoint, codec, spec: spec.clone(), between, looked, ended, shared })
    }

    /// What else to look at where nobody answers.
    #[must_use]
    pub const fn hint(&self) -> Option<&'static str> {
        if self.shared {
            Some("others share this medium: name the leaf with --to, or yourself with --address")
        } else {
            None
        }
    }

    /// Whether the next body may be handed over.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.endpoint.present() && self.endpoint.unsent() < CLEAR
    }

    /// Whether nothing more can come.
    #[must_use]
    pub const fn has_ended(&self) -> bool {
        self.ended
    }

    /// Sends a body.
    ///
    /// # Errors
    /// If the endpoint is lost for good.
    pub fn send(&mut self, body: &[u8]) -> Result<(), Fail> {
        // The core's header knows no code of an extension that a link skips: it goes before the body.
        let extended: Vec<u8> = [TRANSFER].into_iter().chain(body.iter().copied()).collect();
        let addresses = self.between.map(|Between { own, peer }| Addresses { to: peer, from: own });
        let frame = self.codec.frame(&Header { addresses, ..Header::new(Kind::Extended) }, &extended);
        self.endpoint.write(&self.codec.encode(&frame))
    }

    /// Waits at most `wait` and gives the bodies that came.
    ///
    /// # Errors
    /// If the endpoint is lost for good.
    pub fn next(&mut self, wait: Duration) -> Result<Vec<Vec<u8>>, Fail> {
        let mut bodies = Vec::new();
        if self.ended {
            std::thread::sleep(wait);
            return Ok(bodies);
        }
        match self.endpoint.next(wait)? {
            Some(Item::Chunk(chunk)) if chunk.direction == Direction::In => {
                let ours = self.between.map(|Between { own, peer }| Addresses { to: own, from: peer });
                let shared = &mut self.shared;
                self.codec.read(&chunk.octets, &mut |read| {
                    let (addresses, body) = match read {
                        Read::Frame(view) => (view.header.addresses, None),
                        Read::Refused { octets, .. } => match Beyond::read(octets) {
                            Some(beyond) => {
                                (beyond.addresses, Some(beyond.body).filter(|_| beyond.code == TRANSFER))
                            }
                            None => return,
                        },
                        Read::Text(_) => return,
                    };
                    *shared |= addresses.is_some() && ours.is_none();
                    bodies.extend(body.filter(|_| addresses == ours).map(<[u8]>::to_vec));
                });
            }
            Some(Item::End) => self.ended = true,
            _ => {}
        }
        Ok(bodies)
    }

    /// The time since the last look; none while nobody is there, so that an unplugged cable uses up no tries.
    pub fn elapsed(&mut self) -> time::Duration {
        let span = self.looked.elapsed();
        self.looked += span;
        let micros = if self.endpoint.present() { span.as_micros() } else { 0 };
        time::Duration::from_ticks(u32::try_from(micros).unwrap_or(u32::MAX).min(time::LONGEST.as_ticks()))
    }

    /// Waits until what was sent has left.
    ///
    /// # Errors
    /// If the endpoint is lost for good.
    pub fn linger(&mut self) -> Result<(), Fail> {
        linger(self.endpoint.as_mut(), &self.spec)
    }
}
