//! An endpoint on which we are the hub of a star, seen as a source: what comes in and what we send come out as chunks, for a log.

use std::{
    sync::Arc,
    time::{Duration, Instant},
};

use bellwire::{
    link::When,
    star::{HubConfig, Seconds},
    time::{LONGEST, elapsed},
};

use super::{
    lifetime, octet_rate, open_endpoint,
    overheard::{Overheard, Seen},
    random32, random64,
    star::{Star, star},
    wiring_of,
};
use crate::{
    args::{line::LineArgs, peer::SelfArgs},
    clock,
    endpoint::{Direction, Endpoint, EndpointSpec, Item, Loss, Note, PortInfo, Source},
    exit::Exit,
    fail::Fail,
    messages::Table,
};

/// The longest wait in one piece, so that what passes is seen soon.
const NAP: Duration = Duration::from_millis(20);

/// A hub of our own on an endpoint, and all that passes there.
pub struct BeingHub {
    endpoint: Overheard,
    star: Box<dyn Star>,
    seen: Seen,
    ports: Vec<PortInfo>,
    frame: Vec<u8>,
    started: Instant,
    ended: bool,
}

impl BeingHub {
    /// Opens the endpoint and waits for leaves: it puts on the roster who asks, opens with each, confirms every message and acts on none, and passes on what goes from leaf to leaf.
    ///
    /// # Errors
    /// If the endpoint cannot be opened, or is a line on which a hub must give turns.
    pub fn open(
        spec: &EndpointSpec,
        line: &LineArgs,
        ourselves: &SelfArgs,
        table: &Arc<Table>,
    ) -> Result<Self, Fail> {
        let wiring = wiring_of(spec, line);
        if !wiring.framing.is_unordered() {
            return Err(Fail::new(
                Exit::Usage,
                format!("--hub: {spec} is a stream, on which leaves share a wire and wait for turns"),
            )
            .next("a radio board on its UART: add --framing radio-board")
            .next("datagrams: udp:HOST:PORT@OWN")
            .next("one board alone on the line: --peer"));
        }
        let base = HubConfig::datagram(octet_rate(spec, line), lifetime(ourselves.lifetime)?, random32()?);
        let config = HubConfig {
            identity: ourselves.identity.map_or_else(random64, Ok)?,
            fingerprint: ourselves.fingerprint.unwrap_or(0),
            jitter_seed: random32()? | 1,
            ..base
        };
        let inner = open_endpoint(spec, line, Loss::Wait)?;
        let ports = inner.ports().to_vec();
        let seen = Seen::default();
        let star = star(wiring, config, table, clock::on_the_link(clock::now()));
        Ok(Self {
            endpoint: Overheard::new(inner, seen.clone()),
            frame: vec![0; star.max_transmit()],
            star,
            seen,
            ports,
            started: Instant::now(),
            ended: false,
        })
    }

    /// The time of the roster.
    fn today(&self) -> Seconds {
        u32::try_from(self.started.elapsed().as_secs()).unwrap_or(Seconds::MAX)
    }

    fn remark(&self, remarks: Vec<String>) {
        let at = clock::now();
        for text in remarks {
            self.seen.note(Item::Note(Note { at, port: 0, text }));
        }
    }

    /// Does what is due, and sends.
    fn serve(&mut self) -> Result<(), Fail> {
        let (mut remarks, today) = (Vec::new(), self.today());
        self.star.expire(clock::on_the_link(clock::now()), today, &mut remarks);
        loop {
            let now = clock::on_the_link(clock::now());
            self.star.handle_unsent(now, self.endpoint.unsent());
            let Some(len) = self.star.transmit(now, today, &mut self.frame) else { break };
            if let Some(octets) = self.frame.get(..len).filter(|octets| !octets.is_empty()) {
                self.endpoint.write(octets)?;
            }
        }
        self.remark(remarks);
        Ok(())
    }

    fn take(&mut self, item: &Item) {
        match item {
            Item::Chunk(chunk) if chunk.direction == Direction::In => {
                let (mut remarks, today) = (Vec::new(), self.today());
                self.star.hear(clock::on_the_link(chunk.at), &chunk.octets, today, &mut remarks);
                self.remark(remarks);
            }
            Item::End => self.ended = true,
            _ => {}
        }
    }

    fn until_wake(&self) -> Duration {
        match self.star.poll_wake().when {
            When::Now => Duration::ZERO,
            When::Idle => NAP,
            When::At(at) => {
                let span = elapsed(at, clock::on_the_link(clock::now())).min(LONGEST);
                Duration::from_micros(span.as_ticks().into())
            }
        }
    }
}

impl Source for BeingHub {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let until = Instant::now() + wait;
        loop {
            if !self.ended {
                self.serve()?;
            }
            if let Some(item) = self.seen.first() {
                return Ok(Some(item));
            }
            if self.ended {
                return Ok(Some(Item::End));
            }
            let left = until.saturating_duration_since(Instant::now());
            let nap = left.min(NAP).min(self.until_wake());
            if let Some(item) = self.endpoint.next(nap)? {
                self.take(&item);
            }
            if left.is_zero() && !self.ended {
                return Ok(self.seen.first());
            }
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }
}
