//! The boards in the field, which run on a battery: they speak first, listen for a moment, and sleep.

use super::{Act, Role, Send, is_due, ms};
use crate::observatory::Message;
use bellwire::{
    link::Event,
    time::{Duration, Instant, after, elapsed},
};

/// How long it listens after each of its frames, and after each that it hears (W-61).
const AWAKE: Duration = ms(400);

/// Which of the two it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Wind, rain, sky and light.
    Mast {
        /// Whether it rains.
        rain: bool,
    },
    /// A lamp.
    Porch {
        /// %.
        level: u8,
    },
}

/// The mast or the porch.
#[derive(Debug, Clone)]
pub struct Sleeper {
    kind: Kind,
    period: Duration,
    up: bool,
    report_at: Instant,
    awake_until: Instant,
    reports: u32,
    told: Vec<String>,
    now: Instant,
}

impl Sleeper {
    /// The mast: it tells the weather every four seconds. (A real one would sleep for minutes.)
    #[must_use]
    pub const fn mast(now: Instant) -> Self {
        Self::new(Kind::Mast { rain: false }, ms(4_000), now)
    }

    /// The porch: it asks for news every three seconds.
    #[must_use]
    pub const fn porch(now: Instant) -> Self {
        Self::new(Kind::Porch { level: 0 }, ms(3_000), now)
    }

    const fn new(kind: Kind, period: Duration, now: Instant) -> Self {
        let told = Vec::new();
        Self { kind, period, up: false, report_at: now, awake_until: now, reports: 0, told, now }
    }

    fn report(&mut self) -> Message {
        self.reports += 1;
        match self.kind {
            // Made up, and the same in every run: a breeze that comes and goes under a clear sky.
            Kind::Mast { rain } => {
                let gust = [0_u16, 6, 13, 9, 4][usize::try_from(self.reports % 5).unwrap_or(0)];
                Message::Weather { wind: 31 + gust, rain, sky: if rain { 350 } else { -1_850 }, light: 2 }
            }
            Kind::Porch { level } => Message::LogLine { text: format!("lamp {level} %") },
        }
    }
}

impl Role for Sleeper {
    fn name(&self) -> &'static str {
        match self.kind {
            Kind::Mast { .. } => "mast",
            Kind::Porch { .. } => "porch",
        }
    }

    fn identity(&self) -> u64 {
        match self.kind {
            Kind::Mast { .. } => 0x0B5E_0000_0000_3A57,
            Kind::Porch { .. } => 0x0B5E_0000_0000_90C4,
        }
    }

    fn event(&mut self, now: Instant, event: &Event<'_>) {
        self.awake_until = after(now, AWAKE);
        match event {
            Event::Opened(_) => (self.up, self.report_at) = (true, now),
            Event::Ended(_) => self.up = false,
            Event::Message(message) => {
                if let (Kind::Porch { level }, Some(Message::Lamp { level: wanted })) =
                    (&mut self.kind, Message::from_payload(message.payload))
                {
                    *level = wanted.min(100);
                    self.told.push(format!("the lamp is at {level} %"));
                }
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Instant, send: &mut Send<'_>) {
        self.now = now;
        if self.up && is_due(self.report_at, now) {
            let report = self.report();
            let _ = send(&report);
            self.report_at = after(now, self.period);
            self.awake_until = after(now, AWAKE);
        }
    }

    fn poll_wake(&self) -> Option<Instant> {
        self.up.then_some(self.report_at)
    }

    /// It sleeps only with a session open: until then it asks.
    fn sleeps_until(&self, now: Instant) -> Option<Instant> {
        let sleeps = self.up && elapsed(now, self.awake_until).as_ticks() > 0 && !is_due(self.report_at, now);
        sleeps.then_some(self.report_at)
    }

    fn act(&mut self, _now: Instant, act: Act) {
        if let Kind::Mast { rain } = &mut self.kind {
            match act {
                Act::Rain => *rain = true,
                Act::Dry => *rain = false,
                _ => {}
            }
        }
    }

    fn restart(&mut self, now: Instant) {
        *self = Self { ..Self::new(self.kind, self.period, now) };
    }

    fn take_told(&mut self) -> Vec<String> {
        core::mem::take(&mut self.told)
    }
}
