//! One leaf, as far as it was heard.

use bellwire::{
    frame::{Class, Extension, Kind, Open},
    radio::{BothWays, Hearing, Verdict},
    time::{Duration, LONGEST},
};

use crate::report::Frame;

/// The spaces of sequence numbers: errands and reports together, set-points, notices.
const SPACES: usize = 3;

/// What is known of a leaf.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Row {
    /// Whether it was asked for a sign of life.
    pub is_asked: bool,
    /// The identities that were seen under this address, the last one last; more than one: two boards, or one replaced by another.
    pub identities: Vec<u64>,
    /// The session that runs, if its opening was seen, 18 bits.
    pub session: Option<u32>,
    /// Frames that were heard from it.
    pub frames: u64,
    /// When the last of them was heard, ns since the Unix epoch, where the input has times.
    pub last: Option<u64>,
    /// Sequence numbers that it skipped.
    skipped: u64,
    /// Whether it has answered or confirmed something: it hears the hub.
    pub answers: bool,
    both: BothWays,
    elapsed_to: Option<u64>,
    numbers: [Option<u8>; SPACES],
}

/// How the link with a leaf works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// Both hear each other.
    BothWays,
    /// It is heard; nothing tells whether it hears the hub.
    Heard,
    /// It is heard, and does not hear the hub.
    OnlyFromIt,
    /// It hears the hub, and was not heard lately.
    OnlyToIt,
    /// It was heard, too long ago.
    Silent,
    /// It was never heard.
    Never,
}

impl How {
    /// One word, stable: for machines.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::BothWays => "both-ways",
            Self::Heard => "heard",
            Self::OnlyFromIt => "one-way-in",
            Self::OnlyToIt => "one-way-out",
            Self::Silent => "silent",
            Self::Never => "never",
        }
    }

    /// What it means, for people. What asks for attention is in capitals.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::BothWays => "both ways",
            Self::Heard => "heard",
            Self::OnlyFromIt => "ONE WAY: it does not hear the hub",
            Self::OnlyToIt => "ONE WAY: it hears the hub and is not heard",
            Self::Silent => "SILENT",
            Self::Never => "NEVER HEARD",
        }
    }
}

impl Row {
    /// A frame of the leaf.
    pub(super) fn heard(&mut self, at: Option<u64>, strength: Option<i16>) {
        self.elapse(at);
        self.frames += 1;
        self.last = self.last.max(at);
        self.both.heard(strength);
    }

    /// A frame of the hub to the leaf. Probes and the like are no part of a session, so that no hearing counts them.
    pub(super) fn addressed(&mut self, at: Option<u64>, is_extended: bool) {
        self.elapse(at);
        if !is_extended {
            self.both.sent();
        }
    }

    /// It says who it is; 0: it does not.
    pub(super) fn is(&mut self, identity: u64) {
        if identity != 0 && self.identities.last() != Some(&identity) {
            self.identities.retain(|known| *known != identity);
            self.identities.push(identity);
        }
    }

    /// A session opened.
    pub(super) fn opened(&mut self, session: u32, identity: u64) {
        self.is(identity);
        self.session = Some(session);
        self.answers = true;
        self.numbers = [None; SPACES];
        // All counting starts anew; that it was heard just now stays.
        let strength = self.both.strength_in();
        self.both.restart();
        if self.last.is_some() {
            self.both.heard(strength);
        }
    }

    /// What a frame of the leaf says.
    pub(super) fn frame(&mut self, frame: &Frame<'_>) {
        let header = &frame.header;
        self.answers |= header.ack.is_some() || header.extension == Some(Extension::ProbeAnswer);
        if header.kind == Kind::Open
            && let Ok(open) = Open::parse(&frame.payload)
        {
            self.is(open.identity);
            self.answers |= open.echo.is_some();
        }
        let Some(class) = header.kind.class() else { return };
        if matches!(class, Class::Report | Class::Notice)
            && let Ok((Some(hearing), _)) = Hearing::split(&frame.payload)
        {
            self.both.told(hearing);
        }
        let space = match class {
            Class::Errand | Class::Report => 0,
            Class::SetPoint => 1,
            Class::Notice => 2,
        };
        let Some(next) = &mut self.numbers[space] else {
            self.numbers[space] = Some(header.number.wrapping_add(1));
            return;
        };
        let skipped = header.number.wrapping_sub(*next);
        // Half of the numbers and more lie behind: a copy, or one sent again.
        if skipped < 128 {
            self.skipped += u64::from(skipped);
            *next = header.number.wrapping_add(1);
        }
    }

    /// Time passes.
    pub(super) fn until(&mut self, now: u64) {
        self.elapse(Some(now));
    }

    fn elapse(&mut self, at: Option<u64>) {
        let Some(at) = at else { return };
        let before = *self.elapsed_to.get_or_insert(at);
        let mut micros = at.saturating_sub(before) / 1000;
        self.elapsed_to = Some(before + micros * 1000);
        while micros > 0 {
            let span = micros.min(LONGEST.as_ticks().into());
            self.both.elapse(Duration::from_ticks(u32::try_from(span).unwrap_or(u32::MAX)));
            micros -= span;
        }
    }

    /// Frames of the leaf that were lost on the way here: numbers that it skipped, or more, where its hearings tell how many frames it sent.
    #[must_use]
    pub fn lost_in(&self) -> u64 {
        self.skipped.max(self.both.lost_in().into())
    }

    /// How strong the leaf was heard last, dBm, if the radio tells.
    #[must_use]
    pub const fn strength_in(&self) -> Option<i16> {
        self.both.strength_in()
    }

    /// How strong the leaf heard the hub last, dBm, if it tells.
    #[must_use]
    pub fn strength_out(&self) -> Option<i16> {
        self.both.strength_out()
    }

    /// Frames of the hub that the leaf did not hear, as its hearings tell; `None` if it tells none.
    #[must_use]
    pub fn lost_out(&self) -> Option<u32> {
        self.both.age_out().map(|_| self.both.lost_out())
    }

    /// How the link works, if what is older than `limit` milliseconds counts as not heard.
    #[must_use]
    pub fn how(&self, limit: u32) -> How {
        // Input without times tells no age: what was heard was heard now.
        match self.both.verdict(limit) {
            _ if self.frames == 0 => How::Never,
            Verdict::BothWays => How::BothWays,
            Verdict::NotTold if self.answers => How::BothWays,
            Verdict::NotTold => How::Heard,
            Verdict::OnlyIn => How::OnlyFromIt,
            Verdict::OnlyOut => How::OnlyToIt,
            Verdict::Silent => How::Silent,
        }
    }
}
