//! An endpoint whose way out can be cut.

use std::{
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

use crate::{
    endpoint::{Endpoint, Item, PortInfo, Source},
    fail::Fail,
};

/// Set while nothing goes out.
pub(super) type Mute = Arc<AtomicBool>;

/// While muted, what is written goes nowhere; what comes in is heard.
pub(super) struct Muted {
    pub(super) inner: Box<dyn Endpoint>,
    pub(super) mute: Mute,
}

impl Source for Muted {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        self.inner.next(wait)
    }
    fn ports(&self) -> &[PortInfo] {
        self.inner.ports()
    }
}

impl Endpoint for Muted {
    fn write(&mut self, octets: &[u8]) -> Result<(), Fail> {
        if self.mute.load(Ordering::Relaxed) { Ok(()) } else { self.inner.write(octets) }
    }
    fn unsent(&self) -> usize {
        self.inner.unsent()
    }
    fn present(&self) -> bool {
        self.inner.present()
    }
}
