//! The focuser board: moves the eyepiece in and out.

use super::{Act, Role, Send, earlier, is_due, ms};
use crate::observatory::Message;
use bellwire::{
    link::Event,
    time::{Duration, Instant, after, elapsed},
};

/// Pause between two reports: while it moves, and at rest.
const REPORTS: [Duration; 2] = [ms(1_000), ms(5_000)];
/// How fast it moves, µm/s.
const SPEED: u32 = 500;
/// The outer stop, µm from the inner one.
const OUTER: u32 = 30_000;

/// The focuser board. It goes where an errand sends it, and stands still in any other case: also after a restart.
#[derive(Debug, Clone)]
pub struct Focuser {
    /// µm from the inner stop, when `at` was.
    position: u32,
    target: u32,
    at: Instant,
    up: bool,
    report_at: Instant,
    now: Instant,
}

impl Focuser {
    /// A focuser at rest.
    #[must_use]
    pub const fn new(position: u32, now: Instant) -> Self {
        Self { position, target: position, at: now, up: false, report_at: now, now }
    }

    /// Where it is, µm.
    #[must_use]
    pub const fn position(&self) -> u32 {
        self.position
    }

    fn moves(&self) -> bool {
        self.position != self.target
    }

    fn advance(&mut self, now: Instant) {
        let way = u64::from(elapsed(now, self.at).as_ticks()) * u64::from(SPEED) / 1_000_000;
        if way == 0 && self.moves() {
            return;
        }
        let way = u32::try_from(way).unwrap_or(OUTER).min(self.position.abs_diff(self.target));
        let was_moving = self.moves();
        self.position = if self.target > self.position { self.position + way } else { self.position - way };
        self.at = now;
        if was_moving && !self.moves() {
            self.report_at = now;
        }
    }
}

impl Role for Focuser {
    fn name(&self) -> &'static str {
        "focuser"
    }

    fn identity(&self) -> u64 {
        0x0B5E_0000_0000_F0C5
    }

    fn event(&mut self, now: Instant, event: &Event<'_>) {
        match event {
            Event::Opened(_) => (self.up, self.report_at) = (true, now),
            Event::Ended(_) => self.up = false,
            Event::Message(message) => {
                if let Some(Message::FocuserGoto { position }) = Message::from_payload(message.payload) {
                    self.advance(now);
                    (self.target, self.at, self.report_at) = (position.min(OUTER), now, now);
                }
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Instant, send: &mut Send<'_>) {
        self.now = now;
        self.advance(now);
        if self.up && is_due(self.report_at, now) {
            let _ = send(&Message::FocuserState { position: self.position, temperature: 1_125 });
            self.report_at = after(now, REPORTS[usize::from(!self.moves())]);
        }
    }

    fn poll_wake(&self) -> Option<Instant> {
        let control = self.moves().then(|| after(self.now, ms(100)));
        earlier(self.now, self.up.then_some(self.report_at), control)
    }

    fn act(&mut self, _now: Instant, _act: Act) {}

    fn restart(&mut self, now: Instant) {
        *self = Self::new(self.position, now);
    }

    fn take_told(&mut self) -> Vec<String> {
        Vec::new()
    }
}
