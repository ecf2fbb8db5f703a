//! The program that measures is itself measured: exact counts of trials, and what the FCS promises where nothing is stuffed.

use super::*;

const DATAGRAM: Column = COLUMNS[3];

fn count(name: &str, column: Column, damage: Damage, trials: u64) -> Count {
    measure(column, damage, trials, 2, &crate::seed(name))
}

/// Without stuffing the FCS keeps its promise: distance 4, bursts up to 16 bits (RFC 3385 section 3).
#[test]
fn a_datagram_keeps_what_the_fcs_promises_and_the_trials_are_all_made() {
    // 20 octets, 160 bits.
    let wanted = [
        ("each 1-bit flip", 160),
        ("each 2-bit flip", 160 * 159 / 2),
        ("each 3-bit flip", 160 * 159 * 158 / 6),
        ("bursts of 2 to 16 bits", 1_000),
        ("each octet put in", 21 * 256),
        ("each run of 1 to 8 octets lost", 20 + 19 + 18 + 17 + 16 + 15 + 14 + 13),
        ("each octet replaced by each other", 20 * 255),
        ("4 to 60 printable octets, CR LF", 1_000),
        ("a line of zeros, 1 to 64 octets", 128),
        ("a line of ones, 1 to 64 octets", 128),
    ];
    for (words, trials) in wanted {
        let (_, damage) = DAMAGE.into_iter().find(|(name, _)| *name == words).expect("a kind of damage");
        let name = "a_datagram_keeps_what_the_fcs_promises_and_the_trials_are_all_made";
        let count = count(name, DATAGRAM, damage, 1);
        assert_eq!(count.trials, trials, "{words}");
        if !matches!(damage, Damage::PutIn | Damage::Console | Damage::Lost) {
            assert_eq!(count.accepted, 0, "{words}");
        }
    }
}

/// A burst of 17 bits passes a 16-bit FCS with odds of 2^-15 (RFC 3385 section 3). Those in the 14 octets of payload after the message
/// number pass no rule but the FCS; of the others some break a header rule.
#[test]
fn bursts_one_longer_than_the_fcs_pass_as_often_as_published() {
    let name = "bursts_one_longer_than_the_fcs_pass_as_often_as_published";
    let count = count(name, DATAGRAM, Damage::Bursts(17, 17), 2_000_000);
    let (low, high) = count.bounds();
    let published = 0.5_f64.powi(15);
    assert!(low < published && high > published * 0.6, "{count:?}: {low:e} to {high:e}");
}

/// The length octet refuses most of what the FCS lets through when a frame changes its length, and nothing when it does not.
#[test]
fn the_experiment_has_its_length_octet() {
    let name = "the_experiment_has_its_length_octet";
    let [bare, led] = [COLUMNS[1], COLUMNS[8]].map(|column| count(name, column, Damage::Garbage, 1_000_000));
    assert!(bare.accepted > 0 && led.accepted * 8 < bare.accepted, "{bare:?} {led:?}");
    let [bare, led] =
        [COLUMNS[1], COLUMNS[8]].map(|column| count(name, column, Damage::Bursts(17, 17), 1_000_000));
    assert!(bare.accepted > 0 && led.accepted * 8 > bare.accepted, "{bare:?} {led:?}");
}

#[test]
fn the_count_does_not_depend_on_the_threads() {
    let seed = crate::seed("the_count_does_not_depend_on_the_threads");
    let [one, three] = [1, 3].map(|threads| measure(COLUMNS[2], Damage::Garbage, 500_000, threads, &seed));
    assert_eq!(one, three);
}
