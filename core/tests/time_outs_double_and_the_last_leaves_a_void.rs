//! W-37, W-49, W-50: times of all sendings, the outcome unknown, and the void that travels on.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

mod common;

use bellwire::{
    frame::{Class, Kind},
    framing::Cobs,
    link::{Config, Outcome},
    stats::Counter,
};
use common::{Pair, Told, Who, config, us};

/// µs in which a frame of so many octets leaves, as a link reckons it.
fn leaving(octets: u64) -> u64 {
    (octets * 1_000_000).div_ceil(11_520)
}

#[test]
fn the_times_of_all_sendings_are_exact() {
    let quiet = |own| Config { keep_alive: us(0), ..config(own) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [quiet(1_000), quiet(2_000)], 0);
    pair.run(20_000);
    pair.forget();
    pair.line = Box::new(|_, sent| if sent.kind == Kind::Errand { vec![] } else { vec![0] });
    let start = pair.now;
    let ticket = pair.send(Who::Desk, Class::Errand, &[9, 1, 2]).unwrap();
    pair.run(6_000_000);
    let errands: Vec<_> = pair.sent.iter().filter(|sent| sent.kind == Kind::Errand).collect();
    // No sample yet: max(50 ms, eight largest frames); a largest frame is 8 + 48 + 2 octets, 1 for COBS, 2 delimiters.
    let first = 50_000_u64.max(8 * leaving(8 + 48 + 2 + 3));
    let frame = leaving(2 + 3 + 2 + 3);
    let mut wanted = vec![start];
    let mut time_out = first;
    for _ in 0..4 {
        wanted.push(wanted.last().unwrap() + frame + time_out);
        time_out = (time_out * 2).min(1_000_000);
    }
    let times: Vec<u64> = errands.iter().map(|sent| sent.at).collect();
    assert_eq!(times[..5], wanted);
    // After the last time-out the void goes at once, then at the capped pace.
    let void = wanted[4] + frame + time_out;
    let empty = leaving(2 + 2 + 3);
    assert_eq!(times[5..8], [void, void + empty + 1_000_000, void + 2 * (empty + 1_000_000)]);
    assert!(errands[5..].iter().all(|sent| sent.wire.len() == 7));
    assert_eq!(errands[0].wire.len(), 10);

    let told = &pair.told[Who::Desk as usize];
    let resent: Vec<_> = told.iter().filter(|(_, told)| matches!(told, Told::Resent(..))).cloned().collect();
    let wanted: Vec<_> = (1..5).map(|at| (wanted[at], Told::Resent(ticket, at as u8 + 1))).collect();
    assert_eq!(resent, wanted);
    assert_eq!(pair.outcomes(Who::Desk), [(ticket.get(), Outcome::Unknown)]);
    assert_eq!(told.last().unwrap().0, void);
    let resent = pair.links[0].statistics().get(Counter::Resent);
    assert_eq!(resent as usize, errands.len() - 1, "every sending but the first, the void's too");
}

#[test]
fn a_void_takes_the_number_and_what_follows_arrives() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    pair.forget();
    let errands = |sent: &common::Sent| sent.kind == Kind::Errand && sent.number == 0 && sent.wire.len() > 8;
    pair.line = Box::new(move |_, sent| if errands(sent) { vec![] } else { vec![0] });
    for item in 0..6 {
        pair.send(Who::Desk, Class::Errand, &[item, 0xAA, 0xBB]).unwrap();
    }
    pair.run(10_000_000);
    let got: Vec<u8> = pair.got(Who::Dome, Class::Errand).iter().map(|payload| payload[0]).collect();
    assert_eq!(got, [1, 2, 3, 4, 5]);
    assert_eq!(pair.outcomes(Who::Desk)[0], (0, Outcome::Unknown));
    assert!(pair.outcomes(Who::Desk)[1..].iter().all(|(_, outcome)| *outcome == Outcome::Delivered));
    assert_eq!(pair.outcomes(Who::Desk).len(), 6);
    assert!(pair.is_up(), "one lost message costs one unknown, not the session");
}

#[test]
fn what_arrived_but_was_never_acknowledged_is_unknown_not_failed() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.line =
        Box::new(|_, sent| if sent.from == Who::Dome && sent.kind == Kind::Ack { vec![] } else { vec![0] });
    pair.send(Who::Desk, Class::Report, &[3, 0xAA]).unwrap();
    pair.run(2_500_000);
    assert_eq!(pair.got(Who::Dome, Class::Report), [[3, 0xAA]]);
    assert_eq!(pair.outcomes(Who::Desk), [(0, Outcome::Unknown)]);
}
