//! One message, or many, as a proper peer: open a session, send, wait for the outcome.

use std::{
    collections::BTreeMap,
    sync::Arc,
    time::{Duration, Instant},
};

use bellwire::link::{Outcome, Ticket};

use super::message::Message;
use crate::{
    args::{agreed::AgreedArgs, inject::InjectArgs},
    endpoint::Loss,
    exit::Exit,
    fail::Fail,
    lines,
    messages::Table,
    report,
    shell::Shell,
    talk::{Happening, Talk, Teller, mismatched, what_became, wiring_of},
};

/// Time for an unconfirmed message to leave.
const LEAVE: Duration = Duration::from_millis(50);

/// What became of all messages.
#[derive(Debug, Default)]
struct Books {
    sent: u64,
    delivered: u64,
    unknown: u64,
    not_sent: u64,
}

/// A message under way.
struct UnderWay {
    since: Instant,
    sendings: u8,
}

struct Session<'a> {
    args: &'a InjectArgs,
    message: &'a Message,
    talk: Talk,
    teller: Teller,
    table: Arc<Table>,
    under_way: BTreeMap<Ticket, UnderWay>,
    books: Books,
}

/// Sends the message as a proper peer.
///
/// # Errors
/// If the endpoint cannot be opened, nobody answers, or the peer holds another agreement.
pub(super) fn send(
    args: &InjectArgs,
    message: &Message,
    table: &Arc<Table>,
    shell: &mut Shell<'_>,
) -> Result<Exit, Fail> {
    let mut ourselves = args.agreed.ourselves(&args.ourselves, table);
    ourselves.between = AgreedArgs::with_leaf(args.to.as_deref(), table)?;
    let talk = Talk::open(&args.endpoint, &args.line, &ourselves, Loss::End)?;
    let format = if args.json { report::Format::Json } else { report::Format::Text };
    let teller = Teller::new(format, table, talk.identity());
    let table = Arc::clone(table);
    let mut session =
        Session { args, message, talk, teller, table, under_way: BTreeMap::new(), books: Books::default() };
    session.open(shell)?;
    match args.every {
        None => session.send(&message.payload, shell)?,
        Some(every) => session.repeat(every, shell)?,
    }
    session.finish(shell)
}

impl Session<'_> {
    fn open(&mut self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let until = Instant::now() + self.args.wait;
        while Instant::now() < until && !shell.stop.is_set() {
            let happening = self.talk.next(until.saturating_duration_since(Instant::now()).min(LEAVE))?;
            match &happening {
                Some(Happening::Opened(_)) => return self.told(happening, shell),
                Some(Happening::Mismatch { ours, theirs }) => {
                    return Err(mismatched(ours, theirs, &self.table));
                }
                Some(Happening::End) => break,
                _ => self.told(happening, shell)?,
            }
        }
        Err(Fail::new(Exit::Unavailable, format!("not sent: nobody answered within {:?}", self.args.wait))
            .at(self.args.endpoint.to_string())
            .next(self.look()))
    }

    /// What to look at if nobody answers.
    fn look(&self) -> String {
        let endpoint = &self.args.endpoint;
        match &self.args.to {
            None if wiring_of(endpoint, &self.args.line).framing.is_unordered() => {
                format!(
                    "a leaf of a star answers only if it is named: --to; `bellwire check {endpoint}` shows who is heard"
                )
            }
            None => format!("run `bellwire check {endpoint}` to see which way the line works"),
            Some(to) => {
                let framing = wiring_of(endpoint, &self.args.line).framing;
                format!(
                    "run `bellwire roster {endpoint} --framing {framing} --ask {to}` to see whether it hears us; without --to if only one board hangs on this line"
                )
            }
        }
    }

    fn send(&mut self, payload: &[u8], shell: &mut Shell<'_>) -> Result<(), Fail> {
        self.books.sent += 1;
        match self.talk.send(self.message.class, payload) {
            Ok(ticket) if self.message.class.is_confirmed() => {
                self.under_way.insert(ticket, UnderWay { since: Instant::now(), sendings: 1 });
            }
            Ok(_) if self.books.sent == 1 => {
                self.teller.own(
                    "sent",
                    format!("{}; this class has no outcome", self.message.name),
                    shell,
                )?;
            }
            Ok(_) => {}
            Err(error) => {
                self.books.not_sent += 1;
                self.teller.own("not-sent", format!("{}: {error}", self.message.name), shell)?;
            }
        }
        self.talk.flush()
    }

    fn repeat(&mut self, every: Duration, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let start = Instant::now();
        let mut number = 0_u32;
        loop {
            let due = every.saturating_mul(number);
            if shell.stop.is_set() || self.args.for_time.is_some_and(|time| due >= time) {
                break;
            }
            match due.checked_sub(start.elapsed()).filter(|left| !left.is_zero()) {
                None => {
                    self.send(&self.message.payload, shell)?;
                    number += 1;
                }
                Some(left) => {
                    let happening = self.talk.next(left.min(LEAVE))?;
                    let over = matches!(happening, Some(Happening::Ended(_) | Happening::End));
                    self.told(happening, shell)?;
                    if over {
                        return Ok(());
                    }
                }
            }
        }
        if let Some(stop) = &self.message.stop {
            self.teller.own("stop", format!("{}: the stop value", self.message.name), shell)?;
            self.send(stop, shell)?;
        }
        Ok(())
    }

    /// Waits for the outcomes that are still out, or for what is unconfirmed to leave.
    fn finish(mut self, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        let confirmed = !self.under_way.is_empty();
        let until = Instant::now() + if confirmed { self.args.wait } else { LEAVE };
        while Instant::now() < until && !shell.stop.is_set() && !(confirmed && self.under_way.is_empty()) {
            let happening = self.talk.next(until.saturating_duration_since(Instant::now()).min(LEAVE))?;
            let over = matches!(happening, Some(Happening::Ended(_) | Happening::End));
            self.told(happening, shell)?;
            if over {
                break;
            }
        }
        self.talk.close();
        self.talk.flush()?;
        while let Some(happening) = self.talk.next(Duration::ZERO)? {
            if matches!(happening, Happening::Outcome { .. } | Happening::Message(_)) {
                self.told(Some(happening), shell)?;
            }
        }
        if self.args.every.is_some() {
            self.teller.own("sum", self.sum(), shell)?;
        }
        let good = self.books.unknown == 0 && self.books.not_sent == 0;
        Ok(if good { Exit::Good } else { Exit::NotGood })
    }

    fn told(&mut self, happening: Option<Happening>, shell: &mut Shell<'_>) -> Result<(), Fail> {
        match happening {
            None => Ok(()),
            Some(Happening::Resent { ticket, tries }) => {
                if let Some(item) = self.under_way.get_mut(&ticket) {
                    item.sendings = tries;
                }
                self.teller.own("resent", format!("{}, sending {tries}", self.message.name), shell)
            }
            Some(Happening::Outcome { ticket, outcome }) => self.outcome(ticket, outcome, shell),
            Some(other) => self.teller.happening(&other, shell),
        }
    }

    fn outcome(&mut self, ticket: Ticket, outcome: Outcome, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let Some(UnderWay { since, sendings }) = self.under_way.remove(&ticket) else { return Ok(()) };
        match outcome {
            Outcome::Delivered => self.books.delivered += 1,
            Outcome::NotSent(_) => self.books.not_sent += 1,
            Outcome::Unknown => self.books.unknown += 1,
        }
        let (word, reason) = what_became(outcome);
        let name = &self.message.name;
        let took = lines::time(since.elapsed());
        let text = match (outcome, sendings) {
            (Outcome::Delivered, 1) => format!("{name}, confirmed after {took}"),
            (Outcome::Delivered, _) => format!("{name}, confirmed after {took} and {sendings} sendings"),
            (Outcome::NotSent(_), _) => format!("{name}: {reason}"),
            (Outcome::Unknown, _) => format!("{name}: {reason}; {sendings} sendings in {took}"),
        };
        self.teller.own(word, text, shell)
    }

    fn sum(&self) -> String {
        let Books { sent, delivered, unknown, not_sent } = self.books;
        let name = &self.message.name;
        if self.message.class.is_confirmed() {
            format!("{sent} times {name}: {delivered} delivered, {unknown} unknown, {not_sent} not sent")
        } else {
            format!("{sent} times {name}: {not_sent} not sent; the others have no outcome")
        }
    }
}
