//! Who may talk: one question, three rules.

use crate::time::Duration;

/// Whether a board may send now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum May {
    /// Yes.
    Now,
    /// Once the air has been found free.
    Look,
    /// Not before so long.
    In(Duration),
    /// Not until something else happens: a turn is given, a frame is wanted.
    No,
}

/// A rule of who may talk on a medium.
pub trait Access {
    /// Whether this board may send now.
    fn may_send(&self) -> May;
    /// Time passes.
    fn elapse(&mut self, span: Duration);
    /// A frame that takes `airtime` waits to be sent. Gives whether that can ever be. Rules that need not know take no notice.
    fn wanted(&mut self, airtime: Duration) -> bool {
        let _ = airtime;
        true
    }
    /// The air was looked at, after [`May::Look`].
    fn looked(&mut self, free: bool) {
        let _ = free;
    }
    /// The frame is on its way.
    fn sent(&mut self) {}
}

/// A line of one's own, in both directions: anyone, at any time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FullDuplex;

impl Access for FullDuplex {
    fn may_send(&self) -> May {
        May::Now
    }

    fn elapse(&mut self, _span: Duration) {}
}
