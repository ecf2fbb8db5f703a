//! Bodies of the TRANSFER extension over an endpoint.

use std::time::{Duration, Instant};

use bellwire::{
    frame::{Header, Kind, Read},
    time,
};

use crate::{
    args::line::LineArgs,
    beyond::Beyond,
    endpoint::{Direction, Endpoint, EndpointSpec, Item, Loss},
    fail::Fail,
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
    looked: Instant,
    ended: bool,
}

impl Lane {
    /// Opens the endpoint; one that goes away is waited for.
    ///
    /// # Errors
    /// If it cannot be opened.
    pub fn open(spec: &EndpointSpec, line: &LineArgs) -> Result<Self, Fail> {
        let endpoint = open_endpoint(spec, line, Loss::Wait)?;
        let codec = codec(wiring_of(spec, line));
        Ok(Self { endpoint, codec, spec: spec.clone(), looked: Instant::now(), ended: false })
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
        let frame = self.codec.frame(&Header::new(Kind::Extended), &extended);
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
                self.codec.read(&chunk.octets, &mut |read| {
                    if let Read::Refused { octets, .. } = read
                        && let Some(beyond) = Beyond::read(octets).filter(|beyond| beyond.code == TRANSFER)
                    {
                        bodies.push(beyond.body.to_vec());
                    }
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
