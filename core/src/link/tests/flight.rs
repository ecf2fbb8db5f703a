//! What an acknowledgement, a time-out and an overtaking mean for one item: every case against the wire text.

use super::{
    super::{
        Outcome,
        flight::{Arrived, Flight, Flights, Landing},
        item::Tell,
    },
    us,
};
use crate::{
    frame::Class,
    retry::{Dice, Policy},
    seq::Serial,
};

const POLICY: Policy = Policy { tries: Some(3), ceiling: 1_000_000, spread: 0 };

/// A flight that was sent so often, the last time 7 µs ago.
fn flight(sendings: u8) -> Flight {
    let mut flights = Flights::<1>::new();
    let number = flights.launch(us(100));
    for _ in 0..sendings {
        assert!(flights.sent(number, us(0)) > 0);
    }
    let flight = flights.get_mut(number).unwrap();
    flight.retry.elapse(us(7));
    *flight
}

/// Karn's rule: only what was sent once, and is not known to be there, is a sample.
#[test]
fn a_sample_is_what_was_sent_once_and_is_new() {
    for class in [Class::Errand, Class::Report] {
        for news in [Arrived::Passed, Arrived::Held] {
            for sendings in 1..4 {
                for (held, void) in [(false, false), (true, false), (false, true)] {
                    let mut flight = Flight { held, void, due: true, ..flight(sendings) };
                    let told = void || (held && class == Class::Report);
                    assert_eq!(flight.is_told(class), told);
                    let landing = flight.arrived(class, news);
                    // W-40: an errand that waits for an earlier one is not delivered yet, a report is.
                    let settles = news == Arrived::Passed || class == Class::Report;
                    let wanted = Landing {
                        sample: (sendings == 1 && !held).then_some(us(7)),
                        delivered: settles && !told,
                    };
                    assert_eq!(landing, wanted, "{class:?} {news:?} {sendings} {held} {void}");
                    assert_eq!((flight.held, flight.due, flight.void), (true, false, void));
                }
            }
        }
    }
}

#[test]
fn an_item_that_was_overtaken_is_sent_again_while_it_has_a_try_left() {
    for sendings in 1..5 {
        for mask in 0..8 {
            let [held, due, void] = [1, 2, 4].map(|bit| mask & bit != 0);
            let mut flight = Flight { held, due, void, ..flight(sendings) };
            let goes = mask == 0 && sendings < 3;
            assert_eq!(flight.hurry(&POLICY), goes.then_some(Tell::Resent(sendings + 1)), "{flight:?}");
            assert_eq!(flight.due, due || goes);
        }
    }
    let mut unlimited = flight(200);
    assert_eq!(unlimited.hurry(&Policy { tries: None, ..POLICY }), Some(Tell::Resent(201)));
}

#[test]
fn a_time_out_sends_again_until_the_tries_are_used_up_and_then_leaves_a_void() {
    let mut dice = Dice::new(0);
    let mut flight = flight(1);
    assert_eq!(flight.expire(&POLICY, &mut dice), None, "not due yet");
    for sendings in 2..=3 {
        flight.retry.elapse(us(1_000_000));
        assert_eq!(flight.expire(&POLICY, &mut dice), Some(Tell::Resent(sendings)));
        assert_eq!(flight.expire(&POLICY, &mut dice), None, "it waits to be sent");
        flight.due = false;
        flight.retry.sent(us(0));
    }
    assert!(!flight.void);
    flight.retry.elapse(us(1_000_000));
    assert_eq!(flight.expire(&POLICY, &mut dice), Some(Tell::Outcome(Outcome::Unknown)));
    assert!(flight.void && flight.is_told(Class::Errand) && flight.due);
    flight.due = false;
    flight.retry.sent(us(0));
    flight.retry.elapse(us(1_000_000));
    assert_eq!(flight.expire(&POLICY, &mut dice), None, "the void is sent again and tells nothing");
    assert!(flight.due);
    let mut held = Flight { held: true, ..flight };
    held.due = false;
    assert_eq!((held.expire(&POLICY, &mut dice), held.due), (None, false));
}

/// Ranks are a permutation of 0..n in the order of last sendings, whatever is sent again or lands.
#[test]
fn ranks_follow_the_order_of_last_sendings() {
    let mut flights = Flights::<4>::new();
    let ranks = |flights: &Flights<4>| flights.iter().map(|flight| flight.rank).collect::<std::vec::Vec<_>>();
    for _ in 0..4 {
        assert!(flights.is_open(8));
        let flight = flights.launch(us(100));
        assert_eq!(flights.sent(flight, us(0)), 1);
    }
    assert!(!flights.is_open(8), "four at a time");
    assert_eq!(ranks(&flights), [0, 1, 2, 3]);
    assert_eq!(flights.sent(1, us(0)), 2);
    assert_eq!(ranks(&flights), [0, 3, 1, 2]);
    assert_eq!(flights.number(1), Serial::new(1));
    flights.land(1);
    assert_eq!(ranks(&flights), [2, 0, 1]);
    assert_eq!(flights.number(0), Serial::new(1));
    assert_eq!(flights.settles(Serial::new(3)), Some(2));
    assert_eq!(flights.settles(Serial::new(5)), None, "never sent");
    flights.land(2);
    assert_eq!((ranks(&flights), flights.number(0)), (std::vec![0], Serial::new(3)));
    assert_eq!(flights.sent(3, us(0)), 0, "there is none");
}
