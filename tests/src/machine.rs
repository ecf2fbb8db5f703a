//! A link whose framing and sizes are only known at run time, and its events as JSON.

use crate::vector::hex;
use bellwire::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    link::{EndReason, Event, Link, Outcome, SendError, Ticket, Wake},
    time::Instant,
};
use serde_json::{Value, json};

/// What every [`Link`] can do.
pub trait Machine {
    /// [`Link::handle_octets`].
    fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize;
    /// [`Link::handle_timeout`].
    fn handle_timeout(&mut self, now: Instant);
    /// [`Link::send`].
    ///
    /// # Errors
    /// As there.
    fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError>;
    /// [`Link::poll_event`], as JSON.
    fn poll_event(&mut self) -> Option<Value>;
    /// [`Link::poll_transmit`].
    fn poll_transmit(&mut self, now: Instant) -> Option<Vec<u8>>;
    /// [`Link::poll_wake`].
    fn poll_wake(&self) -> Wake;
    /// [`Link::close`].
    fn close(&mut self, now: Instant);
    /// [`Link::reopen`].
    fn reopen(&mut self, now: Instant);
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> Machine
    for Link<F, C, FRAME, WINDOW, QUEUE>
{
    fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        Self::handle_octets(self, arrived, octets)
    }
    fn handle_timeout(&mut self, now: Instant) {
        Self::handle_timeout(self, now);
    }
    fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        Self::send(self, now, class, payload)
    }
    fn poll_event(&mut self) -> Option<Value> {
        Self::poll_event(self).map(|event| tell(&event))
    }
    fn poll_transmit(&mut self, now: Instant) -> Option<Vec<u8>> {
        let mut out = vec![0; Self::max_transmit()];
        let len = Self::poll_transmit(self, now, &mut out)?;
        out.truncate(len);
        Some(out)
    }
    fn poll_wake(&self) -> Wake {
        Self::poll_wake(self)
    }
    fn close(&mut self, now: Instant) {
        Self::close(self, now);
    }
    fn reopen(&mut self, now: Instant) {
        Self::reopen(self, now);
    }
}

/// The words of WIRE.md for the reason of an end.
#[must_use]
pub const fn end_reason(reason: EndReason) -> &'static str {
    match reason {
        EndReason::PeerRestarted(_) => "peer restarted",
        EndReason::Silence => "silence",
        EndReason::Mismatch => "mismatch",
        EndReason::Closed => "closed",
    }
}

/// An event as the vectors write it.
#[must_use]
pub fn tell(event: &Event<'_>) -> Value {
    match event {
        Event::Opened(peer) => json!({"event": "opened", "identity": peer.identity, "window": peer.window,
            "max_payload": peer.max_payload, "session": peer.session}),
        Event::Quiet => json!({"event": "quiet"}),
        Event::Resumed => json!({"event": "resumed"}),
        Event::Ended(reason) => json!({"event": "ended", "reason": end_reason(*reason)}),
        Event::Mismatch { ours, theirs } => json!({"event": "mismatch",
            "ours": {"version": ours.version, "fingerprint": ours.fingerprint},
            "theirs": {"version": theirs.version, "fingerprint": theirs.fingerprint}}),
        Event::Message(message) => {
            json!({"event": "message", "class": message.class.name(), "number": message.number,
            "message": message.message.get(), "payload": hex(message.payload), "missed": message.missed})
        }
        Event::Outcome { ticket, outcome } => {
            json!({"event": "outcome", "item": ticket.get(), "outcome": match outcome {
                Outcome::Delivered => "delivered",
                Outcome::NotSent(_) => "not sent",
                Outcome::Unknown => "unknown",
            }})
        }
        Event::Resent { ticket, tries } => json!({"event": "resent", "item": ticket.get(), "tries": tries}),
        Event::Text(text) => json!({"event": "text", "octets": hex(text)}),
        Event::Refused(reject) => json!({"event": "refused", "reject": reject.name(), "rule": reject.rule()}),
        Event::ProbeAnswer { id, round_trip } => {
            json!({"event": "probe answer", "id": id, "round_trip": round_trip.as_ticks()})
        }
        Event::PeerStatistics(_) => json!({"event": "peer statistics"}),
    }
}
