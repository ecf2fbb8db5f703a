//! The same traffic from 40 boards, with listening and with resends; a board that has looked needs a while to switch over and send.

use crate::station::{FRAME, Kind, run};
use bellwire_tests::seed;

/// How long the traffic lasts, in frame times.
const FRAMES: u64 = 100_000;

#[test]
fn listening_and_resends_lose_less_than_pure_aloha_and_the_books_balance() {
    let seed = seed("listening_and_resends_lose_less_than_pure_aloha_and_the_books_balance");
    println!(
        "40 boards, {FRAMES} frame times, switching over takes a twentieth of a frame, seed {:#x}",
        seed.value()
    );
    println!("  load  listens  tries  delivered   lost  sendings a message  collided");
    for (part, load) in (0..).zip([0.05, 0.1, 0.2]) {
        let mut lost_plain = 1.0;
        for (listens, tries) in [(false, 1), (true, 1), (false, 4), (true, 4)] {
            let wait = if listens { 5 * FRAME } else { 10 * FRAME };
            let switch = FRAME / 20;
            let kind = Kind { boards: 40, load, frames: FRAMES, listens, switch, wait, tries };
            let gave = run(kind, seed.value() ^ part);
            let books = gave.books;
            assert_eq!(books.wanted, books.delivered + books.lost, "{books:?}");
            let share = |part: u64, whole: u64| part as f64 / whole as f64;
            let lost = share(books.lost, books.wanted);
            println!(
                "  {load:>4.2}  {:>7}  {tries:>5}     {:>6.4}  {lost:.4}              {:>6.3}    {:>6.4}",
                if listens { "yes" } else { "no" },
                share(books.delivered, books.wanted),
                share(gave.sendings, books.wanted),
                share(gave.collided, gave.sendings),
            );
            if (listens, tries) == (false, 1) {
                lost_plain = lost;
                // Abramson's formula with the load of the 39 other boards; five standard errors, where losses come in pairs.
                let theory = 1.0 - (-2.0 * load * 39.0 / 40.0_f64).exp();
                let bound = 5.0 * (2.0 * theory * (1.0 - theory) / books.wanted as f64).sqrt();
                assert!((lost - theory).abs() < bound, "{lost} is not {theory} within {bound}");
            } else {
                assert!(lost < lost_plain / 2.0, "{lost} against {lost_plain}");
            }
        }
    }
}
