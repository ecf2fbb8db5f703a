//! An endpoint of which everything that passes is noted down.

use std::{
    collections::VecDeque,
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};

use crate::{
    clock,
    endpoint::{Chunk, Direction, Endpoint, Item, PortInfo, Source},
    fail::Fail,
};

/// What has passed and was not shown yet, oldest first.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen(Arc<Mutex<VecDeque<Item>>>);

impl Seen {
    pub(super) fn note(&self, item: Item) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push_back(item);
    }

    pub(super) fn first(&self) -> Option<Item> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).pop_front()
    }
}

/// An endpoint whose items and writes are noted down.
pub(super) struct Overheard {
    inner: Box<dyn Endpoint>,
    seen: Seen,
}

impl Overheard {
    pub(super) const fn new(inner: Box<dyn Endpoint>, seen: Seen) -> Self {
        Self { inner, seen }
    }
}

impl Source for Overheard {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let item = self.inner.next(wait)?;
        if let Some(item) = item.as_ref().filter(|item| **item != Item::End) {
            self.seen.note(item.clone());
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
        self.seen.note(Item::Chunk(Chunk { at, port: 0, direction: Direction::Out, octets }));
        Ok(())
    }

    fn unsent(&self) -> usize {
        self.inner.unsent()
    }

    fn present(&self) -> bool {
        self.inner.present()
    }
}
