//! Goodput of real links that lose frames against the theory of automatic repeat: with loss p of frames alone, the useful share of those sent is 1 - p, and with loss of
//! acknowledgements too, stop-and-wait needs 1 / (1 - p)² sendings a message (Bertsekas and Gallager, "Data Networks", 2nd edition, 1992, section 2.4).

use bellwire::{frame::Class, time::Duration as Span};
use bellwire_cli::{
    endpoint::{FcsName, FramingName},
    sim::{Faults, Moment, Seed, Setup, traffic::Load},
};
use bellwire_tests::{
    pair::{Make, Pair},
    seed,
};
use core::time::Duration;

const MESSAGES: u64 = 10_000;

/// Sendings a message, and virtual seconds, of a board that has always something to send; `back`: loss of acknowledgements.
fn sendings(window: usize, there: f64, back: f64, seed: u64) -> (f64, f64) {
    let load = |messages| Load {
        from: Moment::START,
        messages,
        pause: Duration::ZERO,
        classes: vec![Class::Report],
        longest: 24,
    };
    let mut pair = Pair::new(&Make {
        framing: FramingName::Cobs,
        fcs: FcsName::Bits16,
        window,
        tries: 20,
        keep_alive: Span::from_ticks(8_000_000),
        setup: Setup::uart(115_200),
        loads: [load(MESSAGES), load(0)],
        seed: Seed(seed),
    });
    for (line, lose) in [(pair.there, there), (pair.back, back)] {
        pair.network.set_faults(line, Faults { lose, ..Faults::NONE }).expect("odds");
    }
    let mut millis = 0;
    while !pair.is_done() {
        millis += 100;
        assert!(millis < 100_000_000, "it ends");
        pair.run(Moment::from_millis(millis));
    }
    let balance = pair.books[0].balance();
    assert_eq!((balance.delivered, balance.arrived), (MESSAGES, MESSAGES), "{:?}", pair.books[0].breaches());
    let writes = pair.network.counted(pair.there).writes;
    (writes as f64 / MESSAGES as f64, f64::from(millis as u32) / 1_000.0)
}

#[test]
fn goodput_of_stop_and_wait_and_of_selective_repeat_is_that_of_theory() {
    let seed = seed("goodput_of_stop_and_wait_and_of_selective_repeat_is_that_of_theory");
    println!("10 000 reports, 115 200 Bd, seed {:#x}", seed.value());
    println!("  window  loss  of acks  useful share   theory  +-5 sigma  messages a second");
    let cases = [1, 8].into_iter().flat_map(|window| [0.0, 0.05, 0.1, 0.2].map(|loss| (window, loss, 0.0)));
    let both = [(1, 0.05, 0.05), (1, 0.1, 0.1), (1, 0.2, 0.2)];
    for ((window, there, back), part) in cases.chain(both).zip(0..) {
        let (count, seconds) = sendings(window, there, back, seed.value() ^ part);
        let good = (1.0 - there) * (1.0 - back);
        // Sendings of a message are geometric: variance (1 - good) / good²; and a frame or two for opening.
        let bound = 5.0 * ((1.0 - good) / MESSAGES as f64).sqrt() + 0.001;
        let share = 1.0 / count;
        println!(
            "  {window:>6}  {there:>4.2}  {back:>7.2}        {share:.4}   {good:.4}     {bound:.4}  {:>17.1}",
            MESSAGES as f64 / seconds
        );
        assert!(
            (share - good).abs() < bound,
            "window {window}, loss {there} and {back}: {share}, theory {good}"
        );
    }
}
