//! The share of unknown outcomes on a line that loses frames, against theory.

use crate::binomial::interval;
use bellwire::frame::Class;
use bellwire::time::Duration as Span;
use bellwire_cli::endpoint::{FcsName, FramingName};
use bellwire_cli::sim::traffic::{Load, SHORTEST};
use bellwire_cli::sim::{Carries, Faults, Moment, Seed, Setup};
use bellwire_tests::pair::{Make, Pair};
use core::time::Duration;

const MESSAGES: u64 = 1_000_000;

/// A try fails if the frame (10 %) or else its confirmation (10 %) is lost: 0.19. Five in a row: 0.19^5 = 2.476e-4.
const THEORY: f64 = 0.19 * 0.19 * 0.19 * 0.19 * 0.19;

#[test]
fn the_unknown_share_with_ten_percent_loss_each_way_is_that_of_theory() {
    let seed = bellwire_tests::seed("the_unknown_share_with_ten_percent_loss_each_way_is_that_of_theory");
    let load = |messages| Load {
        from: Moment::START,
        messages,
        pause: Duration::ZERO,
        classes: vec![Class::Errand],
        longest: SHORTEST,
    };
    let faults = Faults { lose: 0.1, ..Faults::NONE };
    let mut pair = Pair::new(&Make {
        framing: FramingName::Cobs,
        fcs: FcsName::Bits16,
        window: 1,
        tries: 5,
        // No keep-alive, which would confirm once more by chance.
        keep_alive: Span::from_ticks(0),
        setup: Setup { carries: Carries::Octets { level: 64 }, ..Setup::uart(115_200).with(faults) },
        loads: [load(MESSAGES), load(0)],
        seed: Seed(seed.value()),
    });
    while !pair.is_done() {
        assert!(pair.step(Moment::from_millis(100_000_000), &mut |_, _| {}), "it stands still");
    }
    let balance = pair.books[0].balance();
    assert_eq!(pair.books[0].breaches_when_settled(), []);
    assert_eq!((balance.delivered + balance.unknown, balance.not_sent), (MESSAGES, 0));
    // Outside of it with odds of one in a million each side.
    let (low, high) = interval(MESSAGES, THEORY, 1e-6);
    println!(
        "unknown: {} of {MESSAGES}; theory 0.19^5 = {THEORY:.3e}, interval {low}..={high}",
        balance.unknown
    );
    assert!((low..=high).contains(&balance.unknown), "{} lies outside {low}..={high}", balance.unknown);
}
