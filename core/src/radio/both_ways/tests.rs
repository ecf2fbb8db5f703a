use super::*;
use crate::radio::{HEARING_LEN, NotHearing};
use proptest::prelude::*;

const fn ms(millis: u32) -> Duration {
    Duration::from_ticks(millis * 1000)
}

/// Two ends of a link. Frames are lost as asked for; every third frame of the leaf is a report with a hearing.
struct Pair {
    hub: BothWays,
    leaf: BothWays,
}

impl Pair {
    fn up(&mut self, arrives: bool, is_report: bool) {
        let hearing = self.leaf.hearing();
        self.leaf.sent();
        if arrives {
            self.hub.heard(Some(-80));
            if is_report {
                self.hub.told(hearing);
            }
        }
    }

    fn down(&mut self, arrives: bool) {
        self.hub.sent();
        if arrives {
            self.leaf.heard(Some(-95));
        }
    }

    fn elapse(&mut self, span: Duration) {
        self.hub.elapse(span);
        self.leaf.elapse(span);
    }
}

fn pair() -> Pair {
    Pair { hub: BothWays::new(), leaf: BothWays::new() }
}

#[test]
fn losses_of_both_directions_are_counted_to_the_frame_across_the_wrap() {
    let mut pair = pair();
    pair.up(true, true);
    let (mut lost_up, mut lost_down) = (0, 0);
    // 200 000 frames each way: the numbers wrap three times.
    for number in 1_u32..=200_000 {
        let (down, up) = (number % 7 != 0, number % 11 != 3);
        pair.down(down);
        pair.up(up, number % 3 == 0);
        (lost_down, lost_up) = (lost_down + u32::from(!down), lost_up + u32::from(!up));
    }
    pair.up(true, true);
    assert_eq!((pair.hub.lost_in(), pair.hub.lost_out()), (lost_up, lost_down));
    assert_eq!((lost_up, lost_down), (18_182, 28_571));
}

#[test]
fn thirty_two_thousand_frames_may_be_lost_in_a_row() {
    let mut pair = pair();
    pair.up(true, true);
    for _ in 0..32_766 {
        pair.up(false, false);
    }
    pair.up(true, true);
    assert_eq!(pair.hub.lost_in(), 32_766);
    // One more would be half the number space: not newer, and the books wait for the next one.
    for _ in 0..32_767 {
        pair.up(false, false);
    }
    pair.up(true, true);
    assert_eq!(pair.hub.lost_in(), 32_766);
}

#[test]
fn an_old_hearing_tells_nothing_new() {
    let mut pair = pair();
    pair.up(true, true);
    let old = pair.leaf.hearing();
    for _ in 0..5 {
        pair.up(true, true);
    }
    let before = pair.hub;
    pair.hub.told(old);
    assert_eq!(pair.hub, before);
}

#[test]
fn a_verdict_says_which_way_is_missing() {
    let mut pair = pair();
    assert_eq!(pair.hub.verdict(5_000), Verdict::Silent);
    pair.hub.heard(None);
    assert_eq!(pair.hub.verdict(5_000), Verdict::NotTold);
    pair.down(true);
    pair.up(true, true);
    assert_eq!(pair.hub.verdict(5_000), Verdict::BothWays);
    assert_eq!((pair.hub.strength_in(), pair.hub.strength_out()), (Some(-80), Some(-95)));
    // The leaf hears the hub no longer, and says so each second.
    for second in 1..=20 {
        pair.elapse(ms(1_000));
        pair.down(false);
        pair.up(true, true);
        let wanted = if second <= 5 { Verdict::BothWays } else { Verdict::OnlyIn };
        assert_eq!(pair.hub.verdict(5_000), wanted, "{second}");
    }
    assert_eq!((pair.hub.lost_in(), pair.hub.lost_out()), (0, 20));
    assert_eq!((pair.hub.age_in(), pair.hub.age_out()), (Some(0), Some(20_000)));
    // The hub hears the leaf no longer: it cannot know what the leaf hears.
    pair.elapse(ms(5_001));
    assert_eq!(pair.hub.verdict(5_000), Verdict::Silent);
    // The leaf's words come by another way, a cable for instance.
    pair.leaf.heard(Some(-60));
    pair.hub.told(pair.leaf.hearing());
    assert_eq!(pair.hub.verdict(5_000), Verdict::OnlyOut);
    pair.hub.restart();
    assert_eq!(pair.hub, BothWays::new());
}

#[test]
fn ages_are_counted_to_the_millisecond_and_told_in_seconds() {
    let mut leaf = BothWays::new();
    assert_eq!(leaf.hearing().age, None);
    leaf.heard(None);
    for _ in 0..3_000 {
        leaf.elapse(Duration::from_ticks(333));
    }
    assert_eq!((leaf.age_in(), leaf.hearing().age), (Some(999), Some(0)));
    leaf.elapse(Duration::from_ticks(1_000));
    assert_eq!((leaf.age_in(), leaf.hearing().age), (Some(1_000), Some(1)));
    for _ in 0..5_000 {
        leaf.elapse(Duration::from_ticks(u32::MAX));
    }
    assert_eq!((leaf.age_in(), leaf.hearing().age), (Some(u32::MAX), Some(254)));
}

proptest! {
    /// W-66 is canonical: what is read is what is written.
    #[test]
    fn only_what_is_written_is_read(rest in proptest::collection::vec(any::<u8>(), 0..12)) {
        let report = [&[0xFF, 0x7F][..], &rest].concat();
        match Hearing::split(&report) {
            Ok((hearing, message)) => {
                let mut out = [0; 20];
                let len = hearing.expect("it begins so").put_before(message, &mut out).expect("room");
                prop_assert_eq!(&out[..len], report);
            }
            Err(NotHearing::TooShort) => prop_assert!(report.len() < HEARING_LEN),
            Err(NotHearing::StrengthOfNothing) => prop_assert!(report[6] == 255 && report[7] != 255),
        }
    }

    /// However frames fall, the books never count more losses than there were, and after a hearing in a quiet moment they are exact.
    #[test]
    fn the_books_are_exact(events in proptest::collection::vec((any::<bool>(), any::<bool>(), any::<bool>()), 0..300)) {
        let mut pair = pair();
        pair.up(true, true);
        let mut lost = (0, 0);
        for (is_up, arrives, is_report) in events {
            if is_up { pair.up(arrives, is_report) } else { pair.down(arrives) }
            let place = if is_up { &mut lost.0 } else { &mut lost.1 };
            *place += u32::from(!arrives);
            prop_assert!(pair.hub.lost_in() <= lost.0 && pair.hub.lost_out() <= lost.1);
        }
        pair.up(true, true);
        prop_assert_eq!((pair.hub.lost_in(), pair.hub.lost_out()), lost);
    }
}
