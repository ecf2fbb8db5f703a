//! An endpoint on which we take part, seen as a source: what comes in and what we send come out as chunks, for a log.

use std::{
    collections::VecDeque,
    sync::{Arc, Mutex, PoisonError},
    time::{Duration, Instant},
};

use super::{Happening, Talk};
use crate::{
    args::{line::LineArgs, peer::SelfArgs},
    clock,
    endpoint::{Chunk, Direction, Endpoint, EndpointSpec, Item, Loss, PortInfo, Source},
    fail::Fail,
};

/// The longest wait in one piece: what needs no answer of ours makes no happening, and should be seen soon.
const NAP: Duration = Duration::from_millis(20);

type Seen = Arc<Mutex<VecDeque<Item>>>;

/// A peer of our own on an endpoint, and all that passes there.
pub struct TakingPart {
    talk: Talk,
    seen: Seen,
    ports: Vec<PortInfo>,
    ended: bool,
}

impl TakingPart {
    /// Opens the endpoint and answers openings on it; confirms every message and acts on none.
    ///
    /// # Errors
    /// As [`Talk::open`].
    pub fn open(spec: &EndpointSpec, line: &LineArgs, ourselves: &SelfArgs) -> Result<Self, Fail> {
        let seen = Seen::default();
        let overheard = Arc::clone(&seen);
        let mut ports = Vec::new();
        let talk = Talk::open_with(spec, line, ourselves, Loss::Wait, |inner| {
            ports = inner.ports().to_vec();
            Box::new(Overheard { inner, seen: overheard })
        })?;
        Ok(Self { talk, seen, ports, ended: false })
    }

    fn first_seen(&self) -> Option<Item> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner).pop_front()
    }
}

impl Source for TakingPart {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let until = Instant::now() + wait;
        loop {
            if let Some(item) = self.first_seen() {
                return Ok(Some(item));
            }
            if self.ended {
                return Ok(Some(Item::End));
            }
            let left = until.saturating_duration_since(Instant::now());
            // What the link tells can be read from the frames themselves.
            self.ended = matches!(self.talk.next(left.min(NAP))?, Some(Happening::End));
            if left.is_zero() {
                return Ok(self.first_seen());
            }
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }
}

/// An endpoint whose items and writes are noted down.
struct Overheard {
    inner: Box<dyn Endpoint>,
    seen: Seen,
}

impl Overheard {
    fn note(&self, item: Item) {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner).push_back(item);
    }
}

impl Source for Overheard {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let item = self.inner.next(wait)?;
        if let Some(item) = item.as_ref().filter(|item| **item != Item::End) {
            self.note(item.clone());
        }
        Ok(item)
    }

    fn ports(&self) -> &[PortInfo] {
        self.inner.ports()
    }
}

impl Endpoint for Overheard {
    fn write(&mut self, octets: &[u8]) -> Result<(), Fail> {
        self.inner.write(octets)?;
        let (at, octets) = (clock::now(), octets.to_vec());
        self.note(Item::Chunk(Chunk { at, port: 0, direction: Direction::Out, octets }));
        Ok(())
    }

    fn unsent(&self) -> usize {
        self.inner.unsent()
    }

    fn present(&self) -> bool {
        self.inner.present()
    }
}
