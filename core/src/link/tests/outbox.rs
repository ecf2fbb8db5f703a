//! Items on their way out: who is due, who was overtaken, what the end of a session makes of each.

use super::{
    super::{
        EndReason, Outcome, SendError, Ticket,
        item::Tell,
        outbox::{Acknowledged, Outbox},
    },
    us,
};
use crate::{
    frame::{Ack, Class},
    retry::{Dice, Policy},
    seq::Serial,
};

const POLICY: Policy = Policy { tries: Some(3), ceiling: 1_000_000, spread: 0 };

type Four = Outbox<8, 4, 6>;

/// Four errands that were sent once, 3, 2, 1 and 0 µs ago.
fn four() -> Four {
    let mut outbox = Four::new();
    for item in 0..4 {
        assert_eq!(outbox.accept(Class::Errand, &[item]), Ok((Ticket(u16::from(item)), 0)));
        outbox.elapse(us(1));
        let at_item = outbox.fresh(4).unwrap();
        let flight = outbox.launch(at_item, us(100));
        assert_eq!((flight, outbox.due()), (usize::from(item), Some(flight)));
        assert_eq!(outbox.place(flight), Some((at_item, Serial::new(item))));
        assert_eq!(outbox.sent(flight, us(0)), 1);
    }
    assert_eq!((outbox.due(), outbox.fresh(4)), (None, None));
    outbox
}

fn news(outbox: &mut Four) -> std::vec::Vec<(u16, Tell)> {
    core::iter::from_fn(|| outbox.news().map(|(ticket, tell)| (ticket.0, tell))).collect()
}

/// A line that keeps order has lost what was sent before something that is held, and nothing else.
#[test]
fn what_a_held_one_has_overtaken_is_sent_again() {
    for held in 1..4 {
        let mut outbox = four();
        let sample = Some(us(3 - held));
        let ack = Ack { next: 0, held: Some(1 << (held - 1)) };
        assert_eq!(outbox.acknowledge(&ack), Acknowledged::Good { sample });
        outbox.hurry(&POLICY);
        let again: std::vec::Vec<_> =
            (0..4).map(|item| (item, Tell::Resent(2))).take(held as usize).collect();
        assert_eq!(news(&mut outbox), again);
        for item in 0..held as usize {
            assert_eq!(outbox.due(), Some(item));
            assert_eq!(outbox.sent(item, us(0)), 2);
        }
        assert_eq!(outbox.due(), None);
        // They were sent after the held one now, so it has overtaken them no more.
        outbox.hurry(&POLICY);
        assert_eq!((outbox.due(), outbox.has_news()), (None, false));
    }
}

#[test]
fn nothing_is_overtaken_while_nothing_is_held() {
    let mut outbox = four();
    assert_eq!(outbox.acknowledge(&Ack { next: 1, held: None }), Acknowledged::Good { sample: Some(us(3)) });
    outbox.hurry(&POLICY);
    assert_eq!(news(&mut outbox), [(0, Tell::Outcome(Outcome::Delivered))]);
    assert_eq!(outbox.due(), None);
    assert_eq!(outbox.acknowledge(&Ack { next: 5, held: None }), Acknowledged::Bad);
    assert_eq!(outbox.acknowledge(&Ack { next: 0, held: None }), Acknowledged::Bad, "settled before");
}

#[test]
fn the_next_time_out_is_that_of_one_that_is_neither_held_nor_due() {
    let mut outbox = four();
    assert_eq!(outbox.left(), Some(us(97)));
    outbox.elapse(us(30));
    assert_eq!(outbox.left(), Some(us(67)));
    let mut dice = Dice::new(0);
    outbox.expire(&POLICY, &mut dice);
    assert_eq!((outbox.due(), outbox.has_news()), (None, false));
    outbox.elapse(us(70));
    outbox.expire(&POLICY, &mut dice);
    assert_eq!((outbox.due(), outbox.left()), (Some(0), None), "all are due");
    assert_eq!(outbox.sent(0, us(5)), 2);
    assert_eq!((outbox.due(), outbox.left()), (Some(1), Some(us(205))));
    let ack = Ack { next: 1, held: Some(0b11) };
    assert_eq!(outbox.acknowledge(&ack), Acknowledged::Good { sample: None });
    assert_eq!(
        (outbox.due(), outbox.left()),
        (Some(0), None),
        "the oldest now; the others are held, or gone"
    );
}

#[test]
fn an_end_makes_what_flew_unknown_and_what_waited_not_sent() {
    let mut outbox = four();
    outbox.accept(Class::Report, &[4]).unwrap();
    outbox.accept(Class::SetPoint, &[5]).unwrap();
    assert_eq!(outbox.accept(Class::Report, &[6]), Err(SendError::QueueFull));
    let ack = Ack { next: 1, held: Some(1) };
    assert_eq!(outbox.acknowledge(&ack), Acknowledged::Good { sample: Some(us(1)) });
    outbox.hurry(&POLICY);
    assert_eq!(outbox.end(EndReason::Silence), 1, "the set-point is dropped");
    let not_sent = Outcome::NotSent(EndReason::Silence);
    let wanted = [
        (0, Outcome::Delivered),
        (1, Outcome::Unknown),
        (2, Outcome::Unknown),
        (3, Outcome::Unknown),
        (4, not_sent),
    ];
    assert_eq!(news(&mut outbox), wanted.map(|(ticket, outcome)| (ticket, Tell::Outcome(outcome))));
    assert!(outbox.is_empty() && outbox.due().is_none() && outbox.left().is_none());
}

/// What waits to be told outlives an acknowledgement, unless it is no longer true.
#[test]
fn an_acknowledgement_takes_back_that_an_item_is_sent_again_and_no_outcome() {
    let mut outbox = four();
    let mut dice = Dice::new(0);
    outbox.elapse(us(100));
    outbox.expire(&POLICY, &mut dice);
    assert!(matches!(outbox.acknowledge(&Ack { next: 1, held: Some(1) }), Acknowledged::Good { .. }));
    let wanted = [(0, Tell::Outcome(Outcome::Delivered)), (1, Tell::Resent(2)), (3, Tell::Resent(2))];
    assert_eq!(news(&mut outbox), wanted, "the third is held");
    let once = Policy { tries: Some(1), ..POLICY };
    let mut outbox = four();
    outbox.elapse(us(100));
    outbox.expire(&once, &mut dice);
    assert!(matches!(outbox.acknowledge(&Ack { next: 4, held: None }), Acknowledged::Good { .. }));
    assert_eq!(news(&mut outbox), [0, 1, 2, 3].map(|ticket| (ticket, Tell::Outcome(Outcome::Unknown))));
    assert!(outbox.is_empty());
}

#[test]
fn a_void_that_has_arrived_leaves_the_queue() {
    let mut outbox = four();
    outbox.elapse(us(100));
    outbox.expire(&Policy { tries: Some(1), ..POLICY }, &mut Dice::new(0));
    assert_eq!(news(&mut outbox).len(), 4);
    assert!(!outbox.is_empty(), "their numbers travel on");
    assert!(matches!(outbox.acknowledge(&Ack { next: 3, held: None }), Acknowledged::Good { .. }));
    assert!(!outbox.is_empty() && !outbox.has_news());
    assert!(matches!(outbox.acknowledge(&Ack { next: 4, held: None }), Acknowledged::Good { .. }));
    assert!(outbox.is_empty());
}

/// An errand behind a window that stays closed may wait while very many set-points and notices go by.
#[test]
fn no_two_items_have_one_ticket_however_long_one_waits() {
    let mut outbox = Four::new();
    let (errand, _) = outbox.accept(Class::Errand, &[1]).unwrap();
    for _ in 0..200_000_u32 {
        let (notice, _) = outbox.accept(Class::Notice, &[8]).unwrap();
        assert_ne!(notice, errand);
        outbox.forget(outbox.notice().unwrap());
    }
}
