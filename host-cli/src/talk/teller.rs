//! What a link of ours tells, as records.
//!
//! The `event` words of the JSON form that only a link of our own has, all stable: `quiet`, `resumed`, `ended`, `refused` (a frame; the text
//! names the rule), `end` (of the endpoint), and of `inject` `sent`, `resent`, `delivered`, `not-sent`, `unknown`, `stop` (the stop value
//! after a stream of set-points) and `sum`.

use std::{borrow::Cow, sync::Arc};

use bellwire::{
    frame::{Header, ResetCause},
    link::{EndReason, Outcome, Peer, Terms},
};

use super::{Happening, Received};
use crate::{
    clock,
    endpoint::Direction,
    exit::Exit,
    fail::Fail,
    messages::Table,
    report::{self, Event, Frame, Look, Names, Note, Record, Render, Stamp, Start, Text, What},
    shell::Shell,
};

/// Prints what a link of ours tells, as lines of text or JSON.
pub struct Teller {
    render: Box<dyn Render>,
    identity: u64,
}

impl Teller {
    /// A teller; `identity` is ours.
    #[must_use]
    pub fn new(format: report::Format, table: &Arc<Table>, identity: u64) -> Self {
        let start = Arc::new(Start::default());
        let _ = start.get(clock::now());
        let render = report::renderer(format, Look::default(), Arc::clone(table), Names::default(), start);
        Self { render, identity }
    }

    /// Prints a happening.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn happening(&self, happening: &Happening, shell: &mut Shell<'_>) -> Result<(), Fail> {
        match record(happening, self.identity) {
            Some(record) => self.record(&record, shell),
            None => Ok(()),
        }
    }

    /// Prints something of our own: one stable `word` and a sentence.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn own(&self, word: &'static str, text: String, shell: &mut Shell<'_>) -> Result<(), Fail> {
        self.record(
            &Record::Event(Event {
                stamp: stamp(Direction::Out),
                leaf: None,
                what: What::Own { word, text },
            }),
            shell,
        )
    }

    /// Prints a sum of what was heard: one stable `word` and a sentence.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn heard(&self, word: &'static str, text: String, shell: &mut Shell<'_>) -> Result<(), Fail> {
        self.record(&event(What::Own { word, text }), shell)
    }

    fn record(&self, record: &Record<'_>, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let mut line = Vec::new();
        self.render.record(record, &mut line);
        shell.out.write_all(&line).and_then(|()| shell.out.flush()).map_err(|e| Fail::output(&e))
    }
}

fn stamp(direction: Direction) -> Stamp {
    Stamp { at: Some(clock::now()), port: 0, direction, place: 0 }
}

/// The record for a happening; outcomes and resends are told by who knows what the ticket stands for.
fn record(happening: &Happening, ours: u64) -> Option<Record<'_>> {
    let own = |word, text: String| Some(event(What::Own { word, text }));
    match happening {
        Happening::Opened(peer) => Some(event(opened(peer, ours))),
        Happening::Quiet => own("quiet", "link quiet: the peer has sent nothing for a while".into()),
        Happening::Resumed => own("resumed", "link up: the peer is heard again".into()),
        Happening::Ended(reason) => own("ended", format!("link down: {}", why_ended(*reason))),
        Happening::Mismatch { ours, theirs } => Some(event(What::Differs {
            fingerprint_in: theirs.fingerprint,
            fingerprint_out: ours.fingerprint,
            version_in: theirs.version,
            version_out: ours.version,
        })),
        Happening::Message(message) => Some(Record::Frame(received(message))),
        Happening::Text(text) => {
            Some(Record::Text(Text { stamp: stamp(Direction::In), octets: Cow::Borrowed(text), hint: None }))
        }
        Happening::Refused(reject) => own("refused", reject.to_string()),
        Happening::ProbeAnswer { id, round_trip } => {
            Some(event(What::ProbeAnswered { id: *id, after: Some(u64::from(round_trip.as_ticks()) * 1000) }))
        }
        Happening::Gap(gap) => Some(Record::Gap(gap.clone())),
        Happening::Note(text) => {
            Some(Record::Note(Note { at: Some(clock::now()), port: None, text: text.clone() }))
        }
        Happening::End => own("end", "the endpoint has come to its end".into()),
        Happening::Outcome { .. } | Happening::Resent { .. } => None,
    }
}

fn event(what: What) -> Record<'static> {
    Record::Event(Event { stamp: stamp(Direction::In), leaf: None, what })
}

fn opened(peer: &Peer, ours: u64) -> What {
    What::Opened {
        session: peer.session,
        window: peer.window,
        max_payload: peer.max_payload,
        identity_in: peer.identity,
        identity_out: ours,
    }
}

fn received(message: &Received) -> Frame<'_> {
    let header = Header { number: message.number, ..Header::new(message.class.kind()) };
    Frame {
        stamp: stamp(Direction::In),
        wire: 0,
        header,
        payload: Cow::Borrowed(&message.payload),
        sending: 1,
        // A session opens only where both sides hold the same, or one of them none.
        agreement: 0,
        aired: None,
    }
}

/// Why a session ended, in plain words.
#[must_use]
pub fn why_ended(reason: EndReason) -> String {
    match reason {
        EndReason::PeerRestarted(ResetCause::Unknown) => "the peer restarted or ended the session".into(),
        EndReason::PeerRestarted(cause) => {
            format!("the peer restarted or ended the session; why it last started: {}", cause.reason())
        }
        EndReason::Silence => "nothing valid was heard for longer than the peer promised".into(),
        EndReason::Mismatch => "wire version or agreement differ".into(),
        EndReason::Closed => "closed by this side".into(),
    }
}

/// What became of a message: a stable word and a plain reason.
#[must_use]
pub fn what_became(outcome: Outcome) -> (&'static str, String) {
    match outcome {
        Outcome::Delivered => ("delivered", "the receiving program has it".into()),
        Outcome::NotSent(reason) => {
            ("not-sent", format!("certain that it never left: {}", why_ended(reason)))
        }
        Outcome::Unknown => ("unknown", "no confirmation came: it may have arrived or not".into()),
    }
}

/// No session opens: the sides do not hold the same.
#[must_use]
pub fn mismatched(ours: &Terms, theirs: &Terms, table: &Table) -> Fail {
    let side = |whose: &str, terms: &Terms| {
        format!("{whose} {}, wire version {}", table.called(terms.fingerprint), terms.version)
    };
    Fail::new(Exit::Mismatch, "the peer holds another agreement or wire version; nothing was sent")
        .fault(side("ours", ours))
        .fault(side("theirs", theirs))
        .next("load the same agreement on both sides; --agreement and --fingerprint say ours")
        .next("bellwire compare tells what two agreements have in common")
}
