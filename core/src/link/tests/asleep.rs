//! A session that outlives a sleep: what is kept, what is told, and that nothing is told twice or lost without a word, whatever happens in between.

use std::{collections::BTreeMap, vec::Vec};

use proptest::prelude::*;

use super::*;
use crate::{
    fcs::Fcs16,
    frame::Class,
    framing::{Cobs, Datagram, Framing},
    link::{Event, NotResumed, Outcome, StaysAwake},
    star::Asleep,
};

const LIFETIME: u32 = 50_000;
type Board<F> = Link<F, Fcs16, 64, 1, 4>;

fn config<F: Framing>(own: u32) -> Config {
    let lifetime = us(if F::ORDERED { 0 } else { LIFETIME });
    let own = OwnNumber::Stored(own);
    Config { keep_alive: us(0), lifetime, jitter_seed: 0, ..Config::datagram(100_000, lifetime, own) }
}

/// A board of the two: what it was told, by the first octet of the payload, which names a message.
struct Side<F: Framing> {
    link: Board<F>,
    own: u32,
    heard: Vec<u8>,
    /// Message of each ticket of this life.
    under_way: BTreeMap<u16, u8>,
    outcomes: BTreeMap<u8, Outcome>,
    sessions: u32,
}

struct Pair<F: Framing> {
    framing: F,
    now: u32,
    sides: [Side<F>; 2],
    next: u8,
}

impl<F: Framing> Pair<F> {
    fn new(framing: F) -> Self {
        let side = |own| Side {
            link: Board::new(framing.clone(), config::<F>(own), at(0)),
            own,
            heard: Vec::new(),
            under_way: BTreeMap::new(),
            outcomes: BTreeMap::new(),
            sessions: 0,
        };
        let sides = [side(0x1_0000), side(0x2_0000)];
        Self { framing, now: 0, sides, next: 0 }
    }

    fn drain(&mut self, side: usize) {
        let Side { link, heard, under_way, outcomes, sessions, .. } = &mut self.sides[side];
        link.handle_timeout(at(self.now));
        while let Some(event) = link.poll_event() {
            match event {
                Event::Message(message) => heard.push(message.payload[1]),
                Event::Outcome { ticket, outcome } => {
                    let message = under_way.remove(&ticket.get()).expect("an outcome of what was sent, once");
                    assert_eq!(outcomes.insert(message, outcome), None);
                }
                Event::Opened(_) => *sessions += 1,
                _ => {}
            }
        }
    }

    /// One step of 5 ms: everybody is served, and of each side's frames those arrive that `arrives` says. Gives how many frames each has sent.
    fn step(&mut self, mut arrives: impl FnMut() -> bool) -> [usize; 2] {
        self.now += 5_000;
        let mut sent = [0; 2];
        for (from, sent) in sent.iter_mut().enumerate() {
            self.drain(from);
            let mut out = [0; 160];
            while let Some(len) = self.sides[from].link.poll_transmit(at(self.now), &mut out) {
                *sent += 1;
                if !arrives() {
                    continue;
                }
                let mut rest = &out[..len];
                while !rest.is_empty() {
                    let done = self.sides[1 - from].link.handle_octets(at(self.now), rest);
                    rest = &rest[done..];
                    self.drain(1 - from);
                }
            }
        }
        sent
    }

    fn settle(&mut self, steps: u32) -> [usize; 2] {
        (0..steps).map(|_| self.step(|| true)).fold([0; 2], |[a, b], [c, d]| [a + c, b + d])
    }

    fn send(&mut self, side: usize) -> Option<u8> {
        let message = self.next;
        let now = at(self.now);
        let ticket = self.sides[side].link.send(now, Class::Report, &[7, message]).ok()?;
        self.next += 1;
        self.sides[side].under_way.insert(ticket.get(), message);
        Some(message)
    }

    /// The first board falls asleep, wakes after `slept` µs, and goes on from the octets if it can.
    fn sleep(&mut self, slept: u32) -> Result<(), StaysAwake> {
        self.drain(0);
        let asleep = self.sides[0].link.fall_asleep(at(self.now))?;
        self.drain(0);
        assert!(self.sides[0].under_way.is_empty(), "everything has its outcome before the power goes");
        assert_eq!(self.sides[0].link.poll_transmit(at(self.now), &mut [0; 160]), None, "it is silent");
        let mut kept = asleep.octets().unwrap();
        self.now += slept;
        let asleep = Asleep::take(&mut kept).unwrap();
        let config = config::<F>(self.sides[0].own);
        match Board::resume(self.framing.clone(), config, &asleep, us(slept), at(self.now)) {
            Ok(link) => self.sides[0].link = link,
            Err(NotResumed::TooSoon) => self.restart(0),
            Err(other) => panic!("{other}"),
        }
        Ok(())
    }

    fn restart(&mut self, side: usize) {
        // No two starts on both sides have numbers with the same sum (W-23).
        self.sides[side].own += [0x10, 0x1000][side];
        let config = config::<F>(self.sides[side].own);
        self.sides[side].link = Board::new(self.framing.clone(), config, at(self.now));
        let lost: Vec<_> = core::mem::take(&mut self.sides[side].under_way).into_values().collect();
        self.sides[side].outcomes.extend(lost.into_iter().map(|message| (message, Outcome::Unknown)));
    }

    /// P3: everything that was accepted has one outcome, what is delivered was heard once, what was not sent never, and nothing twice.
    fn balance(&self) {
        for (side, far) in [(0, 1), (1, 0)] {
            let heard = &self.sides[far].heard;
            for (message, outcome) in &self.sides[side].outcomes {
                let times = heard.iter().filter(|heard| *heard == message).count();
                let allowed = match outcome {
                    Outcome::Delivered => 1..=1,
                    Outcome::NotSent(_) => 0..=0,
                    Outcome::Unknown => 0..=1,
                };
                assert!(
                    allowed.contains(&times),
                    "message {message} of side {side}: {outcome:?}, heard {times} times"
                );
            }
        }
    }
}

fn opened<F: Framing>(framing: F) -> Pair<F> {
    let mut pair = Pair::new(framing);
    pair.settle(100);
    assert_eq!([pair.sides[0].sessions, pair.sides[1].sessions], [1, 1]);
    pair
}

#[test]
fn a_report_after_the_sleep_costs_one_frame_and_its_acknowledgement() {
    let mut pair = opened(Datagram);
    let session = pair.sides[0].link.peer().unwrap().session;
    for night in 0..300_u32 {
        let message = pair.send(0).unwrap();
        pair.next %= 250;
        assert_eq!(pair.settle(20), [1, 1], "night {night}");
        assert_eq!(pair.sides[0].outcomes.remove(&message), Some(Outcome::Delivered));
        assert_eq!(pair.sides[1].heard.pop(), Some(message));
        pair.sleep(LIFETIME).unwrap();
        assert_eq!(pair.sides[0].link.peer().unwrap().session, session);
        assert_eq!(pair.settle(20), [0, 0], "no opening, no keep-alive");
    }
    assert_eq!([pair.sides[0].sessions, pair.sides[1].sessions], [1, 1]);
}

#[test]
fn what_was_unconfirmed_is_unknown_and_its_number_a_void() {
    let mut pair = opened(Datagram);
    let lost = pair.send(0).unwrap();
    let waits = pair.send(0).unwrap();
    pair.step(|| false);
    pair.sleep(LIFETIME).unwrap();
    assert_eq!(pair.sides[0].outcomes[&lost], Outcome::Unknown);
    assert_eq!(pair.sides[0].outcomes[&waits], Outcome::NotSent(crate::link::EndReason::Closed));
    let next = pair.send(0).unwrap();
    // The void and its acknowledgement, then the report and its own.
    assert_eq!(pair.settle(20), [2, 2]);
    assert_eq!(pair.sides[0].outcomes[&next], Outcome::Delivered);
    assert_eq!(pair.sides[1].heard, [next]);
    // Heard, but not the acknowledgement: the void of the same number is a repeat.
    let heard = pair.send(0).unwrap();
    let mut frames = 0;
    pair.step(|| {
        frames += 1;
        frames == 1
    });
    pair.sleep(LIFETIME).unwrap();
    assert_eq!(pair.sides[0].outcomes[&heard], Outcome::Unknown);
    let last = pair.send(0).unwrap();
    pair.settle(20);
    assert_eq!(pair.sides[1].heard, [next, heard, last]);
    pair.balance();
}

#[test]
fn a_peer_that_restarted_meanwhile_is_noticed_by_the_first_frame() {
    let mut pair = opened(Datagram);
    pair.restart(1);
    pair.sleep(LIFETIME).unwrap();
    let message = pair.send(0).unwrap();
    pair.settle(200);
    assert_eq!(pair.sides[0].sessions, 2);
    assert_eq!(pair.sides[0].outcomes[&message], Outcome::Unknown);
    let message = pair.send(0).unwrap();
    pair.settle(20);
    assert_eq!(pair.sides[0].outcomes[&message], Outcome::Delivered);
    pair.balance();
}

#[test]
fn set_points_of_before_the_sleep_stay_counted() {
    let mut pair = opened(Cobs);
    for level in [1, 2, 3] {
        pair.sides[1].link.send(at(pair.now), Class::SetPoint, &[4, level]).unwrap();
        pair.settle(3);
    }
    pair.sleep(1_000).unwrap();
    let before = pair.sides[0].link.statistics().get(Counter::SetPointsLost);
    pair.sides[1].link.send(at(pair.now), Class::SetPoint, &[4, 4]).unwrap();
    pair.sides[0].link.send(at(pair.now), Class::SetPoint, &[4, 5]).unwrap();
    pair.settle(3);
    assert_eq!((pair.sides[0].heard.last(), pair.sides[1].heard.last()), (Some(&4), Some(&5)));
    assert_eq!(pair.sides[0].link.statistics().get(Counter::SetPointsLost), before, "none is missed");
}

#[test]
fn a_session_that_cannot_be_kept_stays_as_it_was() {
    let mut pair = Pair::new(Datagram);
    let asleep = |link: &Board<Datagram>, now| link.clone().fall_asleep(at(now)).map(|_| ());
    assert_eq!(asleep(&pair.sides[0].link, 0), Err(StaysAwake::NotOpen));
    pair.settle(100);
    assert_eq!(asleep(&pair.sides[0].link, pair.now), Ok(()));
    let promising = Config { keep_alive: us(1_000_000), ..config::<Datagram>(0x1_0200) };
    pair.sides[0].link = Board::new(Datagram, promising, at(pair.now));
    pair.settle(100);
    let before = pair.sides[0].link.clone();
    assert_eq!(pair.sides[0].link.fall_asleep(at(pair.now)), Err(StaysAwake::KeepAlive));
    assert_eq!(pair.sides[0].link, before);
    // An event waits.
    pair.restart(0);
    pair.settle(100);
    pair.send(1).unwrap();
    let mut out = [0; 160];
    let len = pair.sides[1].link.poll_transmit(at(pair.now), &mut out).unwrap();
    let _ = pair.sides[0].link.handle_octets(at(pair.now), &out[..len]);
    assert_eq!(asleep(&pair.sides[0].link, pair.now), Err(StaysAwake::Untold));
    pair.settle(20);
    assert_eq!(asleep(&pair.sides[0].link, pair.now), Ok(()));
    pair.balance();
}

/// Two links of other sizes, opened with each other.
fn open_with<const A: usize, const B: usize, const W: usize>()
-> (Link<Datagram, Fcs16, A, W, 8>, Link<Datagram, Fcs16, B, 8, 8>) {
    let mut first = Link::new(Datagram, config::<Datagram>(1), at(0));
    let mut second = Link::new(Datagram, config::<Datagram>(0x40), at(0));
    let mut out = [0; 160];
    for _ in 0..4 {
        while let Some(len) = first.poll_transmit(at(0), &mut out) {
            let _ = second.handle_octets(at(0), &out[..len]);
            while second.poll_event().is_some() {}
        }
        while let Some(len) = second.poll_transmit(at(0), &mut out) {
            let _ = first.handle_octets(at(0), &out[..len]);
            while first.poll_event().is_some() {}
        }
    }
    (first, second)
}

#[test]
fn nothing_is_kept_that_the_octets_have_no_room_for() {
    let (mut first, _) = open_with::<64, 48, 1>();
    assert_eq!(first.fall_asleep(at(0)), Err(StaysAwake::Smaller), "the peer takes shorter payloads");
    let (mut first, mut second) = open_with::<64, 64, 4>();
    assert_eq!(second.fall_asleep(at(0)), Err(StaysAwake::Smaller), "the window of the peer is smaller");
    // The second of two is in, the first is lost.
    let mut out = [0; 160];
    let mut len = 0;
    for _ in 0..2 {
        second.send(at(0), Class::Report, &[7, 1]).unwrap();
        len = second.poll_transmit(at(0), &mut out).unwrap();
    }
    assert_eq!(first.handle_octets(at(0), &out[..len]), len);
    assert!(matches!(first.poll_event(), Some(Event::Message(_))), "a report waits for none before it");
    assert_eq!(first.poll_event(), None);
    assert_eq!(first.fall_asleep(at(0)), Err(StaysAwake::Missing));
}

#[test]
fn what_does_not_fit_is_not_resumed() {
    let asleep = opened(Datagram).sides[0].link.fall_asleep(at(500_000)).unwrap();
    let resume = |asleep: &Asleep, slept| {
        Board::resume(Datagram, config::<Datagram>(1), asleep, us(slept), at(9)).map(|link| link.state())
    };
    assert_eq!(resume(&asleep, LIFETIME), Ok(crate::link::State::Up));
    assert_eq!(resume(&asleep, LIFETIME - 1), Err(NotResumed::TooSoon));
    assert_eq!(resume(&Asleep { unconfirmed: 2, ..asleep }, LIFETIME), Err(NotResumed::Window));
    assert_eq!(resume(&Asleep { address: 3, ..asleep }, LIFETIME), Err(NotResumed::Address));
}

#[derive(Debug, Clone, Copy)]
enum Step {
    Send(usize),
    Run { steps: u8, lost: u8 },
    Sleep(u32),
    Restart(usize),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => (0..2_usize).prop_map(Step::Send),
        6 => (1..80_u8, 0..160_u8).prop_map(|(steps, lost)| Step::Run { steps, lost }),
        4 => prop_oneof![Just(0), Just(LIFETIME), 0..10 * LIFETIME].prop_map(Step::Sleep),
        1 => (0..2_usize).prop_map(Step::Restart),
    ]
}

fn play<F: Framing>(framing: F, steps: &[Step], seed: u32) {
    let mut pair = Pair::new(framing);
    let mut dice = seed | 1;
    for step in steps {
        match *step {
            Step::Send(side) => drop(pair.send(side)),
            Step::Run { steps, lost } => {
                for _ in 0..steps {
                    pair.step(|| {
                        dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                        dice >> 24 >= u32::from(lost)
                    });
                }
            }
            Step::Sleep(slept) => drop(pair.sleep(slept)),
            Step::Restart(side) => pair.restart(side),
        }
        pair.balance();
    }
    // On a good line all comes to an end, and the boards understand each other.
    pair.settle(4_000);
    assert!(pair.sides.iter().all(|side| side.under_way.is_empty()), "nothing is under way for ever");
    for side in 0..2 {
        // Without a keep-alive it may be the first message that shows that the other board has left the session.
        let delivered = (0..3).any(|_| {
            let Some(message) = pair.send(side) else { return false };
            pair.settle(400);
            pair.sides[side].outcomes.get(&message) == Some(&Outcome::Delivered)
        });
        assert!(delivered, "side {side}");
    }
    pair.balance();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn books_balance_over_sleeps_on_a_radio(steps in prop::collection::vec(step(), 1..60), seed: u32) {
        play(Datagram, &steps, seed);
    }

    #[test]
    fn books_balance_over_sleeps_on_a_wire(steps in prop::collection::vec(step(), 1..60), seed: u32) {
        play(Cobs, &steps, seed);
    }
}
