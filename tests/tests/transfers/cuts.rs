//! Cut at every message, at the sender, at the receiver, at both, on the line: at most one part and one map are resent.

use super::{
    end::Count,
    run::{Cut, Joined, Make, Sum, What, run},
};
use bellwire::transfer::{Outcome, State};
use core::time::Duration;

const ALL: [Joined; 4] = [Joined::Wire, Joined::Radio, Joined::ToLeaf, Joined::ToHub];

fn assert_whole(make: &Make, sum: &Sum) {
    assert_eq!(sum.outcome, Outcome::Delivered, "{make:?}");
    assert_eq!((sum.state, sum.wholes), (State::Done, 1), "{:?} {:?}", make.joined, make.cut);
    assert!(sum.store[..] == make.content[..], "{:?} {:?}", make.joined, make.cut);
}

fn parts(make: &Make) -> u32 {
    u32::try_from(make.content.len().div_ceil(make.part.into())).expect("few")
}

#[test]
fn without_a_cut_every_part_goes_once() {
    for joined in ALL {
        for every in [None, Some(Duration::from_millis(20))] {
            let make = Make { every, ..Make::new(joined, 1_000, 4) };
            let sum = run(&make);
            assert_whole(&make, &sum);
            assert_eq!(sum.sent, Count { offers: 1, parts: 16, asks: 0, maps: 4, others: 1 }, "{joined:?}");
            assert_eq!(sum.sent, sum.heard);
        }
    }
}

#[test]
fn a_restart_at_any_message_of_either_end_costs_at_most_one_part_and_one_map() {
    let (mut cuts, mut most) = (0, [0; 2]);
    for joined in ALL {
        for (window, every) in [(1, None), (4, None), (4, Some(Duration::from_millis(20)))] {
            let whole = Make { every, ..Make::new(joined, 600, window) };
            let plain = run(&whole).sent;
            let restarts = [What::Desk, What::Mast, What::Both];
            let ways = (1..=plain.all()).flat_map(|after| {
                let sent = restarts.map(|what| Cut::Sent(after, what));
                let heard = restarts.map(|what| Cut::Heard(after, what));
                sent.into_iter().chain(heard).chain([Cut::Unstored(after)])
            });
            for cut in ways {
                let make = Make { cut, ..whole.clone() };
                let sum = run(&make);
                assert_whole(&make, &sum);
                let extra = [sum.sent.parts - parts(&make), sum.sent.maps.saturating_sub(plain.maps)];
                assert!(extra[0] <= 1 && extra[1] <= 1, "{joined:?} {window} {every:?} {cut:?}: {extra:?}");
                most = [0, 1].map(|which| most[which].max(extra[which]));
                cuts += 1;
            }
        }
    }
    println!("{cuts} cuts; at most resent: {} part, {} map", most[0], most[1]);
    assert_eq!(most, [1, 1], "the cuts are real");
}

/// While the line is cut the rest of the window goes to nobody; nothing beyond it.
#[test]
fn a_line_cut_at_any_message_costs_what_it_lost_and_no_more() {
    let mut lost = 0;
    for joined in ALL {
        let whole = Make::new(joined, 600, 4);
        let plain = run(&whole).sent;
        for after in 1..=plain.all() {
            for millis in [5, 40, 400] {
                let cut = Cut::Sent(after, What::Line(Duration::from_millis(millis)));
                let make = Make { cut, ..whole.clone() };
                let sum = run(&make);
                assert_whole(&make, &sum);
                assert_eq!(sum.heard.parts, parts(&make), "{joined:?} {cut:?}: each part comes once");
                lost = lost.max(sum.sent.parts - sum.heard.parts);
            }
        }
    }
    assert_eq!(lost, 4, "at most a window");
}
