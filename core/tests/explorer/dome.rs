//! The dome's motor behind its dead-man, and what must be true while it runs.

use bellwire::{
    link::Event,
    setpoint::{DeadMan, Stop},
    time::{Duration, Instant},
};

use super::{
    books::{Pair, SET_POINT},
    breach::{Checked, Property, must},
};

/// How long a set-point drives, µs.
pub const LIMIT: u32 = 130_000;

/// The newest set-point, as kept beside the dead-man.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct News {
    value: u8,
    session: Pair,
    /// Since its first octets came, µs.
    age: u32,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Dome {
    pub dead_man: DeadMan<u8>,
    news: Option<News>,
    /// An operator has re-armed it since the last reason to stop.
    armed: bool,
}

impl Dome {
    pub fn new() -> Self {
        let dead_man = DeadMan::new(0, Duration::from_ticks(LIMIT), Stop::Brake);
        Self { dead_man, news: None, armed: false }
    }

    /// Takes what the link tells. `age` is how long ago the first octets of a message came.
    pub fn hear(&mut self, event: &Event<'_>, stamp: Instant, age: u32, session: Option<Pair>, deaf: bool) {
        if !deaf {
            self.dead_man.handle_event(event);
        }
        match (event, session) {
            (Event::Ended(_), _) => {
                self.news = None;
                self.armed = false;
            }
            (Event::Message(message), Some(session)) => {
                if let [SET_POINT, .., value] = *message.payload {
                    self.dead_man.handle_set_point(value, stamp);
                    self.news = (age < LIMIT).then_some(News { value, session, age });
                    self.armed &= age < LIMIT;
                }
            }
            _ => {}
        }
    }

    /// Time passes.
    pub fn elapse(&mut self, span: u32) {
        if let Some(news) = &mut self.news {
            news.age = news.age.saturating_add(span);
            if news.age >= LIMIT {
                self.news = None;
                self.armed = false;
            }
        }
    }

    /// Whether an operator's act would set it going.
    pub fn can_rearm(&self, now: Instant) -> bool {
        self.dead_man.motion().reason().is_some() && self.dead_man.clone().rearm(now).is_ok()
    }

    pub fn rearm(&mut self, now: Instant) -> Checked {
        let done = self.dead_man.rearm(now).is_ok();
        self.armed = done;
        let let_go = self.news.is_some_and(|news| news.value == 0);
        must(!done || let_go, Property::DeadMan, || {
            "it was re-armed without a fresh set-point at rest".into()
        })
    }

    /// While it moves: re-armed, and on a fresh set-point of the session that is open.
    pub fn check(&mut self, now: Instant, session: Option<Pair>) -> Checked {
        let value = self.dead_man.output(now);
        if value == 0 {
            return Ok(());
        }
        must(self.armed, Property::DeadMan, || {
            "it moves, and nobody has re-armed it since it stopped".into()
        })?;
        let of_session = self.news.filter(|news| session == Some(news.session));
        must(of_session.is_some_and(|news| news.value == value), Property::DeadMan, || {
            "it moves on a set-point that is not fresh".into()
        })
    }
}
