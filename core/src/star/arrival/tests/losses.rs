//! Reports over a medium that loses frames: the books, and the share of unknown ones against theory.

use super::*;

const REPORTS: u32 = 40_000;
/// Lost each way, of a thousand.
const LOST: u32 = 100;

/// Below 1000 (splitmix64, Steele and others, OOPSLA 2014).
fn roll(state: &mut u64) -> u32 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut mixed = *state;
    mixed = (mixed ^ mixed >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    u32::try_from((mixed ^ mixed >> 31) % 1_000).unwrap()
}

#[test]
#[allow(clippy::cast_precision_loss)]
fn the_books_balance_and_the_unknown_share_is_that_of_theory() {
    let (mut hub, mut dice) = (Arrivals::<3>::new(0, ms(10_000), ms(500)), 7);
    let (mut delivered, mut unknown, mut arrived) = (0_u32, 0_u32, 0_u32);
    for report in 0..REPORTS {
        let config = ArrivingConfig { own: OwnNumber::Random(report + 1), ..CONFIG };
        let mut leaf = Arriving::<13>::new(&config, &[7]).unwrap();
        let (mut taken, mut now) = (0, report * 600);
        while let Some(wait) = leaf.poll_wait() {
            leaf.elapse(wait);
            let Some(frame) = sends(&mut leaf) else { continue };
            now += 1;
            if roll(&mut dice) < LOST {
                continue;
            }
            let arrival = Arrival::parse(&frame[4..]).unwrap();
            let handled = hub.handle(3, &arrival, now);
            taken += u32::from(handled == Ok(Fresh::New));
            let answer = Arrivals::<3>::answer(&arrival, &handled, false).unwrap();
            if roll(&mut dice) >= LOST {
                assert!(leaf.hear(&answers(answer, 3)));
            }
        }
        match leaf.outcome().unwrap() {
            ArrivingOutcome::Delivered { .. } => delivered += 1,
            ArrivingOutcome::Unknown => unknown += 1,
            ArrivingOutcome::Mismatch => panic!("the agreements are the same"),
        }
        assert!(taken <= 1 && (taken == 1 || leaf.outcome() == Some(ArrivingOutcome::Unknown)));
        arrived += taken;
    }
    assert_eq!(delivered + unknown, REPORTS);
    assert!(delivered <= arrived && arrived <= REPORTS);
    // A try fails if either way loses: 1 - 0.9^2 = 0.19; three of three: 0.006859. Four standard deviations of a binomial count.
    let share = 0.19_f64.powi(3);
    let wanted = share * f64::from(REPORTS);
    let deviation = (wanted * (1.0 - share)).sqrt();
    std::println!("{unknown} of {REPORTS} unknown, {wanted:.0} by theory");
    assert!((f64::from(unknown) - wanted).abs() < 4.0 * deviation, "{unknown}, not {wanted:.0}");
}
