//! W-43 to W-46: newest wins, nothing fresh is refused after an outage, nothing old passes, and no set-point waits behind a full line.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

mod common;

use bellwire::{
    fcs::Fcs16,
    frame::{Class, Header, Kind, Reject, write},
    framing::{Cobs, Datagram, Lead},
    link::{Config, Event, OwnNumber, State, WakeReason, When},
    stats::Counter,
    time::{Instant, after},
};
use common::{Pair, Told, Who, config, us};

const L: u32 = 200_000;

fn radio() -> Pair<Datagram, 1, 4> {
    let configs = [1_000, 2_000].map(|own| Config {
        jitter_seed: 0,
        keep_alive: us(0),
        ..Config::datagram(common::RATE, us(L), OwnNumber::Stored(own))
    });
    let mut pair = Pair::new(Datagram, configs, 0);
    pair.run(20_000);
    assert!(pair.is_up());
    pair.forget();
    pair
}

/// A set-point of the session of `radio`, as the desk sends it.
fn set_point(number: u8, value: u8) -> Vec<u8> {
    let mut header = Header::new(Kind::SetPoint);
    let session = 3_000_u32;
    header.session = (session & 3) as u8;
    header.tag = Some((session >> 2) as u16);
    header.number = number;
    let mut out = [0; 64];
    let len = write::<_, Fcs16>(&Datagram, &header, &[7, value], Lead::Delimiter, &mut out).unwrap();
    out[..len].to_vec()
}

#[test]
fn on_a_wire_every_one_is_delivered_after_an_outage_of_any_length() {
    for outage in [1_u32, 127, 128, 129, 200, 255, 256, 300] {
        let mut pair = Pair::<_, 1, 4>::opened();
        pair.send(Who::Desk, Class::SetPoint, &[7, 1]).unwrap();
        pair.run(10_000);
        pair.line = Box::new(|_, sent| if sent.kind == Kind::SetPoint { vec![] } else { vec![0] });
        for _ in 0..outage {
            pair.send(Who::Desk, Class::SetPoint, &[7, 2]).unwrap();
            pair.run(10_000);
        }
        pair.line = common::perfect();
        pair.send(Who::Desk, Class::SetPoint, &[7, 3]).unwrap();
        pair.run(10_000);
        assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 1], [7, 3]], "outage of {outage}");
        let Some(Told::Message { missed, .. }) = pair.told(Who::Dome).last().cloned() else { panic!() };
        assert_eq!(u32::from(missed), outage % 256);
        assert_eq!(pair.links[1].statistics().get(Counter::SetPointsLost), outage % 256);
    }
}

#[test]
fn a_newer_value_takes_the_place_of_one_that_waits() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let now = pair.instant();
    let link = pair.link(Who::Desk);
    for value in 0..20 {
        link.send(now, Class::SetPoint, &[7, value]).unwrap();
        link.send(now, Class::SetPoint, &[8, value]).unwrap();
    }
    pair.run(20_000);
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 19], [8, 19]]);
    assert!(pair.outcomes(Who::Desk).is_empty(), "set-points have no outcome");
}

#[test]
fn a_lost_one_is_never_sent_again() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.line = Box::new(|_, sent| if sent.kind == Kind::SetPoint { vec![] } else { vec![0] });
    pair.send(Who::Desk, Class::SetPoint, &[7, 1]).unwrap();
    pair.run(10_000_000);
    assert_eq!(pair.sent.iter().filter(|sent| sent.kind == Kind::SetPoint).count(), 1);
}

#[test]
fn on_a_radio_only_newer_ones_pass() {
    let mut pair = radio();
    for (number, passes) in [
        (10, true),
        (9, false),
        (10, false),
        (11, true),
        (11 + 127, true),
        (138 - 127, false),
        (138_u8.wrapping_add(128), false),
    ] {
        let before = pair.got(Who::Dome, Class::SetPoint).len();
        pair.feed(Who::Dome, &set_point(number, number));
        assert_eq!(pair.got(Who::Dome, Class::SetPoint).len() > before, passes, "number {number}");
    }
    assert_eq!(pair.links[1].statistics().rejects(Reject::StaleSetPoint), 4);
}

#[test]
fn on_a_radio_a_fresh_one_passes_after_an_outage_of_a_lifetime() {
    let mut pair = radio();
    pair.feed(Who::Dome, &set_point(0, 0));
    pair.run(u64::from(L) - 1);
    pair.feed(Who::Dome, &set_point(128, 1));
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 0]], "incomparable, and the lifetime is not over");
    pair.run(1);
    pair.feed(Who::Dome, &set_point(128, 2));
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 0], [7, 2]]);
}

#[test]
fn on_a_radio_the_first_of_the_next_session_is_new() {
    let mut pair = radio();
    for value in 0..5 {
        pair.send(Who::Desk, Class::SetPoint, &[7, value]).unwrap();
        pair.run(2_000);
    }
    pair.restart(Who::Desk, 50_000);
    pair.run(20_000);
    pair.forget();
    pair.send(Who::Desk, Class::SetPoint, &[7, 9]).unwrap();
    pair.run(2_000);
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 9]], "numbers begin at 0 again");
}

#[test]
fn on_a_radio_at_most_127_are_sent_in_any_two_lifetimes() {
    let mut pair = radio();
    for value in 0..2_000_u32 {
        pair.send(Who::Desk, Class::SetPoint, &[7, value as u8]).unwrap();
        pair.run(1_000);
    }
    pair.run(2 * u64::from(L));
    let times: Vec<u64> =
        pair.sent.iter().filter(|sent| sent.kind == Kind::SetPoint).map(|sent| sent.at).collect();
    let most = times
        .iter()
        .map(|&first| times.iter().filter(|&&at| at >= first && at < first + 2 * u64::from(L)).count());
    assert_eq!(most.max(), Some(127));
    assert!(times.len() > 127 * 2_000 / 400 * 3 / 4, "but not much fewer: {}", times.len());
    assert_eq!(pair.got(Who::Dome, Class::SetPoint).len(), times.len());
    assert_eq!(
        pair.got(Who::Dome, Class::SetPoint).last().unwrap()[1],
        (1_999_u32 % 256) as u8,
        "the newest comes through"
    );
}

#[test]
fn none_is_started_while_too_much_is_unsent_before_it() {
    let configs =
        [1_000, 2_000].map(|own| Config { set_point_backlog: 10, keep_alive: us(0), ..config(own) });
    let mut pair = Pair::<_, 1, 4>::new(Cobs, configs, 0);
    pair.run(20_000);
    pair.forget();
    let start = pair.now;
    pair.send(Who::Desk, Class::Notice, &[5; 40]).unwrap();
    let unsent = pair.sent[0].wire.len() as u64;
    pair.send(Who::Desk, Class::SetPoint, &[7, 1]).unwrap();
    pair.send(Who::Desk, Class::Notice, &[6; 40]).unwrap();
    assert_eq!(pair.sent.len(), 1, "and nothing else overtakes it");
    let wake = pair.links[0].poll_wake();
    assert_eq!(wake.reason, WakeReason::SetPoint);
    pair.run(3_000);
    pair.send(Who::Desk, Class::SetPoint, &[7, 2]).unwrap();
    pair.run(20_000);
    let times: Vec<(Kind, u64)> = pair.sent.iter().map(|sent| (sent.kind, sent.at - start)).collect();
    let octet = 1_000_000.0 / 11_520.0;
    let due = ((unsent - 10) as f64 * octet) as u64;
    assert_eq!((times[1].0, times[2].0), (Kind::SetPoint, Kind::Notice));
    assert!(times[1].1.abs_diff(due) <= 2, "{times:?}, due at {due}");
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 2]], "the newest");
}

#[test]
fn what_the_driver_still_holds_corrects_the_estimate() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let now = pair.instant();
    pair.link(Who::Desk).handle_unsent(now, 1_000);
    pair.send(Who::Desk, Class::SetPoint, &[7, 1]).unwrap();
    assert!(pair.sent.is_empty());
    let When::At(at) = pair.links[0].poll_wake().when else { panic!() };
    let wait = at.as_ticks() - now.as_ticks();
    assert_eq!(wait, 1_000_u32 * 1_000_000 / 11_520 + 1 - (64_u32 * 1_000_000).div_ceil(11_520));
    pair.link(Who::Desk).handle_unsent(now, 20);
    pair.drain(Who::Desk);
    assert_eq!(pair.sent.len(), 1);
    assert_eq!(pair.links[0].state(), State::Up);
}

/// A wire whose closing delimiter is lost: what comes much later and ends the frame makes it no younger.
#[test]
fn a_set_point_whose_delimiter_came_late_is_as_old_as_its_octets() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let mut header = Header::new(Kind::SetPoint);
    header.session = (3_000_u32 & 3) as u8;
    let mut wire = [0; 64];
    let len = write::<_, Fcs16>(&Cobs, &header, &[7, 1], Lead::Delimiter, &mut wire).unwrap();
    let begun = pair.instant();
    let link = pair.link(Who::Dome);
    assert_eq!(link.handle_octets(begun, &wire[..4]), 4);
    assert_eq!(link.handle_octets(after(begun, us(200)), &wire[4..len - 1]), len - 5);
    let late = after(begun, us(900_000));
    assert_eq!(link.handle_octets(late, &[0]), 1);
    let Some(Event::Message(message)) = link.poll_event() else { panic!("no set-point") };
    assert_eq!((message.payload, message.arrived), (&[7, 1][..], begun));
    // The next one is as old as its own octets.
    header.number = 1;
    let len = write::<_, Fcs16>(&Cobs, &header, &[7, 2], Lead::Delimiter, &mut wire).unwrap();
    assert_eq!(link.handle_octets(late, &wire[..len]), len);
    let Some(Event::Message(message)) = link.poll_event() else { panic!("no set-point") };
    assert_eq!(message.arrived, late);
}

/// Stamps of octets that waited long in a queue must not count the wait twice, or a copy is forgotten before it is dead.
#[test]
fn old_stamps_do_not_make_time_pass_twice() {
    const LIFE: u32 = 4_000_000;
    let configs = [1_000, 2_000].map(|own| Config {
        jitter_seed: 0,
        keep_alive: us(0),
        ..Config::datagram(common::RATE, us(LIFE), OwnNumber::Stored(own))
    });
    let mut pair = Pair::<Datagram, 1, 4>::new(Datagram, configs, 0);
    pair.run(20_000);
    let begun = pair.instant();
    let at = |seconds: u32| after(begun, us(seconds * 1_000_000));
    let link = pair.link(Who::Dome);
    let (first, copy) = (set_point(5, 1), set_point(5, 1));
    assert_eq!(link.handle_octets(begun, &first), first.len());
    while link.poll_event().is_some() {}
    // The loop hangs for three seconds; what came in meanwhile waits with its stamps.
    link.handle_timeout(at(3));
    let keep_alive = set_point(5, 1);
    assert_eq!(link.handle_octets(at(1), &keep_alive), keep_alive.len());
    while link.poll_event().is_some() {}
    link.handle_timeout(at(3));
    assert_eq!(link.handle_octets(at(3), &copy), copy.len());
    let mut refused = false;
    while let Some(event) = link.poll_event() {
        assert!(!matches!(event, Event::Message(_)), "a copy younger than L was taken for new");
        refused |= event == Event::Refused(Reject::StaleSetPoint);
    }
    assert!(refused);
}

#[test]
fn set_points_faster_than_the_line_starve_nobody() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let link = pair.link(Who::Desk);
    let mut now = Instant::from_ticks(20_000);
    link.handle_timeout(now);
    link.send(now, Class::Errand, &[9, 1]).unwrap();
    link.send(now, Class::Notice, &[8, 1]).unwrap();
    let mut kinds = Vec::new();
    for value in 0..4 {
        // There is room on the line for one frame at a time, and each time there is, a new value waits.
        link.send(now, Class::SetPoint, &[7, value]).unwrap();
        let mut out = [0; 80];
        let len = link.poll_transmit(now, &mut out).unwrap();
        let mut reader = bellwire::frame::Reader::<_, Fcs16, 64>::new(Cobs);
        let mut rest = &out[..len];
        while !rest.is_empty() {
            let (taken, read) = reader.feed(rest);
            rest = &rest[taken..];
            if let Some(bellwire::frame::Read::Frame(view)) = read {
                kinds.push(view.header.kind);
            }
        }
        now = after(now, us(20_000));
    }
    assert_eq!(kinds, [Kind::SetPoint, Kind::Errand, Kind::SetPoint, Kind::Notice]);
}
