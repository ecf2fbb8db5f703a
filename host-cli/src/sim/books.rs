//! The books of one direction of a link: what was promised about each message against what arrived.

use bellwire::frame::Class;
use std::collections::BTreeMap;

/// What became of a message, as its sender was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fate {
    /// Nothing was told yet. Set-points and notices stay here.
    Open,
    /// *Delivered.*
    Delivered,
    /// *Not sent.*
    NotSent,
    /// *Unknown.*
    Unknown,
    /// The sender restarted before it was told.
    Lost,
}

/// A broken promise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Breach {
    /// Something arrived that nobody sent.
    NeverAccepted(u64),
    /// Two messages have one name.
    AcceptedTwice(u64),
    /// A message arrived a second time.
    Twice(u64),
    /// A message arrived after one that was accepted later.
    OutOfOrder {
        /// The message.
        item: u64,
        /// The later one that had arrived before it.
        after: u64,
    },
    /// A message arrived in another session than the one in which it was accepted.
    OtherSession {
        /// The message.
        item: u64,
        /// The session in which its sender accepted it.
        accepted: u64,
        /// The session in which it arrived.
        arrived: u64,
    },
    /// Its sender was told *delivered*, but it never arrived.
    DeliveredNeverArrived(u64),
    /// Its sender was told *not sent*, but it arrived.
    NotSentButArrived(u64),
    /// A second outcome for one message, or an outcome for none.
    ExtraOutcome {
        /// The message.
        item: u64,
        /// What was told then.
        then: Fate,
    },
    /// A confirmed message without an outcome, though all was settled.
    NoOutcome(u64),
}

/// Whether the link keeps the order of frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Order {
    /// Nothing is doubled or overtaken.
    Kept,
    /// Frames may be doubled and overtaken: notices may come twice and in any order (W-47).
    NotKept,
}

/// The sums of a set of books.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Balance {
    /// Messages that the link took.
    pub accepted: u64,
    /// Of those, messages that arrived.
    pub arrived: u64,
    /// Told *delivered*.
    pub delivered: u64,
    /// Told *not sent*.
    pub not_sent: u64,
    /// Told *unknown*.
    pub unknown: u64,
    /// Told *unknown*, and arrived all the same.
    pub unknown_arrived: u64,
    /// Lost with a restart of the sender.
    pub lost: u64,
    /// Confirmed messages still under way.
    pub open: u64,
}

impl std::ops::AddAssign for Balance {
    fn add_assign(&mut self, more: Self) {
        self.accepted += more.accepted;
        self.arrived += more.arrived;
        self.delivered += more.delivered;
        self.not_sent += more.not_sent;
        self.unknown += more.unknown;
        self.unknown_arrived += more.unknown_arrived;
        self.lost += more.lost;
        self.open += more.open;
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Entry {
    class: Class,
    session: u64,
    fate: Fate,
    arrived: bool,
    /// Its place in the order of acceptance.
    place: u64,
}

/// The books of one direction of a link (promise P3 of the wire): *delivered* is a part of what arrived, which is a part of
/// *delivered*, *unknown*, and what was lost with a restart of the sender; each message arrives once, errands in order, and
/// nothing of an earlier session arrives in a later one.
///
/// The caller names messages and sessions as it likes; no two messages have the same name. All set-points of one set of books have the
/// same message number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Books {
    order: Order,
    entries: BTreeMap<u64, Entry>,
    /// Messages taken so far.
    taken: u64,
    /// Of each class: place and name of the last one accepted among those that arrived.
    newest: [Option<(u64, u64)>; 4],
    breaches: Vec<Breach>,
}

impl Books {
    /// Empty books.
    #[must_use]
    pub fn new(order: Order) -> Self {
        Self { order, entries: BTreeMap::new(), taken: 0, newest: [None; 4], breaches: Vec::new() }
    }

    /// The sender's link took a message. One that was told *not sent* may be taken again, later than all others.
    pub fn accepted(&mut self, item: u64, class: Class, session: u64) {
        let place = self.taken;
        self.taken += 1;
        match self.entries.get(&item) {
            None => {}
            Some(entry) if entry.fate == Fate::NotSent && !entry.arrived => {}
            Some(entry) if entry.fate == Fate::NotSent => self.breaches.push(Breach::NotSentButArrived(item)),
            Some(_) => self.breaches.push(Breach::AcceptedTwice(item)),
        }
        self.entries.insert(item, Entry { class, session, fate: Fate::Open, arrived: false, place });
    }

    /// The sender was told an outcome.
    pub fn told(&mut self, item: u64, fate: Fate) {
        match self.entries.get_mut(&item) {
            Some(entry) if entry.fate == Fate::Open && entry.class.is_confirmed() => entry.fate = fate,
            _ => self.breaches.push(Breach::ExtraOutcome { item, then: fate }),
        }
    }

    /// The sender restarted: it will never be told what became of open messages.
    pub fn restarted(&mut self) {
        for entry in self.entries.values_mut().filter(|entry| entry.class.is_confirmed()) {
            if entry.fate == Fate::Open {
                entry.fate = Fate::Lost;
            }
        }
    }

    /// The receiver was handed a message.
    pub fn arrived(&mut self, item: u64, session: u64) {
        let Some(entry) = self.entries.get_mut(&item) else {
            self.breaches.push(Breach::NeverAccepted(item));
            return;
        };
        if entry.session != session {
            self.breaches.push(Breach::OtherSession { item, accepted: entry.session, arrived: session });
        }
        let unordered_notice = entry.class == Class::Notice && self.order == Order::NotKept;
        if entry.arrived && !unordered_notice {
            self.breaches.push(Breach::Twice(item));
            return;
        }
        entry.arrived = true;
        if entry.class == Class::Report || unordered_notice {
            return;
        }
        let newest = &mut self.newest[entry.class as usize];
        match *newest {
            Some((place, after)) if place > entry.place => {
                self.breaches.push(Breach::OutOfOrder { item, after });
            }
            _ => *newest = Some((entry.place, item)),
        }
    }

    /// The sums so far.
    #[must_use]
    pub fn balance(&self) -> Balance {
        let mut balance = Balance::default();
        for entry in self.entries.values() {
            balance.accepted += 1;
            balance.arrived += u64::from(entry.arrived);
            let count = match entry.fate {
                Fate::Delivered => &mut balance.delivered,
                Fate::NotSent => &mut balance.not_sent,
                Fate::Unknown => &mut balance.unknown,
                Fate::Lost => &mut balance.lost,
                Fate::Open if entry.class.is_confirmed() => &mut balance.open,
                Fate::Open => continue,
            };
            *count += 1;
            balance.unknown_arrived += u64::from(entry.arrived && entry.fate == Fate::Unknown);
        }
        balance
    }

    /// Every promise broken so far. What is still under way breaks none.
    #[must_use]
    pub fn breaches(&self) -> Vec<Breach> {
        let mut breaches = self.breaches.clone();
        for (&item, entry) in &self.entries {
            match entry.fate {
                Fate::Delivered if !entry.arrived => breaches.push(Breach::DeliveredNeverArrived(item)),
                Fate::NotSent if entry.arrived => breaches.push(Breach::NotSentButArrived(item)),
                _ => {}
            }
        }
        breaches
    }

    /// Every promise broken once all is settled: a confirmed message without an outcome is a breach too.
    #[must_use]
    pub fn breaches_when_settled(&self) -> Vec<Breach> {
        let mut breaches = self.breaches();
        let open =
            self.entries.iter().filter(|(_, entry)| entry.fate == Fate::Open && entry.class.is_confirmed());
        breaches.extend(open.map(|(&item, _)| Breach::NoOutcome(item)));
        breaches
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn books() -> Books {
        let mut books = Books::new(Order::Kept);
        for item in 0..4 {
            books.accepted(item, Class::Errand, 1);
        }
        books
    }

    #[test]
    fn good_books_balance() {
        let mut books = books();
        books.arrived(0, 1);
        books.told(0, Fate::Delivered);
        books.arrived(1, 1);
        books.told(1, Fate::Unknown);
        books.told(2, Fate::NotSent);
        books.restarted();
        assert_eq!(books.breaches_when_settled(), []);
        let wanted = Balance {
            accepted: 4,
            arrived: 2,
            delivered: 1,
            not_sent: 1,
            unknown: 1,
            unknown_arrived: 1,
            lost: 1,
            open: 0,
        };
        assert_eq!(books.balance(), wanted);
    }

    #[test]
    fn each_broken_promise_is_found() {
        let broken = |act: fn(&mut Books)| {
            let mut books = books();
            act(&mut books);
            books.breaches()
        };
        assert_eq!(broken(|books| books.arrived(9, 1)), [Breach::NeverAccepted(9)]);
        let twice = |books: &mut Books| (0..2).for_each(|_| books.arrived(0, 1));
        assert_eq!(broken(twice), [Breach::Twice(0)]);
        let turned = |books: &mut Books| [1, 0].into_iter().for_each(|item| books.arrived(item, 1));
        assert_eq!(broken(turned), [Breach::OutOfOrder { item: 0, after: 1 }]);
        let other = [Breach::OtherSession { item: 0, accepted: 1, arrived: 2 }];
        assert_eq!(broken(|books| books.arrived(0, 2)), other);
        assert_eq!(broken(|books| books.told(0, Fate::Delivered)), [Breach::DeliveredNeverArrived(0)]);
        let not_sent = |books: &mut Books| {
            books.arrived(0, 1);
            books.told(0, Fate::NotSent);
        };
        assert_eq!(broken(not_sent), [Breach::NotSentButArrived(0)]);
        let extra = |books: &mut Books| (0..2).for_each(|_| books.told(0, Fate::Unknown));
        assert_eq!(broken(extra), [Breach::ExtraOutcome { item: 0, then: Fate::Unknown }]);
        assert_eq!(broken(|books| books.accepted(0, Class::Errand, 1)), [Breach::AcceptedTwice(0)]);
        let again = |books: &mut Books| {
            books.told(0, Fate::NotSent);
            books.accepted(0, Class::Errand, 2);
            books.arrived(0, 2);
        };
        assert_eq!(broken(again), []);
        let arrived_before = |books: &mut Books| {
            books.arrived(0, 1);
            books.told(0, Fate::NotSent);
            books.accepted(0, Class::Errand, 2);
        };
        assert_eq!(broken(arrived_before), [Breach::NotSentButArrived(0)]);
        assert_eq!(books().breaches_when_settled().len(), 4);
    }
}
