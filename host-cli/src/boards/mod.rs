//! What the observatory's boards do, as plain code: no link, no clock, no line of its own.
//!
//! A [`Role`] is told what the link tells and sends through whatever it is handed, so that the same code runs over a
//! [`bellwire::link::Link`] in the simulated network and over a [`bellwire::port::Port`] on a real line.

mod act;
mod axis;
mod desk;
mod dome;
mod focuser;
mod line_to;
mod shutter;
mod sleeper;
#[cfg(test)]
mod tests;

pub use act::Act;
pub use axis::Axis;
pub use desk::Desk;
pub use dome::Dome;
pub use focuser::Focuser;
pub use line_to::LineTo;
pub use shutter::Shutter;
pub use sleeper::Sleeper;

use crate::observatory::Message;
use bellwire::{
    link::{Event, SendError, Ticket},
    time::{Duration, Instant, elapsed},
};

/// How a role sends a message: the `send` of a link or port.
pub type Send<'a> = dyn FnMut(&Message) -> Result<Ticket, SendError> + 'a;

/// What a board does.
pub trait Role {
    /// The board's name.
    fn name(&self) -> &'static str;

    /// Its long name on the wire.
    fn identity(&self) -> u64;

    /// The link told something.
    fn event(&mut self, now: Instant, event: &Event<'_>);

    /// Does what is due, and sends.
    fn work(&mut self, now: Instant, send: &mut Send<'_>);

    /// When [`Role::work`] is next due.
    fn poll_wake(&self) -> Option<Instant>;

    /// When the board wakes, if it sleeps now: until then it hears nothing and says nothing.
    fn sleeps_until(&self, _now: Instant) -> Option<Instant> {
        None
    }

    /// A person or the world acts on the board.
    fn act(&mut self, now: Instant, act: Act);

    /// The board starts anew: its memory is empty, its mechanics are where they were.
    fn restart(&mut self, now: Instant);

    /// What the board tells the person beside it, since the last call.
    fn take_told(&mut self) -> Vec<String>;
}

/// Whether `at` has come.
fn is_due(at: Instant, now: Instant) -> bool {
    at == now || elapsed(now, at).as_ticks() > 0
}

/// The earlier of two instants of which each may be missing.
fn earlier(now: Instant, one: Option<Instant>, other: Option<Instant>) -> Option<Instant> {
    match (one, other) {
        (Some(one), Some(other)) => {
            Some(if elapsed(one, now).as_ticks() <= elapsed(other, now).as_ticks() { one } else { other })
        }
        (one, other) => one.or(other),
    }
}

/// Milliseconds.
const fn ms(millis: u32) -> Duration {
    Duration::from_ticks(millis * 1_000)
}
