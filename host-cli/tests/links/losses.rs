//! One message, every pattern of losses.

use bellwire::frame::Class;
use bellwire::time::Duration as Span;
use bellwire_cli::endpoint::{FcsName, FramingName};
use bellwire_cli::sim::traffic::Load;
use bellwire_cli::sim::{Action, Carries, Moment, Seed, Seen, Setup};
use bellwire_tests::pair::{Make, Pair};
use core::time::Duration;

const TRIES: u8 = 5;

/// What is lost of a try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lost {
    Frame,
    Confirmation,
}

/// All patterns of `tries` failed tries.
fn patterns(tries: u8) -> impl Iterator<Item = Vec<Lost>> {
    (0..1_u32 << tries).map(move |bits| {
        (0..tries).map(|at| if bits >> at & 1 == 0 { Lost::Frame } else { Lost::Confirmation }).collect()
    })
}

/// Opens a session on a clean line, then sends one message whose first tries fail as the pattern says. Gives the pair when all is settled,
/// and how many frames the sender needed for it.
fn send_one(framing: FramingName, window: usize, class: Class, pattern: &[Lost]) -> (Pair, usize) {
    let from = Moment::from_millis(5_000);
    let load = |messages| Load { from, messages, pause: Duration::ZERO, classes: vec![class], longest: 20 };
    let carries = match framing {
        FramingName::Datagram => Carries::Datagrams,
        _ => Carries::Octets { level: 64 },
    };
    let mut pair = Pair::new(&Make {
        framing,
        fcs: FcsName::Bits16,
        window,
        tries: TRIES,
        // Nothing but the message and its confirmations shall travel.
        keep_alive: Span::from_ticks(0),
        setup: Setup { carries, queue: 512, ..Setup::uart(115_200) },
        loads: [load(1), load(0)],
        seed: Seed(1),
    });
    pair.run(Moment::from_millis(4_999));
    let (there, back) = (pair.there, pair.back);
    let mut fails = pattern.iter();
    let mut order = |pair: &mut Pair| match fails.next() {
        Some(Lost::Frame) => pair.network.perform(Action::Lose(there, 1), &mut |_, _| {}),
        Some(Lost::Confirmation) => pair.network.perform(Action::Lose(back, 1), &mut |_, _| {}),
        None => {}
    };
    order(&mut pair);
    let mut sendings = 0;
    let mut more = true;
    while more {
        let before = sendings;
        more = pair.step(Moment::from_millis(100_000), &mut |_, seen| {
            sendings += usize::from(matches!(seen, Seen::Sent { line, .. } if line == there));
        });
        (before..sendings).for_each(|_| order(&mut pair));
    }
    assert!(pair.is_done(), "no outcome");
    assert_eq!(pair.books[0].breaches_when_settled(), []);
    (pair, sendings)
}

const FRAMINGS: [FramingName; 4] = FramingName::DIRECT;

#[test]
fn with_fewer_losses_in_a_row_than_tries_the_outcome_is_delivered() {
    for (framing, window, class) in FRAMINGS.into_iter().flat_map(each_class).flat_map(each_window) {
        for pattern in (0..TRIES).flat_map(patterns) {
            let (pair, sendings) = send_one(framing, window, class, &pattern);
            let balance = pair.books[0].balance();
            let told = (balance.delivered, balance.unknown, balance.arrived, sendings);
            assert_eq!(told, (1, 0, 1, pattern.len() + 1), "{framing} {window} {class:?} {pattern:?}");
        }
    }
}

#[test]
fn with_as_many_losses_as_tries_the_outcome_is_unknown_and_the_link_goes_on() {
    for (framing, window, class) in FRAMINGS.into_iter().flat_map(each_class).flat_map(each_window) {
        for pattern in patterns(TRIES) {
            let (pair, sendings) = send_one(framing, window, class, &pattern);
            let balance = pair.books[0].balance();
            let arrived = u64::from(pattern.contains(&Lost::Confirmation));
            let told = (balance.delivered, balance.unknown, balance.arrived, balance.unknown_arrived);
            assert_eq!(told, (0, 1, arrived, arrived), "{framing} {window} {class:?} {pattern:?}");
            // Its number travels on as a void (W-37): one more frame, which is confirmed.
            assert_eq!(sendings, usize::from(TRIES) + 1);
        }
    }
}

fn each_class(framing: FramingName) -> impl Iterator<Item = (FramingName, Class)> {
    [Class::Errand, Class::Report].into_iter().map(move |class| (framing, class))
}

fn each_window((framing, class): (FramingName, Class)) -> impl Iterator<Item = (FramingName, usize, Class)> {
    [1, 2, 8].into_iter().map(move |window| (framing, window, class))
}
