//! One thing that happened on the wire, as plain data.

use super::{Aired, Sum};
use crate::{
    beyond::Beyond,
    endpoint::{self, Direction, Gap},
};
use bellwire::frame::{Class, Header, Reject, ResetCause};
use std::borrow::Cow;

/// When and where something was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stamp {
    /// Nanoseconds since the Unix epoch; `None` where the input has no times.
    pub at: Option<u64>,
    /// Index of the port.
    pub port: u16,
    /// Which way it went.
    pub direction: Direction,
    /// Octets of this port and direction before it.
    pub place: u64,
}

/// One thing that happened. What is borrowed can be made owned with [`Record::into_owned`].
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Record<'a> {
    /// A checked frame.
    Frame(Frame<'a>),
    /// Octets that were refused.
    Reject(Refusal<'a>),
    /// Foreign text between frames.
    Text(Text<'a>),
    /// Something that the frames together tell.
    Event(Event),
    /// A time in which a port could not be heard.
    Gap(Gap),
    /// A remark of the tool.
    Note(Note),
    /// Counts over all that was seen.
    Sum(Box<Sum>),
}

/// A checked frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame<'a> {
    /// When and where.
    pub stamp: Stamp,
    /// Octets on the wire, delimiters included.
    pub wire: u32,
    /// Its head.
    pub header: Header,
    /// The payload, message number first, or the body of an OPEN or EXTENDED frame.
    pub payload: Cow<'a, [u8]>,
    /// Which sending of this sequence number it is, as far as seen: 1 the first, 2 the first repeat.
    pub sending: u8,
    /// Fingerprint of the agreement that its sender last stated in an OPEN; 0 if it stated none or no OPEN was seen.
    pub agreement: u32,
    /// What a radio board told of it.
    pub aired: Option<Aired>,
}

/// Octets that were refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal<'a> {
    /// When and where.
    pub stamp: Stamp,
    /// Octets on the wire, delimiters included.
    pub wire: u32,
    /// The rule that was broken.
    pub reject: Reject,
    /// What is left of the octets: unstuffed as far as that went.
    pub octets: Cow<'a, [u8]>,
    /// What a radio board told of it.
    pub aired: Option<Aired>,
}

/// Foreign text, exactly as it came: escape it before it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text<'a> {
    /// When and where.
    pub stamp: Stamp,
    /// The octets.
    pub octets: Cow<'a, [u8]>,
    /// What the text looks like.
    pub hint: Option<Hint>,
}

/// What foreign text looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hint {
    /// A login prompt: another program serves this line.
    Login,
    /// The prompt of an interpreter or a shell.
    Prompt,
    /// A panic or traceback message of a program.
    Crash,
}

/// Something that the frames together tell, or that a command tells of its own link.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// When and where: the frame that showed it. The direction is that of the frames the event is about: a confirmation is told in
    /// the direction of what it confirms.
    pub stamp: Stamp,
    /// The leaf whose conversation with the hub it is about, on a medium that others share; 255: what goes to all.
    pub leaf: Option<u8>,
    /// What it is.
    pub what: What,
}

/// What an [`Event`] tells.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum What {
    /// Both sides have opened a session.
    Opened {
        /// Session number, 18 bits (W-23).
        session: u32,
        /// Window that both take.
        window: u8,
        /// Largest payload that both take, octets.
        max_payload: u16,
        /// Identity of the board whose frames go [`Direction::In`]; 0: none.
        identity_in: u64,
        /// Identity of the board whose frames go [`Direction::Out`]; 0: none.
        identity_out: u64,
    },
    /// The sender of this direction opens with a new own number: it restarted.
    Restarted {
        /// Why it last started, as it says.
        cause: ResetCause,
    },
    /// The sender of this direction ended the session: its own number went up by one.
    Ended,
    /// The two sides state different agreements or wire versions; nothing is delivered.
    Differs {
        /// Fingerprint of the side whose frames go [`Direction::In`].
        fingerprint_in: u32,
        /// Fingerprint of the other side.
        fingerprint_out: u32,
        /// Wire version of the side whose frames go [`Direction::In`].
        version_in: u8,
        /// Wire version of the other side.
        version_out: u8,
    },
    /// Frames carry the bits of another session, but no opening was seen.
    SessionUnseen {
        /// The session bits now in use.
        session: u8,
    },
    /// A frame of another session than the one that was opened: the receiver drops it (W-32).
    OtherSession {
        /// Session bits of the frame.
        session: u8,
    },
    /// The receiver confirmed it: as far as the wire shows, it was delivered.
    Delivered {
        /// Class of the message.
        class: Class,
        /// Sequence number.
        number: u8,
        /// Message number, if the message was seen.
        message: Option<u16>,
        /// Sendings seen; 0 if none was seen.
        sendings: u8,
        /// From its first sending to its confirmation, ns, where the input has times.
        after: Option<u64>,
    },
    /// Sequence numbers are missing: so many frames of this class were lost on the way to us.
    Missing {
        /// Class whose numbers are missing; errands and reports share their numbers and are told as [`Class::Errand`].
        class: Class,
        /// First missing sequence number.
        first: u8,
        /// How many are missing.
        count: u8,
    },
    /// The sender gave an errand or report up after its last try: its outcome is unknown (W-37).
    GivenUp {
        /// Sequence number.
        number: u8,
        /// Message number, if the message was seen.
        message: Option<u16>,
    },
    /// A probe was answered.
    ProbeAnswered {
        /// Its id.
        id: u16,
        /// From the probe to its answer, ns, where the input has times.
        after: Option<u64>,
    },
    /// Nothing came this way for longer than the sender promised in its OPEN.
    Silent {
        /// How long, ns.
        lasted: u64,
    },
    /// Something that a command tells of a link of its own, for instance `outcome`.
    Own {
        /// One word, stable, lower case with hyphens: the `event` of the JSON form.
        word: &'static str,
        /// The sentence shown.
        text: String,
    },
}

/// A remark of the tool.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Nanoseconds since the Unix epoch, if known.
    pub at: Option<u64>,
    /// The port it is about, if it is about one.
    pub port: Option<u16>,
    /// The remark.
    pub text: String,
}

impl From<endpoint::Note> for Note {
    fn from(note: endpoint::Note) -> Self {
        Self { at: Some(note.at), port: Some(note.port), text: note.text }
    }
}

impl Refusal<'_> {
    /// What it says, if it is no refusal for the tool: a frame of the extensions beyond two boards, which a link skips (W-19).
    #[must_use]
    pub fn beyond(&self) -> Option<Beyond<'_>> {
        skipped(self.reject, &self.octets)
    }
}

/// A skipped frame of the extensions beyond two boards.
pub(super) fn skipped(reject: Reject, octets: &[u8]) -> Option<Beyond<'_>> {
    if reject == Reject::UnknownExtension { Beyond::read(octets) } else { None }
}

impl Record<'_> {
    /// The same record without borrowed parts.
    #[must_use]
    pub fn into_owned(self) -> Record<'static> {
        match self {
            Record::Frame(frame) => {
                Record::Frame(Frame { payload: Cow::Owned(frame.payload.into_owned()), ..frame })
            }
            Record::Reject(refusal) => {
                Record::Reject(Refusal { octets: Cow::Owned(refusal.octets.into_owned()), ..refusal })
            }
            Record::Text(text) => Record::Text(Text { octets: Cow::Owned(text.octets.into_owned()), ..text }),
            Record::Event(event) => Record::Event(event),
            Record::Gap(gap) => Record::Gap(gap),
            Record::Note(note) => Record::Note(note),
            Record::Sum(sum) => Record::Sum(sum),
        }
    }

    /// When it happened, if known.
    #[must_use]
    pub fn at(&self) -> Option<u64> {
        match self {
            Record::Gap(gap) => Some(gap.to.unwrap_or(gap.from)),
            Record::Note(note) => note.at,
            Record::Sum(_) => None,
            _ => self.stamp().and_then(|stamp| stamp.at),
        }
    }

    /// When and where, for records that come from octets.
    #[must_use]
    pub fn stamp(&self) -> Option<&Stamp> {
        match self {
            Record::Frame(frame) => Some(&frame.stamp),
            Record::Reject(refusal) => Some(&refusal.stamp),
            Record::Text(text) => Some(&text.stamp),
            Record::Event(event) => Some(&event.stamp),
            Record::Gap(_) | Record::Note(_) | Record::Sum(_) => None,
        }
    }

    /// The value of the field `record` in the JSON form.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Record::Frame(_) => "frame",
            Record::Reject(refusal) if refusal.beyond().is_some() => "frame",
            Record::Reject(_) => "reject",
            Record::Text(_) => "text",
            Record::Event(_) => "event",
            Record::Gap(_) => "gap",
            Record::Note(_) => "note",
            Record::Sum(_) => "sum",
        }
    }
}
