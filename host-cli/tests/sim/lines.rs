//! Pace, FIFO, room, conditions of the wire, and what a script orders.

use bellwire_cli::sim::{BadSetup, Carries, Condition, Faults, Line, Moment, Seed, Setup, Spell};
use core::time::Duration;

fn line(setup: Setup) -> Line {
    Line::new(setup, Seed(1).stream(0)).unwrap()
}

/// Everything that comes until the line is idle or `until` has passed.
fn all(line: &mut Line, until: Moment) -> Vec<(Moment, Vec<u8>)> {
    let mut out = Vec::new();
    let mut came = Vec::new();
    while let Some(at) = line.next().filter(|at| *at <= until) {
        while line.arrive(at, &mut out) {
            came.push((at, out.clone()));
        }
    }
    came
}

const LATER: Moment = Moment::from_millis(60_000);

fn each_octet(baud: u32) -> Setup {
    Setup { carries: Carries::Octets { level: 1 }, queue: 1 << 20, ..Setup::uart(baud) }
}

#[test]
fn octets_are_paced_exactly_at_every_baud_rate() {
    for baud in [300_u32, 9_600, 31_250, 115_200, 921_600, 3_000_000] {
        let rate = u64::from(baud / 10);
        let mut line = line(each_octet(baud));
        let start = Moment::from_nanos(123_456_789);
        // Handed over in uneven pieces without a pause.
        let octets: Vec<u8> = (0..10_000_u32).map(|octet| octet.to_le_bytes()[0]).collect();
        for piece in octets.chunks(77) {
            line.send(start, piece);
        }
        for (place, (at, octet)) in (0_u64..).zip(all(&mut line, Moment::from_millis(600_000))) {
            assert_eq!(octet, [octets[usize::try_from(place).unwrap()]]);
            assert_eq!(
                at.nanos(),
                start.nanos() + (place + 1) * 1_000_000_000 / rate,
                "octet {place} at {baud} Bd"
            );
        }
    }
}

#[test]
fn an_idle_line_starts_afresh_and_delay_only_shifts() {
    let delay = Duration::from_micros(250);
    let mut line = line(Setup { delay, ..each_octet(10_000_000) });
    line.send(Moment::from_micros(10), &[1, 2]);
    line.send(Moment::from_micros(11), &[3]);
    line.send(Moment::from_micros(500), &[4]);
    let times: Vec<u64> = all(&mut line, LATER).iter().map(|(at, _)| at.nanos() / 1_000).collect();
    assert_eq!(times, [261, 262, 263, 751]);
}

#[test]
fn a_fifo_calls_at_its_level_and_when_the_line_falls_idle() {
    let mut line = line(Setup { carries: Carries::Octets { level: 4 }, ..Setup::uart(10_000_000) });
    line.send(Moment::START, &[0; 10]);
    line.send(Moment::from_micros(100), &[1; 3]);
    let groups: Vec<_> = all(&mut line, LATER).iter().map(|(at, o)| (at.nanos() / 1_000, o.len())).collect();
    assert_eq!(groups, [(4, 4), (8, 4), (10, 2), (103, 3)]);
}

#[test]
fn a_full_driver_takes_what_fits_and_counts_the_rest() {
    let mut line = line(Setup { queue: 8, ..each_octet(10_000_000) });
    assert_eq!(line.send(Moment::START, &[1; 10]), 8);
    assert_eq!(line.unsent(Moment::from_micros(3)), 5);
    assert_eq!(line.send(Moment::from_micros(3), &[2; 10]), 3);
    assert_eq!(line.counted().overflowed, 9);
    assert_eq!(all(&mut line, LATER).len(), 11);
    assert_eq!(line.unsent(Moment::from_micros(12)), 0);
}

#[test]
fn a_cut_loses_exactly_what_is_on_the_wire_meanwhile() {
    let mut line = line(each_octet(10_000_000));
    let octets: Vec<u8> = (0..20).collect();
    line.send(Moment::START, &octets);
    let mut came = all(&mut line, Moment::from_micros(5));
    line.set_condition(Moment::from_micros(5), Condition::Cut);
    came.extend(all(&mut line, Moment::from_micros(12)));
    line.set_condition(Moment::from_micros(12), Condition::Whole);
    came.extend(all(&mut line, LATER));
    let came: Vec<u8> = came.into_iter().flat_map(|(_, octets)| octets).collect();
    assert_eq!(came, [0, 1, 2, 3, 4, 12, 13, 14, 15, 16, 17, 18, 19]);
    assert_eq!(line.counted().cut, 7);
}

#[test]
fn a_stuck_line_gives_its_octet_at_its_rate_and_drowns_the_rest() {
    for stuck in [0x00, 0xFF] {
        let mut line = line(each_octet(10_000_000));
        line.set_condition(Moment::START, Condition::Stuck(stuck));
        line.send(Moment::from_micros(2), &[1, 2, 3]);
        let came = all(&mut line, Moment::from_micros(50));
        let wanted: Vec<_> = (1..=50).map(|micros| (Moment::from_micros(micros), vec![stuck])).collect();
        assert_eq!(came, wanted);
        assert_eq!((line.counted().stuck, line.counted().drowned), (50, 3));
        line.set_condition(Moment::from_micros(50), Condition::Whole);
        assert_eq!(line.next(), None);
    }
}

#[test]
fn what_a_script_orders_happens_to_the_next_writes_and_no_other() {
    for carries in [Carries::Octets { level: 16 }, Carries::Datagrams] {
        let mut line = line(Setup { carries, ..Setup::uart(115_200) });
        line.lose_next(2);
        line.damage_next(1);
        for number in 0..5 {
            line.send(Moment::from_millis(10 * number), &[0x55; 8]);
        }
        let came = all(&mut line, LATER);
        let wrong: Vec<u32> = came
            .iter()
            .map(|(_, octets)| octets.iter().map(|octet| (octet ^ 0x55).count_ones()).sum())
            .collect();
        assert_eq!(wrong, [1, 0, 0]);
        assert_eq!((line.counted().lost, line.counted().flipped), (2, 1));
    }
}

#[test]
fn a_restart_of_the_sender_loses_what_its_driver_still_holds() {
    let mut line = line(each_octet(10_000_000));
    line.send(Moment::START, &[7; 10]);
    line.forget_unsent(Moment::from_micros(4));
    assert_eq!(line.unsent(Moment::from_micros(4)), 0);
    line.send(Moment::from_micros(4), &[8]);
    let came: Vec<u8> = all(&mut line, LATER).into_iter().flat_map(|(_, octets)| octets).collect();
    assert_eq!(came, [7, 7, 7, 7, 8]);
}

#[test]
fn a_setup_that_cannot_be_is_refused_with_the_reason() {
    let refused = |setup: Setup| Line::new(setup, Seed(1).stream(0)).unwrap_err();
    let uart = Setup::uart(115_200);
    let radio = Setup { carries: Carries::Datagrams, ..uart.clone() };
    assert_eq!(refused(Setup { rate: 0, ..uart.clone() }), BadSetup::NoRate);
    assert_eq!(refused(Setup { carries: Carries::Octets { level: 0 }, ..uart.clone() }), BadSetup::NoLevel);
    assert_eq!(refused(uart.clone().with(Faults { flip: 1.5, ..Faults::NONE })), BadSetup::Odds("flip"));
    assert_eq!(refused(uart.clone().with(Faults { lose: f64::NAN, ..Faults::NONE })), BadSetup::Odds("lose"));
    let spell = Some(Spell { begin: 0.1, end: -0.1, spoil: 0.5 });
    assert_eq!(refused(uart.clone().with(Faults { spell, ..Faults::NONE })), BadSetup::Odds("spell end"));
    assert_eq!(refused(uart.with(Faults { copy: 0.1, ..Faults::NONE })), BadSetup::NotHere("copy"));
    assert_eq!(refused(radio.with(Faults { drop: 0.1, ..Faults::NONE })), BadSetup::NotHere("drop"));
}

#[test]
fn a_line_that_gets_stuck_and_free_in_the_middle_of_things_never_stops_the_time() {
    let seed =
        bellwire_tests::seed("a_line_that_gets_stuck_and_free_in_the_middle_of_things_never_stops_the_time");
    let mut dice = Seed(seed.value()).stream(1);
    for level in [1, 2, 5, 16] {
        let mut line = line(Setup { carries: Carries::Octets { level }, ..Setup::uart(115_200) });
        let (mut now, mut out) = (Moment::START, Vec::new());
        for _ in 0..2_000 {
            let until = now.plus(Duration::from_nanos(dice.below(2_000_000)));
            while let Some(at) = line.next().filter(|at| *at <= until) {
                now = now.max(at);
                let (before, counted) = (line.next(), line.counted());
                let came = line.arrive(now, &mut out);
                // Either something comes, or (all of it lost) the line moves on.
                assert!(came || line.next() != before || line.counted() != counted);
            }
            now = until;
            match dice.below(6) {
                0 => line.set_condition(now, Condition::Stuck(dice.octet())),
                1 => line.set_condition(now, Condition::Cut),
                2 => line.set_condition(now, Condition::Whole),
                _ => {
                    line.send(now, &vec![0x55; usize::try_from(dice.below(40)).unwrap()]);
                }
            }
        }
    }
}
