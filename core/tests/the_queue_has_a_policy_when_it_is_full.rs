//! What `send` accepts, what it displaces, what goes first.

#![allow(clippy::cast_possible_truncation)]

mod common;

use bellwire::{
    frame::{Class, Kind},
    link::SendError,
    stats::Counter,
};
use common::{Pair, Who};

fn send(
    pair: &mut Pair<bellwire::framing::Cobs, 2, 4>,
    class: Class,
    payload: &[u8],
) -> Result<u16, SendError> {
    let now = pair.instant();
    pair.link(Who::Desk).send(now, class, payload).map(|ticket| ticket.get())
}

#[test]
fn errands_and_reports_are_refused_and_the_caller_keeps_them() {
    let mut pair = Pair::<_, 2, 4>::opened();
    for item in 0..4 {
        assert_eq!(send(&mut pair, Class::Errand, &[9, item as u8]), Ok(item));
    }
    for class in Class::ALL {
        assert_eq!(send(&mut pair, class, &[3, 1]), Err(SendError::QueueFull));
    }
    pair.run(50_000);
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 0], [9, 1], [9, 2], [9, 3]]);
    assert_eq!(pair.outcomes(Who::Desk).len(), 4);
    assert_eq!(send(&mut pair, Class::Report, &[3, 1]), Ok(4), "a refused item takes no ticket");
}

#[test]
fn a_notice_or_set_point_displaces_the_oldest_notice() {
    let mut pair = Pair::<_, 2, 4>::opened();
    for item in 0..4 {
        send(&mut pair, Class::Notice, &[5, item]).unwrap();
    }
    send(&mut pair, Class::Notice, &[5, 4]).unwrap();
    send(&mut pair, Class::SetPoint, &[7, 1]).unwrap();
    send(&mut pair, Class::SetPoint, &[7, 2]).unwrap();
    assert_eq!(send(&mut pair, Class::Errand, &[9]), Err(SendError::QueueFull));
    assert_eq!(pair.links[0].statistics().get(Counter::NotSent), 2);
    pair.run(50_000);
    assert_eq!(pair.got(Who::Dome, Class::Notice), [[5, 2], [5, 3], [5, 4]]);
    assert_eq!(pair.got(Who::Dome, Class::SetPoint), [[7, 2]]);
}

#[test]
fn set_points_go_first_then_what_is_sent_again_then_new_ones_then_notices() {
    let mut pair = Pair::<_, 2, 4>::opened();
    pair.line = Box::new(
        |_, sent| if sent.from == Who::Desk && sent.kind == Kind::Errand { vec![] } else { vec![0] },
    );
    pair.send(Who::Desk, Class::Errand, &[9, 1]).unwrap();
    // The errand times out and is due again, but is not polled before the others are accepted.
    let bellwire::link::When::At(due) = pair.links[0].poll_wake().when else { panic!() };
    pair.now = u64::from(due.as_ticks());
    let now = pair.instant();
    pair.link(Who::Desk).handle_timeout(now);
    for (class, payload) in [(Class::Notice, [5, 1]), (Class::Errand, [9, 2]), (Class::SetPoint, [7, 1])] {
        send(&mut pair, class, &payload).unwrap();
    }
    pair.forget();
    pair.drain(Who::Desk);
    let kinds: Vec<_> = pair.sent.iter().map(|sent| (sent.kind, sent.number)).collect();
    assert_eq!(kinds, [(Kind::SetPoint, 0), (Kind::Errand, 0), (Kind::Errand, 1), (Kind::Notice, 0)]);
}

#[test]
fn nothing_is_accepted_that_cannot_be_sent() {
    let mut pair = Pair::<_, 2, 4>::at(0);
    for class in Class::ALL {
        assert_eq!(send(&mut pair, class, &[9]), Err(SendError::NotOpen));
    }
    pair.run(20_000);
    for class in Class::ALL {
        assert_eq!(send(&mut pair, class, &[9; 49]), Err(SendError::TooLong { limit: 48 }));
        for bad in [&[][..], &[0x80], &[0x80, 0x00]] {
            assert_eq!(send(&mut pair, class, bad), Err(SendError::BadMessageNumber));
        }
        send(&mut pair, class, &[9; 48]).unwrap();
        pair.run(20_000);
    }
    assert_eq!(pair.got(Who::Dome, Class::Report), [[9; 48]]);
}
