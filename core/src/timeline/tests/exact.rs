//! Estimates and bounds to the microsecond: the formulas of the module worked out by another program, in exact fractions.

use super::{super::*, at, stamps};
use Taken::{Agrees, First, Stepped};

/// Four stamps; what taking them does; the drift and its error then; and so long after, the offset and its error.
type Row = ([u32; 4], Taken, Option<(i32, u32)>, [(u32, u32, u32); 3]);

fn check(clocks: Clocks, rows: &[Row]) {
    let mut timeline = Timeline::new(clocks);
    for &(four, taken, drift, looks) in rows {
        assert_eq!(timeline.take(&stamps(four)), taken, "{four:?}");
        assert_eq!(timeline.drift().map(|drift| (drift.ppb, drift.error)), drift, "{four:?}");
        for (later, ticks, error) in looks {
            let offset = timeline.offset(at(four[3].wrapping_add(later))).unwrap();
            assert_eq!((offset.ticks, offset.error.as_ticks()), (ticks, error), "{later} after {four:?}");
        }
    }
}

/// An exchange every five minutes, the ways of different lengths; from the fourth on the mean drift counts from a later one.
#[test]
fn a_far_clock_that_is_60_ppm_slow() {
    let rows = [
        (
            [7, 5_907, 5_947, 1_147],
            First,
            None,
            [(0, 5_350, 557), (1, 5_350, 558), (10_000_000, 5_350, 1_557)],
        ),
        (
            [300_000_007, 299_987_307, 299_987_347, 300_001_847],
            Agrees,
            Some((-63_166, 4_881)),
            [(0, 4_294_953_696, 907), (1, 4_294_953_696, 908), (10_000_000, 4_294_953_065, 2_538)],
        ),
        (
            [600_000_007, 599_971_507, 599_971_547, 600_002_647],
            Agrees,
            Some((-58_583, 3_107)),
            [(0, 4_294_937_496, 1_307), (1, 4_294_937_496, 1_308), (10_000_000, 4_294_936_911, 2_892)],
        ),
        (
            [900_000_007, 899_951_107, 899_951_147, 900_000_847],
            Agrees,
            Some((-60_722, 1_072)),
            [(0, 4_294_917_996, 407), (1, 4_294_917_996, 408), (10_000_000, 4_294_917_389, 2_014)],
        ),
        (
            [1_200_000_007, 1_199_933_907, 1_199_933_947, 1_200_001_147],
            Agrees,
            Some((-61_417, 3_107)),
            [(0, 4_294_900_646, 557), (1, 4_294_900_646, 558), (10_000_000, 4_294_900_032, 2_171)],
        ),
        (
            [1_500_000_007, 1_499_915_307, 1_499_915_347, 1_500_001_847],
            Agrees,
            Some((-62_000, 2_461)),
            [(0, 4_294_881_696, 907), (1, 4_294_881_696, 908), (10_000_000, 4_294_881_076, 2_527)],
        ),
    ];
    check(Clocks { drift_limit: 100, precision: 2 }, &rows);
}

/// The place that the mean drift counts from is 2^29 µs old before there is an heir, and the heir as old before it takes over.
#[test]
fn the_mean_drift_is_taken_over_at_least_2_to_29_microseconds() {
    let rows = [
        ([980, 1_067, 1_067, 1_000], First, None, [(0, 77, 15), (2, 77, 16), (60_000_000, 77, 315)]),
        (
            [536_871_111, 536_873_196, 536_873_196, 536_871_911],
            Agrees,
            Some((2_995, 783)),
            [(0, 1_685, 405), (2, 1_685, 406), (60_000_000, 1_864, 884)],
        ),
        (
            [536_871_312, 536_873_297, 536_873_297, 536_871_912],
            Agrees,
            Some((2_995, 597)),
            [(0, 1_685, 305), (2, 1_685, 306), (60_000_000, 1_864, 784)],
        ),
        (
            [1_073_742_423, 1_073_745_919, 1_073_745_919, 1_073_742_823],
            Agrees,
            Some((2_998, 205)),
            [(0, 3_296, 205), (2, 3_296, 206), (60_000_000, 3_475, 684)],
        ),
        (
            [1_073_742_624, 1_073_746_020, 1_073_746_020, 1_073_742_824],
            Agrees,
            Some((3_001, 764)),
            [(0, 3_296, 105), (2, 3_296, 106), (60_000_000, 3_476, 585)],
        ),
        (
            [1_073_742_725, 1_073_746_071, 1_073_746_071, 1_073_742_825],
            Agrees,
            Some((3_001, 671)),
            [(0, 3_296, 55), (2, 3_296, 56), (60_000_000, 3_476, 535)],
        ),
    ];
    check(Clocks { drift_limit: 5, precision: 1 }, &rows);
}

/// What is known is what both exchanges allow, wherever their intervals meet.
#[test]
fn two_intervals_that_meet_leave_what_they_share() {
    for (shift, taken, ticks, error) in [
        (-900, Stepped, 4_294_966_796, 305),
        (-500, Stepped, 4_294_967_196, 305),
        (0, Agrees, 545, 160),
        (500, Agrees, 805, 210),
        (900, Agrees, 1_005, 10),
    ] {
        let mut timeline = Timeline::new(Clocks { drift_limit: 10, precision: 1 });
        timeline.take(&stamps([0, 1_000, 1_000, 600]));
        let far = 1_000_700_u32.wrapping_add_signed(shift);
        assert_eq!(timeline.take(&stamps([1_000_000, far, far, 1_000_600])), taken, "{shift}");
        let offset = timeline.offset(at(1_000_600)).unwrap();
        assert_eq!((offset.ticks, offset.error.as_ticks()), (ticks, error), "{shift}");
    }
}

#[test]
fn an_interval_of_2_to_30_microseconds_tells_nothing() {
    let clocks = Clocks { drift_limit: 1, precision: (1 << 28) - 1 };
    let mut timeline = Timeline::new(clocks);
    timeline.take(&stamps([0, 0, 0, 0]));
    let offset = timeline.offset(at(0)).unwrap();
    assert_eq!((offset.ticks, offset.error.as_ticks()), (0, (1 << 29) - 1));
    assert_eq!(timeline.offset(at(1)), None, "wider by 2 µs");
    let mut timeline = Timeline::new(clocks);
    timeline.take(&stamps([0, 1, 0, 0]));
    assert_eq!((timeline.offset(at(0)), timeline.drift()), (None, None), "2^30 µs wide from the start");
}

#[test]
fn a_far_instant_is_placed_with_the_drift_between() {
    let mut timeline = Timeline::new(Clocks { drift_limit: 100, precision: 3 });
    timeline.take(&stamps([0, 1_000, 1_500, 2_000]));
    for (far, own, error) in
        [(50_000, 49_750, 764), (100_000, 99_750, 769), (900, 650, 760), (2_250, 2_000, 759)]
    {
        let placed = timeline.place(at(far), at(2_000)).unwrap();
        assert_eq!((placed.at, placed.error.as_ticks()), (at(own), error), "{far}");
    }
}
