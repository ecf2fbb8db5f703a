//! P2 of the design and W-16, W-38 to W-40: what a frame costs, when an acknowledgement leaves, and what it may say.

mod common;

use bellwire::{
    frame::{Ack, Class, Kind, Read, Reader},
    framing::Cobs,
    link::{Config, Event, Outcome},
    stats::Counter,
};
use common::{Pair, Sent, Told, Who, config, us};

fn ack(sent: &Sent) -> Option<Ack> {
    let mut reader = Reader::<Cobs, bellwire::fcs::Fcs16, 64>::new(Cobs);
    let (_, Some(Read::Frame(view))) = reader.feed(&sent.wire) else { panic!() };
    view.header.ack
}

#[test]
fn a_set_point_costs_six_octets_back_to_back_and_seven_after_a_pause() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let now = pair.instant();
    for message in 1..4 {
        pair.link(Who::Desk).send(now, Class::SetPoint, &[message; 10]).unwrap();
    }
    pair.drain(Who::Desk);
    let costs: Vec<usize> = pair.sent.iter().map(|sent| sent.wire.len() - 10).collect();
    assert_eq!(costs, [7, 6, 6]);
}

#[test]
fn no_frame_needs_more_than_max_transmit() {
    let most = common::Board::<Cobs, 1, 4>::max_transmit();
    assert_eq!(most, 64 + 3, "a full buffer, one octet of COBS, two delimiters");
    let mut pair = Pair::<_, 1, 4>::at(0);
    pair.run(20_000);
    for class in Class::ALL {
        pair.send(Who::Desk, class, &[9; 48]).unwrap();
        pair.run(20_000);
    }
    assert!(pair.sent.iter().all(|sent| sent.wire.len() <= most));
}

#[test]
fn an_acknowledgement_on_a_message_costs_one_octet_and_saves_a_frame() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.send(Who::Desk, Class::Errand, &[9, 1]).unwrap();
    // The dome's program answers at once, before the frame polls.
    while pair.links[1].poll_wake().reason != bellwire::link::WakeReason::Event {
        let wire = pair.sent[0].wire.clone();
        let now = pair.instant();
        let _ = pair.link(Who::Dome).handle_octets(now, &wire);
    }
    let now = pair.instant();
    let dome = pair.link(Who::Dome);
    assert!(matches!(dome.poll_event(), Some(Event::Message(_))));
    dome.send(now, Class::Report, &[3, 2]).unwrap();
    pair.drain(Who::Dome);
    let answer = pair.sent.last().unwrap().clone();
    assert_eq!((answer.kind, ack(&answer)), (Kind::Report, Some(Ack { next: 1, held: None })));
    assert_eq!(answer.wire.len(), 2 + 7 + 1);
    assert!(pair.sent.iter().all(|sent| sent.kind != Kind::Ack));
}

#[test]
fn a_delayed_acknowledgement_leaves_after_the_delay_and_not_before() {
    let delayed = Config { ack_delay: us(4_000), ..config(2_000) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(1_000), delayed], 0);
    pair.run(20_000);
    pair.forget();
    pair.send(Who::Desk, Class::Errand, &[9, 1]).unwrap();
    pair.run(100_000);
    let (arrived, _) = pair.told[Who::Dome as usize][0].clone();
    assert_eq!(pair.kinds(), [(Who::Desk, Kind::Errand), (Who::Dome, Kind::Ack)]);
    assert_eq!(pair.sent[1].at - arrived, 4_000);
}

#[test]
fn nothing_is_acknowledged_before_it_is_handed_over() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    pair.forget();
    pair.send(Who::Desk, Class::Report, &[3, 1]).unwrap();
    let wire = pair.sent[0].wire.clone();
    let now = pair.instant();
    let dome = pair.link(Who::Dome);
    assert_eq!(dome.handle_octets(now, &wire), wire.len());
    assert!(dome.poll_transmit(now, &mut [0; 100]).is_none(), "not handed over yet");
    assert_eq!(dome.handle_octets(now, &[1, 2, 3]), 0, "nothing is taken while an event waits");
    assert!(dome.poll_event().is_some());
    assert!(dome.poll_transmit(now, &mut [0; 100]).is_some());
}

#[test]
fn errands_that_overtake_are_held_named_and_handed_over_in_order() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    pair.forget();
    pair.line = Box::new(|_, sent| if sent.from == Who::Desk { vec![] } else { vec![0] });
    for item in 0..4 {
        pair.send(Who::Desk, Class::Errand, &[9, item]).unwrap();
    }
    let wires: Vec<Vec<u8>> = pair.sent.iter().map(|sent| [&[0], &sent.wire[..]].concat()).collect();
    let after = |pair: &mut Pair<Cobs, 4, 8>, item: usize| {
        let before = pair.sent.len();
        pair.feed(Who::Dome, &wires[item]);
        pair.sent[before..].iter().filter_map(ack).next_back()
    };
    assert_eq!(after(&mut pair, 2), Some(Ack { next: 0, held: Some(0b010) }));
    assert_eq!(after(&mut pair, 3), Some(Ack { next: 0, held: Some(0b110) }));
    assert_eq!(
        after(&mut pair, 3),
        Some(Ack { next: 0, held: Some(0b110) }),
        "a repeat is acknowledged again"
    );
    assert_eq!(pair.told(Who::Dome), []);
    assert_eq!(after(&mut pair, 0), Some(Ack { next: 1, held: Some(0b011) }));
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 0]]);
    assert_eq!(after(&mut pair, 1), Some(Ack { next: 4, held: None }));
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 0], [9, 1], [9, 2], [9, 3]]);
}

#[test]
fn a_report_counts_as_delivered_by_its_bit_and_an_errand_does_not() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    pair.forget();
    pair.line =
        Box::new(|_, sent| if sent.number == 0 && sent.kind == Kind::Errand { vec![] } else { vec![0] });
    let now = pair.instant();
    for (class, item) in [(Class::Errand, 0), (Class::Errand, 1), (Class::Report, 2)] {
        pair.link(Who::Desk).send(now, class, &[9, item]).unwrap();
    }
    pair.run(9_000);
    assert_eq!(pair.outcomes(Who::Desk), [(2, Outcome::Delivered)]);
    // What was overtaken is sent again long before its time-out.
    assert!(
        pair.told(Who::Desk).iter().any(|told| matches!(told, Told::Resent(ticket, 2) if ticket.get() == 0))
    );
    assert!(
        !pair.told(Who::Desk).iter().any(|told| matches!(told, Told::Resent(ticket, _) if ticket.get() > 0))
    );
    pair.line = common::perfect();
    pair.run(200_000);
    assert_eq!(pair.outcomes(Who::Desk)[1..], [(0, Outcome::Delivered), (1, Outcome::Delivered)]);
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 0], [9, 1]]);
}

/// The last one is given with the others of its run: nothing is left to ask for.
#[test]
fn when_the_last_held_errand_is_given_no_event_waits() {
    let mut pair = Pair::<_, 2, 4>::at(0);
    pair.run(20_000);
    pair.forget();
    pair.line = Box::new(|_, _| vec![]);
    for item in 0..2 {
        pair.send(Who::Desk, Class::Errand, &[9, item]).unwrap();
    }
    let [first, second] = [0, 1].map(|at| [&[0], &pair.sent[at].wire[..]].concat());
    let now = pair.instant();
    let dome = pair.link(Who::Dome);
    for wire in [second, first] {
        assert_eq!(dome.handle_octets(now, &wire), wire.len());
    }
    for item in 0..2 {
        assert!(dome.has_event());
        assert!(matches!(dome.poll_event(), Some(Event::Message(message)) if message.payload == [9, item]));
    }
    assert!(!dome.has_event());
    assert_eq!(dome.poll_wake().reason, bellwire::link::WakeReason::Transmit);
}

#[test]
fn what_was_owed_in_a_session_is_not_owed_in_the_next() {
    let delayed = Config { ack_delay: us(500_000), ..config(2_000) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(1_000), delayed], 0);
    pair.run(20_000);
    pair.send(Who::Desk, Class::Errand, &[9, 1]).unwrap();
    pair.run(10_000);
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 1]]);
    pair.restart(Who::Desk, 50_000);
    pair.run(20_000);
    assert!(pair.is_up());
    pair.forget();
    pair.run(700_000);
    assert_eq!(pair.kinds(), [], "keep-alives come after a second");
}

#[test]
fn each_outcome_is_counted() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    pair.line =
        Box::new(|_, sent| if sent.kind == Kind::Errand && sent.number > 2 { vec![] } else { vec![0] });
    for item in 0..8 {
        pair.send(Who::Desk, Class::Errand, &[9, item]).unwrap();
    }
    pair.run(30_000);
    let now = pair.instant();
    pair.link(Who::Desk).close(now);
    pair.drain(Who::Desk);
    let counted = [Counter::Delivered, Counter::Unknown, Counter::NotSent];
    assert_eq!(counted.map(|counter| pair.links[0].statistics().get(counter)), [3, 4, 1]);
}
