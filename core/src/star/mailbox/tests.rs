//! Letters against a plain list, and what each fate does.

use super::*;
use proptest::prelude::*;
use std::vec::Vec as List;

type Box4 = Mailbox<4, 8>;

fn tickets(mailbox: &mut Box4, now: Seconds) -> List<(Class, Ticket)> {
    core::iter::from_fn(|| mailbox.offer(now).map(|letter| (letter.class, letter.ticket))).collect()
}

#[test]
fn no_two_letters_have_one_ticket_however_long_one_waits() {
    let mut mailbox = Box4::default();
    let errand = mailbox.push(Class::Errand, &[9], 0, 60).unwrap().ticket;
    for _ in 0..200_000_u32 {
        assert_ne!(mailbox.push(Class::SetPoint, &[3], 0, 60).unwrap().ticket, errand);
    }
}

#[test]
fn set_points_go_first_and_only_the_newest_of_each() {
    let mut mailbox = Box4::new();
    let mut push = |class, payload: &[u8]| {
        mailbox.push(class, payload, 0, 60).map(|accepted| (accepted.ticket, accepted.replaces))
    };
    let (errand, none) = push(Class::Errand, &[9, 1]).unwrap();
    assert_eq!(none, None);
    let (old, _) = push(Class::SetPoint, &[3, 1]).unwrap();
    let (other, _) = push(Class::SetPoint, &[4, 1]).unwrap();
    let (second, _) = push(Class::Errand, &[9, 1]).unwrap();
    assert_eq!(push(Class::Report, &[5]), Err(NotTaken::Full));
    let (new, replaced) = push(Class::SetPoint, &[3, 2]).unwrap();
    assert_eq!(replaced, Some(old), "where it is full a newer value still finds room");
    assert_eq!(push(Class::Errand, &[0; 9]), Err(NotTaken::TooLong));
    assert_eq!(push(Class::Errand, &[0x80]), Err(NotTaken::NoMessageNumber));
    let order =
        [(Class::SetPoint, other), (Class::SetPoint, new), (Class::Errand, errand), (Class::Errand, second)];
    assert_eq!(tickets(&mut mailbox, 0), order);
    assert!(!mailbox.has_more());
}

#[test]
fn each_fate_does_what_it_says() {
    let mut mailbox = Box4::new();
    let one = mailbox.push(Class::Errand, &[1], 0, 60).unwrap().ticket;
    let two = mailbox.push(Class::Errand, &[2], 0, 60).unwrap().ticket;
    assert!(!mailbox.settle(one, Fate::Confirmed), "it is not offered yet");
    assert_eq!(mailbox.offer(0).map(|letter| letter.ticket), Some(one));
    assert!(mailbox.settle(one, Fate::NotSent));
    assert_eq!(mailbox.offer(0).map(|letter| letter.ticket), Some(one), "it keeps its place");
    assert!(mailbox.settle(one, Fate::Unknown));
    assert!(!mailbox.settle(one, Fate::Confirmed));
    assert_eq!(mailbox.offer(0).map(|letter| letter.ticket), Some(two));
    assert!(mailbox.settle(two, Fate::Confirmed));
    assert_eq!((mailbox.letters(), mailbox.has_more()), (&[][..], false));
    // A set-point that did not leave gives way to a newer one, and only to one of its own message number.
    for (number, stays) in [(3, false), (4, true)] {
        let mut mailbox = Box4::default();
        let old = mailbox.push(Class::SetPoint, &[3, 1], 0, 60).unwrap().ticket;
        mailbox.offer(0);
        mailbox.push(Class::SetPoint, &[number, 2], 0, 60).unwrap();
        assert!(mailbox.settle(old, Fate::NotSent));
        assert_eq!(mailbox.letters().iter().any(|letter| letter.ticket == old), stays);
    }
}

#[test]
fn what_waits_too_long_is_handed_back_and_what_is_offered_is_not() {
    let mut mailbox = Box4::new();
    let early = mailbox.push(Class::SetPoint, &[3], 100, 10).unwrap().ticket;
    let offered = mailbox.push(Class::Errand, &[4], 100, 10).unwrap().ticket;
    let late = mailbox.push(Class::Errand, &[5], 100, u32::MAX).unwrap().ticket;
    assert_eq!(mailbox.poll_expired(109), None);
    assert_eq!(mailbox.offer(109).map(|letter| letter.ticket), Some(early));
    mailbox.settle(early, Fate::NotSent);
    let letter = mailbox.poll_expired(110).unwrap();
    assert_eq!((letter.ticket, letter.class, &letter.payload[..]), (early, Class::SetPoint, &[3][..]));
    assert_eq!(mailbox.offer(109).map(|letter| letter.ticket), Some(offered));
    assert_eq!(mailbox.offer(4_000_000_000).map(|letter| letter.ticket), Some(late));
    assert_eq!(mailbox.poll_expired(4_000_000_000), None, "both are on their way");
    mailbox.settle(offered, Fate::NotSent);
    assert_eq!(mailbox.offer(110), None, "an expired one is never offered");
    assert_eq!(mailbox.poll_expired(110).map(|letter| letter.ticket), Some(offered));
}

proptest! {
    /// Every letter that was taken ends in exactly one way, and no more wait than there is room for.
    #[test]
    fn the_books_of_a_mailbox_balance(acts in prop::collection::vec((0_u8..6, 0_u8..4, 0_u32..40), 0..200)) {
        let mut mailbox = Box4::new();
        let (mut now, mut taken, mut ended) = (0, 0, 0);
        let mut offered = List::new();
        for (act, what, life) in acts {
            match act {
                0..=2 => if let Ok(accepted) = mailbox.push(Class::ALL[usize::from(what)], &[what], now, life) {
                    taken += 1;
                    ended += u32::from(accepted.replaces.is_some());
                },
                3 => offered.extend(mailbox.offer(now).map(|letter| letter.ticket)),
                4 => if !offered.is_empty() {
                    let ticket = offered.remove(usize::from(what) % offered.len());
                    let before = mailbox.letters().len();
                    prop_assert!(mailbox.settle(ticket, [Fate::Confirmed, Fate::Sent, Fate::Unknown, Fate::NotSent][usize::from(what)]));
                    ended += u32::try_from(before - mailbox.letters().len()).unwrap();
                },
                _ => {
                    now += life;
                    ended += u32::try_from(core::iter::from_fn(|| mailbox.poll_expired(now)).count()).unwrap();
                }
            }
            prop_assert_eq!(taken, ended + u32::try_from(mailbox.letters().len()).unwrap());
            let queued_set_points: List<_> = mailbox.letters().iter()
                .filter(|letter| (letter.class, letter.post) == (Class::SetPoint, Post::Queued)).map(|letter| letter.payload[0]).collect();
            let mut distinct = queued_set_points.clone();
            distinct.sort_unstable();
            distinct.dedup();
            prop_assert_eq!(distinct.len(), queued_set_points.len(), "two of one message number wait");
        }
    }
}
