//! News of one leaf that wait to be told. No other leaf is dealt with before they are.

use crate::{
    frame::Reject,
    link::{EndReason, Event, Peer, Terms, Ticket, news::Hearing, news::News as OfSession},
};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct News {
    /// The address; 0: nobody knows whose they are.
    pub(super) leaf: u8,
    resent: Option<(Ticket, u8)>,
    session: OfSession,
    theirs: Option<Terms>,
    peer: Option<Peer>,
}

impl News {
    pub(super) const fn any(&self) -> bool {
        self.resent.is_some() || self.session.any()
    }

    pub(super) fn refuse(&mut self, reject: Reject) {
        self.session.refuse(reject);
    }

    pub(super) fn opened(&mut self, peer: Peer) {
        self.session.opened = true;
        self.peer = Some(peer);
    }

    /// A session that nobody was told of yet is none.
    pub(super) fn ended(&mut self, reason: EndReason) {
        self.session.opened = false;
        self.session.hearing = None;
        self.session.ended = Some(reason);
    }

    pub(super) fn mismatch(&mut self, theirs: Terms) {
        self.session.mismatch = true;
        self.theirs = Some(theirs);
    }

    pub(super) fn hearing(&mut self, hearing: Hearing) {
        self.session.hearing = Some(hearing);
    }

    pub(super) fn resent(&mut self, ticket: Ticket, tries: u8) {
        self.resent = Some((ticket, tries));
    }

    /// The next of them.
    pub(super) fn next(&mut self, ours: impl FnOnce() -> Terms) -> Option<Event<'static>> {
        if let Some((ticket, tries)) = self.resent.take() {
            return Some(Event::Resent { ticket, tries });
        }
        if let Some(reject) = self.session.next_refused() {
            return Some(Event::Refused(reject));
        }
        if let Some(reason) = self.session.ended.take() {
            return Some(Event::Ended(reason));
        }
        if core::mem::take(&mut self.session.mismatch) {
            return self.theirs.take().map(|theirs| Event::Mismatch { ours: ours(), theirs });
        }
        if core::mem::take(&mut self.session.opened) {
            return self.peer.take().map(Event::Opened);
        }
        self.session.hearing.take().map(|hearing| match hearing {
            Hearing::Quiet => Event::Quiet,
            Hearing::Resumed => Event::Resumed,
        })
    }
}
