//! Every loss of one frame, and of two, of a small conversation: each message arrives once, errands in order, outcomes are true.

mod common;

use bellwire::{frame::Class, link::Outcome};
use common::{Pair, Told, Who};

fn converse<const W: usize, const Q: usize>(lost: [usize; 2]) {
    let mut pair = Pair::<_, W, Q>::opened();
    let first = pair.sent.len();
    pair.line = Box::new(move |at, _| if lost.contains(&(at - first)) { vec![] } else { vec![0] });
    for item in 0..4 {
        let class = if item % 3 == 2 { Class::Report } else { Class::Errand };
        pair.send(Who::Desk, class, &[item]).unwrap();
        pair.send(Who::Dome, Class::Report, &[item]).unwrap();
    }
    pair.run(3_000_000);
    let errands: Vec<Vec<u8>> = vec![vec![0], vec![1], vec![3]];
    assert_eq!(pair.got(Who::Dome, Class::Errand), errands, "without {lost:?}");
    assert_eq!(pair.got(Who::Dome, Class::Report), [[2]], "without {lost:?}");
    let mut reports = pair.got(Who::Desk, Class::Report);
    reports.sort();
    assert_eq!(reports, [[0], [1], [2], [3]], "without {lost:?}");
    for who in Who::BOTH {
        let outcomes = pair.outcomes(who);
        assert_eq!(outcomes.len(), 4);
        assert!(
            outcomes.iter().all(|(_, outcome)| *outcome == Outcome::Delivered),
            "without {lost:?}: {outcomes:?}"
        );
    }
    assert!(!pair.told.iter().flatten().any(|(_, told)| matches!(told, Told::Ended(_) | Told::Refused(_))));
}

#[test]
fn any_one_or_two_lost_frames_with_a_window_of_one() {
    for first in 0..20 {
        for second in first..20 {
            converse::<1, 4>([first, second]);
        }
    }
}

#[test]
fn any_one_or_two_lost_frames_with_a_window_of_four() {
    for first in 0..20 {
        for second in first..20 {
            converse::<4, 4>([first, second]);
        }
    }
}
