//! Both directions of a link between two boards: what we hear of the other one, and what it says that it hears of us.

use super::Hearing;
use crate::time::Duration;

/// How a link works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// Each hears the other.
    BothWays,
    /// We hear it; it does not hear us.
    OnlyIn,
    /// It hears us, as it told by another way; we do not hear it.
    OnlyOut,
    /// Neither is known to hear the other.
    Silent,
    /// We hear it; it has not told what it hears.
    NotTold,
}

impl Verdict {
    /// In plain words, from our side.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::BothWays => "both ways",
            Self::OnlyIn => "one way: we hear it, it does not hear us",
            Self::OnlyOut => "one way: it hears us, we do not hear it",
            Self::Silent => "silent",
            Self::NotTold => "we hear it; whether it hears us it does not tell",
        }
    }
}

/// What the other side told last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Told {
    hearing: Hearing,
    /// Milliseconds since it was told.
    ago: u32,
}

/// The books of one link, at one of its ends; 52 octets on a 32-bit board.
///
/// # Grammar
/// [`sent`](Self::sent) with each frame that leaves to the other side, resends and acknowledgements too; [`heard`](Self::heard) with each of its frames
/// that was not refused; [`told`](Self::told) with the [`Hearing`] of a report, after `heard`; [`elapse`](Self::elapse) time; [`restart`](Self::restart) with each
/// session. A report of our own begins with [`hearing`](Self::hearing).
///
/// Losses are counted from numbers, not guessed: what one side has sent less what the other has heard, from the first hearing of the session on. Numbers are 16 bits, so at most
/// 32 767 frames may lie between two hearings that get through. A frame under way, and one that a resent report was stamped before, is counted as lost until the next hearing.
/// Copies that the air makes hide as many losses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BothWays {
    sent: u16,
    heard: u16,
    /// Milliseconds since the last frame was heard; `None`: none was.
    age: Option<u32>,
    strength: Option<i16>,
    /// Microseconds that are no millisecond yet.
    rest: u16,
    told: Option<Told>,
    /// What was sent and heard by both since the first hearing: our heard, their sent, our sent, their heard.
    books: Books,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Books {
    they_sent: u32,
    we_heard: u32,
    we_sent: u32,
    they_heard: u32,
    /// Our numbers when the books were last made up.
    at: (u16, u16),
}

impl Default for BothWays {
    fn default() -> Self {
        Self::new()
    }
}

impl BothWays {
    /// Nothing sent and nothing heard.
    #[must_use]
    pub const fn new() -> Self {
        let books = Books { they_sent: 0, we_heard: 0, we_sent: 0, they_heard: 0, at: (0, 0) };
        Self { sent: 0, heard: 0, age: None, strength: None, rest: 0, told: None, books }
    }

    /// A new session: either board may have started anew, so all is forgotten.
    pub const fn restart(&mut self) {
        *self = Self::new();
    }

    /// A frame leaves.
    pub const fn sent(&mut self) {
        self.sent = self.sent.wrapping_add(1);
    }

    /// A frame of the other side came in, `strength` dBm strong if the radio tells.
    pub const fn heard(&mut self, strength: Option<i16>) {
        self.heard = self.heard.wrapping_add(1);
        (self.age, self.strength) = (Some(0), strength);
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        let micros = span.as_ticks().saturating_add(self.rest.into());
        let (millis, rest) = (micros / 1000, micros % 1000);
        self.rest = u16::try_from(rest).unwrap_or(0);
        self.age = self.age.map(|age| age.saturating_add(millis));
        if let Some(told) = &mut self.told {
            told.ago = told.ago.saturating_add(millis);
        }
    }

    /// What we hear, to be put before the report that leaves next.
    #[must_use]
    pub fn hearing(&self) -> Hearing {
        let age = self.age.map(|age| u8::try_from(age / 1000).unwrap_or(254).min(254));
        Hearing { sent: self.sent.wrapping_add(1), heard: self.heard, age, strength: self.strength }
    }

    /// The other side told what it hears. An older hearing than the last one, which a copy or a resend brings, tells nothing new and is skipped.
    pub fn told(&mut self, hearing: Hearing) {
        let Self { sent, heard, books, .. } = self;
        if let Some(Told { hearing: last, .. }) = self.told {
            let they_sent = hearing.sent.wrapping_sub(last.sent);
            if they_sent == 0 || they_sent > 0x7FFF {
                return;
            }
            let (sent_at, heard_at) = books.at;
            for (sum, more) in [
                (&mut books.they_sent, they_sent),
                (&mut books.we_heard, heard.wrapping_sub(heard_at)),
                (&mut books.we_sent, sent.wrapping_sub(sent_at)),
                (&mut books.they_heard, hearing.heard.wrapping_sub(last.heard)),
            ] {
                *sum = sum.saturating_add(more.into());
            }
        }
        books.at = (*sent, *heard);
        self.told = Some(Told { hearing, ago: 0 });
    }

    /// Frames of the other side that were lost on the way to us, since the first hearing.
    #[must_use]
    pub const fn lost_in(&self) -> u32 {
        self.books.they_sent.saturating_sub(self.books.we_heard)
    }

    /// Frames of ours that were lost on the way to the other side, since the first hearing.
    #[must_use]
    pub const fn lost_out(&self) -> u32 {
        self.books.we_sent.saturating_sub(self.books.they_heard)
    }

    /// Milliseconds since we heard the other side; `None`: never.
    #[must_use]
    pub const fn age_in(&self) -> Option<u32> {
        self.age
    }

    /// Milliseconds since the other side heard us, as far as it told, rounded down by less than a second; `None`: never, or it told nothing.
    #[must_use]
    pub fn age_out(&self) -> Option<u32> {
        let told = self.told?;
        Some(u32::from(told.hearing.age?).saturating_mul(1000).saturating_add(told.ago))
    }

    /// How strong we heard the last frame, dBm, if the radio tells.
    #[must_use]
    pub const fn strength_in(&self) -> Option<i16> {
        self.strength
    }

    /// How strong the other side heard our last frame, dBm, if its radio tells.
    #[must_use]
    pub fn strength_out(&self) -> Option<i16> {
        self.told?.hearing.strength
    }

    /// How the link works, if what is older than `limit` milliseconds counts as not heard: take a few times the longest pause between two reports.
    #[must_use]
    pub fn verdict(&self, limit: u32) -> Verdict {
        let fresh = |age: Option<u32>| age.is_some_and(|age| age <= limit);
        match (fresh(self.age_in()), fresh(self.age_out())) {
            (true, true) => Verdict::BothWays,
            (true, false) if self.told.is_none() => Verdict::NotTold,
            (true, false) => Verdict::OnlyIn,
            (false, true) => Verdict::OnlyOut,
            (false, false) => Verdict::Silent,
        }
    }
}

#[cfg(test)]
mod tests;
