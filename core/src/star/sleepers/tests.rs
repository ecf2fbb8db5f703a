//! A desk and a porch that sleeps, on a radio without faults, and with them: exact frames, then the books of all letters.

use super::*;
use crate::{
    fcs::Fcs16,
    framing::Datagram,
    link::{Config, Event, Link, OwnNumber, State},
    star::{Addressed, HubConfig, Post},
};
use std::{vec, vec::Vec};

const PORCH: u8 = 4;
const AWAKE: u32 = 300_000;

type Desk = Hub<Datagram, Fcs16, 8, 16, 64>;
type Leaf = Link<Addressed<Datagram>, Fcs16, 64, 1, 4>;

struct Field {
    now: u32,
    desk: Desk,
    sleepers: Sleepers<2, 4, 16>,
    porch: Leaf,
    /// It keeps its radio on until then.
    listens: u32,
    /// What it has received: class and second octet.
    got: Vec<(Class, u8)>,
    ends: Vec<(Ticket, LetterEnd)>,
    /// One frame in so many is lost, either way; 0: none.
    lossy: u32,
    dice: u32,
    /// Frames that the desk has sent.
    sent: usize,
}

fn at(now: u32) -> Instant {
    Instant::from_ticks(now)
}

impl Field {
    fn new() -> Self {
        let lifetime = Duration::from_millis(50);
        let mut desk = Desk::new(Datagram, HubConfig::datagram(5_000, lifetime, 0x1000), at(0));
        let mut sleepers = Sleepers::new();
        assert!(sleepers.admit(&mut desk, at(0), PORCH, Duration::from_ticks(AWAKE)));
        let mut config = Config::datagram(5_000, lifetime, OwnNumber::Stored(7));
        config.keep_alive = Duration::from_ticks(0);
        let porch = Leaf::new(Addressed { framing: Datagram, own: PORCH, peer: 0 }, config, at(0));
        let mut field = Self {
            now: 0,
            desk,
            sleepers,
            porch,
            listens: 0,
            got: vec![],
            ends: vec![],
            lossy: 0,
            dice: 1,
            sent: 0,
        };
        field.wake(&[]);
        field.pass(1_000_000);
        assert_eq!((field.porch.state(), field.desk.state(PORCH)), (State::Up, State::Up));
        field
    }

    fn today(&self) -> Seconds {
        self.now / 1_000_000
    }

    fn is_lost(&mut self) -> bool {
        self.dice = self.dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        self.lossy > 0 && (self.dice >> 16).is_multiple_of(self.lossy)
    }

    fn send(&mut self, class: Class, payload: &[u8], life: Seconds) -> Result<Accepted, NotPosted> {
        let today = self.today();
        self.sleepers.send(&mut self.desk, PORCH, class, payload, today, life)
    }

    fn serve_desk(&mut self) {
        self.desk.handle_timeout(at(self.now));
        while let Some(told) = self.desk.poll_event() {
            self.ends.extend(self.sleepers.handle_event(&told).map(|event| (event.ticket, event.end)));
        }
        let mut out = [0; 80];
        loop {
            let today = self.today();
            while let Some(event) = self.sleepers.poll(&mut self.desk, at(self.now), today) {
                assert_eq!(event.leaf, PORCH);
                self.ends.push((event.ticket, event.end));
            }
            let Some(transmit) = self.desk.poll_transmit(at(self.now), &mut out) else { return };
            self.sent += 1;
            if self.now < self.listens && !self.is_lost() {
                assert_eq!(self.porch.handle_octets(at(self.now), &out[..transmit.len]), transmit.len);
                self.listens = self.now + AWAKE;
                self.porch_events();
            }
        }
    }

    fn porch_events(&mut self) {
        while let Some(event) = self.porch.poll_event() {
            if let Event::Message(message) = event {
                self.got.push((message.class, message.payload[1]));
            }
        }
    }

    fn serve_porch(&mut self) {
        self.porch.handle_timeout(at(self.now));
        self.porch_events();
        let mut out = [0; 80];
        while let Some(len) = self.porch.poll_transmit(at(self.now), &mut out) {
            self.listens = self.now + AWAKE;
            if !self.is_lost() {
                assert_eq!(self.desk.handle_octets(at(self.now), &out[..len]), len);
            }
        }
    }

    fn pass(&mut self, until: u32) {
        while self.now < until {
            self.now += 5_000;
            self.serve_desk();
            if self.now < self.listens {
                self.serve_porch();
            }
        }
    }

    /// The porch wakes, reports (or only opens), and sleeps again when nothing came for its time to listen.
    fn wake(&mut self, report: &[u8]) {
        self.listens = self.now + AWAKE;
        if !report.is_empty() {
            // The queue of reports may be full of those that were lost.
            let _ = self.porch.send(at(self.now), Class::Report, report);
        }
        self.serve_porch();
        while self.now < self.listens {
            self.pass(self.now + 5_000);
        }
    }

    fn posts(&self) -> Vec<Post> {
        self.sleepers.letters(PORCH).iter().map(|letter| letter.post).collect()
    }
}

#[test]
fn letters_wait_for_the_leaf_and_go_out_one_after_the_other_once_it_has_spoken() {
    let mut field = Field::new();
    let off = field.send(Class::SetPoint, &[3, 0], 3_600).unwrap();
    let errand = field.send(Class::Errand, &[5, 1], 3_600).unwrap();
    let on = field.send(Class::SetPoint, &[3, 40], 3_600).unwrap();
    assert_eq!(on.replaces, Some(off.ticket), "the newest wins");
    let notice = field.send(Class::Notice, &[6, 2], 3_600).unwrap();
    let sent = field.sent;
    field.pass(field.now + 30_000_000);
    assert_eq!((field.sent, field.posts()), (sent, vec![Post::Queued; 3]), "nothing while it sleeps");
    assert_eq!(field.desk.state(PORCH), State::Up, "the session outlives the sleep");
    field.wake(&[9, 0]);
    let wanted = [(Class::SetPoint, 40), (Class::Errand, 1), (Class::Notice, 2)];
    assert_eq!(field.got, wanted);
    let ends = [
        (on.ticket, LetterEnd::Sent),
        (errand.ticket, LetterEnd::Confirmed),
        (notice.ticket, LetterEnd::Sent),
    ];
    assert_eq!(field.ends, ends);
    assert!(field.posts().is_empty());
}

#[test]
fn the_acknowledgement_says_more_as_long_as_letters_wait() {
    let mut field = Field::new();
    let held = |out: &[u8]| crate::frame::Header::read(out, true).unwrap().0.ack.unwrap().held;
    let mut out = [0; 80];
    for (letters, more) in [(0, None), (1, Some(0x80))] {
        for count in 0..letters {
            field.send(Class::Errand, &[5, count], 60).unwrap();
        }
        field.porch.send(at(field.now), Class::Report, &[9, 0]).unwrap();
        let len = field.porch.poll_transmit(at(field.now), &mut out).unwrap();
        assert_eq!(field.desk.handle_octets(at(field.now), &out[..len]), len);
        while field.desk.poll_event().is_some() {}
        // Sent before the mailbox was looked at: the leaf must know that it should stay.
        let transmit = field.desk.poll_transmit(at(field.now), &mut out).unwrap();
        assert_eq!(held(&out[..transmit.len - 2]), more);
        let _ = field.porch.handle_octets(at(field.now), &out[..transmit.len]);
        field.porch_events();
    }
}

#[test]
fn what_expires_is_not_sent_and_told_once() {
    let mut field = Field::new();
    let short = field.send(Class::Errand, &[5, 1], 10).unwrap();
    let long = field.send(Class::Errand, &[5, 2], 60).unwrap();
    field.pass(field.now + 20_000_000);
    field.wake(&[9, 0]);
    assert_eq!(field.got, [(Class::Errand, 2)]);
    assert_eq!(field.ends, [(short.ticket, LetterEnd::Expired), (long.ticket, LetterEnd::Confirmed)]);
    // Or without the leaf.
    let lost = field.send(Class::Report, &[5, 3], 1).unwrap();
    assert_eq!(field.sleepers.poll_expired(field.today()), None);
    let (leaf, letter) = field.sleepers.poll_expired(field.today() + 1).unwrap();
    assert_eq!((leaf, letter.ticket), (PORCH, lost.ticket));
}

#[test]
fn a_message_under_way_when_the_leaf_falls_asleep_goes_on_when_it_is_heard_again() {
    let mut field = Field::new();
    let errand = field.send(Class::Errand, &[5, 1], 3_600).unwrap();
    // The report gets through, and then nothing does.
    field.porch.send(at(field.now), Class::Report, &[9, 0]).unwrap();
    field.serve_porch();
    field.lossy = 1;
    field.serve_desk();
    assert_eq!(field.posts(), [Post::Offered]);
    field.listens = 0;
    let sent = field.sent;
    field.pass(field.now + 600_000_000);
    let tries = field.sent - sent;
    assert!(tries <= 3, "resent only while it might have listened: {tries}");
    assert_eq!((field.ends.len(), field.posts()), (0, vec![Post::Offered]), "no outcome without tries");
    field.lossy = 0;
    field.wake(&[]);
    assert_eq!(
        (&field.got[..], &field.ends[..]),
        (&[(Class::Errand, 1)][..], &[(errand.ticket, LetterEnd::Confirmed)][..])
    );
}

#[test]
fn a_letter_that_was_handed_over_but_not_sent_can_be_replaced_and_expires() {
    let mut field = Field::new();
    field.desk.set_awake(at(field.now), PORCH, Duration::from_ticks(AWAKE));
    let first = field.send(Class::SetPoint, &[3, 1], 5).unwrap();
    let today = field.today();
    assert_eq!(field.sleepers.poll(&mut field.desk, at(field.now), today), None);
    assert_eq!(field.posts(), [Post::Offered]);
    let second = field.send(Class::SetPoint, &[3, 2], 5).unwrap();
    assert_eq!(second.replaces, Some(first.ticket));
    let today = field.today();
    assert_eq!(field.sleepers.poll(&mut field.desk, at(field.now), today), None);
    let event = field.sleepers.poll(&mut field.desk, at(field.now), today + 5).unwrap();
    assert_eq!((event.ticket, event.end), (second.ticket, LetterEnd::Expired));
    assert!(field.desk.poll_transmit(at(field.now), &mut [0; 80]).is_none(), "it was taken back");
}

#[test]
fn who_is_no_sleeper_and_what_does_not_fit_is_refused() {
    let mut field = Field::new();
    let today = field.today();
    let no = field.sleepers.send(&mut field.desk, 3, Class::Errand, &[5], today, 9);
    assert_eq!(no, Err(NotPosted::NoSuchSleeper));
    assert_eq!(field.send(Class::Errand, &[5; 17], 9), Err(NotPosted::Mailbox(NotTaken::TooLong)));
    for count in 0..4 {
        field.send(Class::Errand, &[5, count], 9).unwrap();
    }
    assert_eq!(field.send(Class::Errand, &[5, 9], 9), Err(NotPosted::Mailbox(NotTaken::Full)));
    let room = Duration::from_ticks(1);
    assert!(field.sleepers.admit(&mut field.desk, at(0), 2, room));
    assert!(!field.sleepers.admit(&mut field.desk, at(0), 3, room), "two sleepers");
    assert!(field.sleepers.dismiss(2) && !field.sleepers.dismiss(2));
    assert!(!field.sleepers.admit(&mut field.desk, at(0), 9, room), "eight leaves");
}

/// Every letter ends once; what is confirmed has arrived once, what is expired never.
#[test]
fn the_books_of_letters_balance_under_loss_and_restarts_of_the_leaf() {
    let (mut confirmed, mut unknown, mut expired) = (0, 0, 0);
    for seed in 0..20 {
        let mut field = Field::new();
        (field.dice, field.lossy) = (seed, 4);
        let mut letters: Vec<(Ticket, u8)> = vec![];
        for count in 0..60_u8 {
            if let Ok(accepted) = field.send(Class::Errand, &[5, count], 40) {
                letters.push((accepted.ticket, count));
            }
            field.pass(field.now + 10_000_000);
            if count % 16 == 15 {
                let config = Config::datagram(
                    5_000,
                    Duration::from_millis(50),
                    OwnNumber::Stored(99 + u32::from(count)),
                );
                let framing = Addressed { framing: Datagram, own: PORCH, peer: 0 };
                field.porch = Leaf::new(
                    framing,
                    Config { keep_alive: Duration::from_ticks(0), ..config },
                    at(field.now),
                );
            }
            let report: &[u8] = if field.porch.state() == State::Up { &[9, 0] } else { &[] };
            field.wake(report);
        }
        field.lossy = 0;
        for _ in 0..12 {
            field.pass(field.now + 10_000_000);
            field.wake(&[9, 0]);
        }
        assert!(field.posts().is_empty(), "{:?}", field.posts());
        for (ticket, count) in letters {
            let ends: Vec<_> = field.ends.iter().filter(|(other, _)| *other == ticket).collect();
            let arrived = field.got.iter().filter(|got| **got == (Class::Errand, count)).count();
            assert_eq!(ends.len(), 1, "{ends:?}");
            match ends[0].1 {
                LetterEnd::Confirmed => assert_eq!(arrived, 1),
                LetterEnd::Unknown => assert!(arrived <= 1),
                LetterEnd::Expired => assert_eq!(arrived, 0),
                other => panic!("{other:?}"),
            }
            confirmed += u32::from(ends[0].1 == LetterEnd::Confirmed);
            unknown += u32::from(ends[0].1 == LetterEnd::Unknown);
            expired += u32::from(ends[0].1 == LetterEnd::Expired);
        }
    }
    assert!(confirmed > 500 && unknown > 0, "{confirmed} {unknown} {expired}");
}
