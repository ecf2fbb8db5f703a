//! Every pair of numbers, before and after a lifetime, against the definition of RFC 1982 and the words of W-70.

use super::*;
use crate::frame::Reject;

/// RFC 1982, section 3.2, for eight bits: how far `later` lies ahead of `earlier`.
fn ahead(earlier: u8, later: u8) -> u8 {
    u8::try_from((256 + u32::from(later) - u32::from(earlier)) % 256).unwrap()
}

fn pairs() -> impl Iterator<Item = (u8, u8)> {
    (0..=255).flat_map(|first| (0..=255).map(move |second| (first, second)))
}

#[test]
fn within_a_lifetime_a_set_point_must_be_newer_and_after_it_any_is_fresh() {
    for (first, second) in pairs() {
        let mut heard = leaf(LIFETIME, first);
        assert_eq!(heard.hear(&set_point(first)), Ok(0));
        let mut soon = heard.clone();
        soon.elapse(Duration::from_ticks(LIFETIME.as_ticks() - 1));
        let newer = (1..=127).contains(&ahead(first, second));
        assert_eq!(soon.hear(&set_point(second)).is_ok(), newer, "{first} {second}");
        // One of another kind is judged by itself, but nothing from before the hub told.
        let other = frame(HUB, Class::SetPoint, second, true, &[5, 10]);
        let mut soon = heard.clone();
        assert_eq!(soon.hear(&other).is_ok(), newer || first == second, "{first} {second}");
        heard.elapse(LIFETIME);
        assert!(heard.hear(&set_point(second)).is_ok(), "{first} {second}");
    }
}

#[test]
fn nothing_from_before_the_telling_is_taken_for_a_lifetime() {
    for (next, number) in pairs() {
        for class in [Class::SetPoint, Class::Notice] {
            let view = frame(HUB, class, number, true, &[4, 10]);
            let mut heard = leaf(LIFETIME, next);
            heard.elapse(Duration::from_ticks(LIFETIME.as_ticks() - 1));
            let sent_since = ahead(next, number) <= 127;
            let wanted = if sent_since { Ok(ahead(next, number)) } else { Err(Reject::OutsideWindow) };
            assert_eq!(heard.clone().hear(&view), wanted, "{next} {number}");
            heard.elapse(Duration::from_ticks(1));
            assert!(heard.hear(&view).is_ok(), "{next} {number}");
        }
    }
}

#[test]
fn on_an_ordered_link_every_frame_is_taken_and_gaps_are_counted() {
    for (first, second) in pairs() {
        let view = |number| frame(HUB, Class::SetPoint, number, false, &[4, 10]);
        let mut heard = leaf(Duration::from_ticks(0), first);
        assert_eq!(heard.hear(&view(first)), Ok(0));
        assert_eq!(heard.hear(&view(second)), Ok(ahead(first.wrapping_add(1), second)));
    }
}

#[test]
fn a_late_frame_is_no_loss_and_a_gap_is_told_once() {
    let mut heard = leaf(LIFETIME, 250);
    let notice = |number| frame(HUB, Class::Notice, number, true, &[8]);
    assert_eq!(heard.hear(&notice(250)), Ok(0));
    assert_eq!(heard.hear(&notice(253)), Ok(2), "251 and 252");
    assert_eq!(heard.hear(&notice(251)), Ok(0), "late, not lost after all");
    assert_eq!(heard.hear(&notice(1)), Ok(3), "254, 255 and 0");
    assert_eq!(heard.hear(&set_point(2)), Ok(0), "one number space for both classes");
}

#[test]
fn a_ninth_kind_of_set_point_within_a_lifetime_has_no_room() {
    let mut heard = leaf(LIFETIME, 0);
    for kind in 0..8 {
        assert!(heard.hear(&frame(HUB, Class::SetPoint, kind, true, &[kind, 1])).is_ok());
    }
    let ninth = frame(HUB, Class::SetPoint, 8, true, &[8, 1]);
    assert_eq!(heard.hear(&ninth), Err(Reject::NoRoom));
    assert!(heard.hear(&frame(HUB, Class::SetPoint, 9, true, &[0, 1])).is_ok(), "known kinds go on");
    heard.elapse(LIFETIME);
    assert!(heard.hear(&ninth).is_ok());
}

#[test]
fn another_hub_and_another_session_are_refused_and_asked_about_no_faster_than_allowed() {
    let pause = Duration::from_ticks(1_000_000);
    let mut heard = BroadcastReceiver::new(LIFETIME);
    assert_eq!(heard.hear(&set_point(0)), Err(Reject::NotOpen));
    assert!(!heard.poll_ask(pause), "a leaf without a session asks nobody");
    heard.opened(SESSION);
    assert_eq!(heard.hear(&set_point(0)), Err(Reject::OtherSession));
    assert_eq!(heard.ask_wait(), Some(Duration::from_ticks(0)));
    assert!(heard.poll_ask(pause));
    assert_eq!(heard.hear(&set_point(1)), Err(Reject::OtherSession));
    assert_eq!(heard.ask_wait(), Some(pause));
    heard.elapse(Duration::from_ticks(999_999));
    assert!(!heard.poll_ask(pause));
    heard.elapse(Duration::from_ticks(1));
    assert!(heard.poll_ask(pause) && !heard.poll_ask(pause));
    let told = Told { session: SESSION, broadcast: HUB, next: 2 };
    assert!(!heard.handle_told(Told { session: SESSION + 1, ..told }), "of an earlier session");
    assert!(heard.handle_told(told) && heard.handle_told(told), "a copy changes nothing");
    assert!(!heard.handle_told(Told { broadcast: HUB + 1, ..told }), "one hub has one number in a session");
    assert!(heard.hear(&set_point(2)).is_ok());
    for bit in 0..18 {
        let other = frame(HUB ^ 1 << bit, Class::SetPoint, 3, true, &[4, 10]);
        assert_eq!(heard.hear(&other), Err(Reject::OtherSession), "bit {bit}");
    }
    heard.ended();
    assert!(!heard.is_told());
    assert_eq!(heard.hear(&set_point(3)), Err(Reject::NotOpen));
}
