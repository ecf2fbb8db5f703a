//! An endpoint on which we take part, seen as a source: what comes in and what we send come out as chunks, for a log.

use std::time::{Duration, Instant};

use super::{
    Happening, Talk,
    overheard::{Overheard, Seen},
};
use crate::{
    args::{line::LineArgs, peer::SelfArgs},
    endpoint::{EndpointSpec, Item, Loss, PortInfo, Source},
    fail::Fail,
};

/// The longest wait in one piece: what needs no answer of ours makes no happening, and should be seen soon.
const NAP: Duration = Duration::from_millis(20);

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
        let overheard = seen.clone();
        let mut ports = Vec::new();
        let talk = Talk::open_with(spec, line, ourselves, Loss::Wait, |inner| {
            ports = inner.ports().to_vec();
            Box::new(Overheard::new(inner, overheard))
        })?;
        Ok(Self { talk, seen, ports, ended: false })
    }
}

impl Source for TakingPart {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let until = Instant::now() + wait;
        loop {
            if let Some(item) = self.seen.first() {
                return Ok(Some(item));
            }
            if self.ended {
                return Ok(Some(Item::End));
            }
            let left = until.saturating_duration_since(Instant::now());
            // What the link tells can be read from the frames themselves.
            self.ended = matches!(self.talk.next(left.min(NAP))?, Some(Happening::End));
            if left.is_zero() {
                return Ok(self.seen.first());
            }
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }
}
