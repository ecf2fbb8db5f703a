//! The verbs of a port for messages as Rust types.

use serde::Serialize;

use super::Port;
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    io::Line,
    link::{SendError, Ticket},
    time::Instant,
    typed::{self, WriteError},
};

/// Why a typed message was not accepted. It was not sent, for certain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PostError {
    /// It did not become a payload.
    Write(WriteError),
    /// The link did not accept it.
    Send(SendError),
}

impl core::fmt::Display for PostError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Write(error) => write!(f, "not sent: {error}"),
            Self::Send(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for PostError {}

impl From<WriteError> for PostError {
    fn from(error: WriteError) -> Self {
        Self::Write(error)
    }
}

impl From<SendError> for PostError {
    fn from(error: SendError) -> Self {
        Self::Send(error)
    }
}

/// Verbs for messages as Rust types, see [`typed`].
impl<L: Line, F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Port<L, F, C, FRAME, WINDOW, QUEUE>
{
    /// Sets a named value at the other board: a set-point. The newest wins; it is never repeated by itself, so call this again and again, several times
    /// in each freshness limit.
    ///
    /// # Errors
    /// [`PostError`]; [`SendError::NotOpen`] while the link is down is ordinary at the start.
    pub fn set<M: Serialize>(&mut self, now: Instant, message: &M) -> Result<Ticket, PostError> {
        self.post(now, Class::SetPoint, message)
    }

    /// Asks for something to be done: confirmed, in order, exactly once within a session.
    ///
    /// # Errors
    /// [`PostError`].
    pub fn errand<M: Serialize>(&mut self, now: Instant, message: &M) -> Result<Ticket, PostError> {
        self.post(now, Class::Errand, message)
    }

    /// Reports something: confirmed, order not kept.
    ///
    /// # Errors
    /// [`PostError`].
    pub fn report<M: Serialize>(&mut self, now: Instant, message: &M) -> Result<Ticket, PostError> {
        self.post(now, Class::Report, message)
    }

    /// Mentions something: unconfirmed.
    ///
    /// # Errors
    /// [`PostError`].
    pub fn notice<M: Serialize>(&mut self, now: Instant, message: &M) -> Result<Ticket, PostError> {
        self.post(now, Class::Notice, message)
    }

    fn post<M: Serialize>(&mut self, now: Instant, class: Class, message: &M) -> Result<Ticket, PostError> {
        let mut buffer = [0; FRAME];
        let payload = typed::write(message, &mut buffer)?;
        Ok(self.link.send(now, class, payload)?)
    }
}
