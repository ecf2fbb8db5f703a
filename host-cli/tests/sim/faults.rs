//! Every configured fault is observed at its rate, by comparing what was sent with what came; the line's own count agrees exactly.

use crate::chi::{assert_even, assert_odds};
use bellwire_cli::sim::{Carries, Counted, Faults, Line, Moment, Seed, Setup, Spell};
use core::time::Duration;

const WRITES: u64 = 40_000;
const LENGTH: u64 = 16;

/// Sends numbered writes of 16 octets, one every 2 ms, and gives what arrived, with its time, and the line's count.
fn pass(name: &str, setup: Setup, writes: u64) -> (Vec<(Moment, Vec<u8>)>, Counted) {
    let seed = bellwire_tests::seed(name);
    let mut line = Line::new(setup, Seed(seed.value()).stream(0)).unwrap();
    let mut out = Vec::new();
    let mut came = Vec::new();
    for number in 0..writes {
        let now = Moment::from_millis(2 * number);
        while let Some(at) = line.next().filter(|at| *at <= now) {
            while line.arrive(at, &mut out) {
                came.push((at, out.clone()));
            }
        }
        assert_eq!(line.send(now, &write(number)), 16);
    }
    while let Some(at) = line.next() {
        while line.arrive(at, &mut out) {
            came.push((at, out.clone()));
        }
    }
    let counted = line.counted();
    let arrived: usize = came.iter().map(|(_, octets)| octets.len()).sum();
    assert_eq!((counted.writes, counted.octets, counted.arrived), (writes, writes * LENGTH, arrived as u64));
    (came, counted)
}

/// A write whose octets tell its number and their own place: bits 7..=4 the place, 3..=0 one digit of the number.
fn write(number: u64) -> [u8; 16] {
    core::array::from_fn(|place| u8::try_from((place as u64) << 4 | (number >> (place * 4) & 15)).unwrap())
}

fn uart(faults: Faults) -> Setup {
    Setup { carries: Carries::Octets { level: 64 }, ..Setup::uart(115_200).with(faults) }
}

fn radio(faults: Faults) -> Setup {
    Setup { carries: Carries::Datagrams, ..uart(faults) }
}

#[test]
fn a_line_without_faults_changes_nothing() {
    for setup in [uart(Faults::NONE), radio(Faults::NONE)] {
        let (came, counted) = pass("a_line_without_faults_changes_nothing", setup, WRITES);
        assert!(counted.is_clean(), "{counted:?}");
        assert!(
            came.iter().map(|(_, octets)| octets.as_slice()).eq((0..WRITES).map(write).collect::<Vec<_>>())
        );
    }
}

#[test]
fn dropped_octets_come_at_their_rate() {
    let (came, counted) = pass("dropped_octets", uart(Faults { drop: 0.03, ..Faults::NONE }), WRITES);
    let missing = WRITES * LENGTH - came.iter().map(|(_, octets)| octets.len() as u64).sum::<u64>();
    assert_odds("dropped", missing, WRITES * LENGTH, 0.03);
    assert_eq!(counted, Counted { dropped: missing, ..plain(counted) });
    for (_, octets) in came {
        assert!(octets.windows(2).all(|pair| pair[0] >> 4 < pair[1] >> 4), "the rest keeps its order");
    }
}

#[test]
fn flipped_bits_come_at_their_rate_and_evenly() {
    for setup in [uart, radio] {
        let setup = setup(Faults { flip: 0.03, ..Faults::NONE });
        let (came, counted) = pass("flipped_bits", setup, WRITES);
        let mut bits = [0; 8];
        for ((_, octets), number) in came.iter().zip(0..) {
            for (came, sent) in octets.iter().zip(write(number)) {
                let changed = came ^ sent;
                assert!(changed.count_ones() <= 1);
                if changed != 0 {
                    bits[changed.trailing_zeros() as usize] += 1;
                }
            }
        }
        let flipped = bits.iter().sum();
        assert_odds("flipped", flipped, WRITES * LENGTH, 0.03);
        assert_even("bits", bits);
        assert_eq!(counted, Counted { flipped, ..plain(counted) });
    }
}

#[test]
fn doubled_octets_come_at_their_rate() {
    let (came, counted) = pass("doubled_octets", uart(Faults { double: 0.03, ..Faults::NONE }), WRITES);
    let mut doubled = 0;
    for ((_, octets), number) in came.into_iter().zip(0..) {
        let mut single = octets.clone();
        single.dedup();
        assert_eq!(single, write(number));
        doubled += (octets.len() - single.len()) as u64;
    }
    assert_odds("doubled", doubled, WRITES * LENGTH, 0.03);
    assert_eq!(counted, Counted { doubled, ..plain(counted) });
}

#[test]
fn stray_octets_come_at_their_rate() {
    let (came, counted) = pass("stray_octets", uart(Faults { insert: 0.03, ..Faults::NONE }), WRITES);
    let mut stray = 0;
    for ((_, octets), number) in came.into_iter().zip(0..) {
        stray += octets.len() as u64 - LENGTH;
        let mut rest = octets.iter();
        assert!(
            write(number).iter().all(|sent| rest.any(|came| came == sent)),
            "what was sent is still in it"
        );
    }
    assert_odds("stray", stray, WRITES * LENGTH, 0.03);
    assert_eq!(counted, Counted { inserted: stray, ..plain(counted) });
}

#[test]
fn lost_writes_come_at_their_rate() {
    for setup in [uart, radio] {
        let (came, counted) = pass("lost_writes", setup(Faults { lose: 0.1, ..Faults::NONE }), WRITES);
        let lost = WRITES - came.len() as u64;
        assert_odds("lost", lost, WRITES, 0.1);
        assert_eq!(counted, Counted { lost, ..plain(counted) });
        let mut sent = (0..WRITES).map(write);
        assert!(
            came.iter().all(|(_, octets)| sent.any(|sent| sent == octets[..])),
            "whole, in order, unchanged"
        );
    }
}

#[test]
fn copied_datagrams_come_at_their_rate() {
    let (came, counted) = pass("copied_datagrams", radio(Faults { copy: 0.1, ..Faults::NONE }), WRITES);
    let copied = came.windows(2).filter(|pair| pair[0].1 == pair[1].1).count() as u64;
    assert_odds("copied", copied, WRITES, 0.1);
    assert_eq!(came.len() as u64, WRITES + copied);
    assert_eq!(counted, Counted { copied, ..plain(counted) });
}

#[test]
fn late_datagrams_come_at_their_rate_spread_evenly_and_are_overtaken() {
    let late_by = Duration::from_millis(80);
    let faults = Faults { late: 0.1, late_by, ..Faults::NONE };
    let (came, counted) = pass("late_datagrams", radio(faults), WRITES);
    assert_eq!(came.len() as u64, WRITES);
    let on_time = Duration::from_nanos(16 * 1_000_000_000 / 11_520);
    let (mut late, mut eighths, mut overtaken, mut newest) = (0, [0; 8], 0, 0);
    for (at, octets) in &came {
        let number = (0..16).fold(0, |sum, place| sum | u64::from(octets[place] & 15) << (place * 4));
        let lateness = at.since(Moment::from_millis(2 * number)) - on_time;
        assert!(lateness <= late_by);
        if lateness > Duration::ZERO {
            late += 1;
            eighths[(lateness.as_nanos() * 8 / (late_by.as_nanos() + 1)) as usize] += 1;
        }
        overtaken += u64::from(number < newest);
        newest = newest.max(number);
    }
    assert_odds("late", late, WRITES, 0.1);
    assert_even("lateness", eighths);
    assert_eq!(counted, Counted { late, ..plain(counted) });
    // A datagram late by 80 ms at most and 40 ms in the mean is overtaken unless it is late by less than 2 ms.
    assert!(overtaken > late * 9 / 10, "{overtaken} of {late} late ones are overtaken");
}

#[test]
fn bad_spells_have_their_length_and_share() {
    let spell = Spell { begin: 0.01, end: 0.04, spoil: 1.0 };
    let faults = Faults { spell: Some(spell), ..Faults::NONE };
    let (came, counted) = pass("bad_spells_datagrams", radio(faults), WRITES);
    let lost = WRITES - came.len() as u64;
    assert_eq!(counted, Counted { spells: counted.spells, in_spell: lost, spoilt: lost, ..plain(counted) });
    // Each datagram in a spell ends it with odds `end`, each good one begins one with odds `begin`.
    assert_odds("ends of spells", counted.spells, counted.in_spell, spell.end);
    assert_odds("begins of spells", counted.spells, WRITES - counted.in_spell, spell.begin);

    let (came, counted) = pass("bad_spells_octets", uart(faults), WRITES);
    let mut wrong = 0;
    for ((_, octets), number) in came.iter().zip(0..) {
        wrong += octets.iter().zip(write(number)).filter(|(came, sent)| *came != sent).count() as u64;
    }
    assert_eq!(counted.spoilt, counted.in_spell, "every octet in a spell is replaced");
    assert_odds("replaced by another octet", wrong, counted.spoilt, 255.0 / 256.0);
    assert_odds("ends of spells", counted.spells, counted.in_spell, spell.end);
}

/// A count with nothing but what was carried.
fn plain(Counted { writes, octets, arrived, .. }: Counted) -> Counted {
    Counted { writes, octets, arrived, ..Counted::default() }
}
