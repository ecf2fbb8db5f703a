//! Cut at every message, at either end: what is resent is at most one part and one map.

use super::*;
use std::println;

#[test]
fn without_a_cut_every_part_goes_once_and_one_map_a_window() {
    for (size, window, parts, maps) in
        [(1, 1, 1, 1), (320, 1, 20, 20), (330, 8, 21, 3), (512, 32, 32, 1), (4_096, 32, 256, 8)]
    {
        let content = content(size);
        let (count, mast) = run(&content, window, 0, Cut::Nothing);
        // The map that answers the offer comes on top; the answer to the last part is DONE.
        assert_eq!(count, Count { offers: 1, parts, asks: 0, maps, others: 1 }, "{size} {window}");
        assert_eq!((&mast.store[..content.len()], mast.whole), (&content[..], 1));
    }
}

#[test]
fn a_cut_at_any_message_costs_at_most_one_part_and_one_map() {
    let mut most = Count::default();
    let mut cuts = 0;
    for (size, window) in [(100, 1), (330, 1), (330, 3), (330, 8), (330, 32)] {
        let content = content(size);
        let (plain, _) = run(&content, window, 0, Cut::Nothing);
        for after in 1..=plain.all() {
            for cut in [
                Cut::Desk { loses: false },
                Cut::Desk { loses: true },
                Cut::Mast { loses: false, stores: true },
                Cut::Mast { loses: false, stores: false },
                Cut::Mast { loses: true, stores: true },
            ] {
                let (count, mast) = run(&content, window, after, cut);
                assert_eq!(mast.store[..content.len()], content[..], "{size} {window} {after} {cut:?}");
                assert_eq!(mast.whole, 1, "{size} {window} {after} {cut:?}");
                let extra = Count {
                    offers: count.offers - plain.offers,
                    parts: count.parts - plain.parts,
                    asks: count.asks - plain.asks,
                    maps: count.maps.saturating_sub(plain.maps),
                    others: count.others - plain.others,
                };
                assert!(extra.parts <= 1 && extra.maps <= 1, "{size} {window} {after} {cut:?}: {extra:?}");
                most.offers = most.offers.max(extra.offers);
                most.parts = most.parts.max(extra.parts);
                most.asks = most.asks.max(extra.asks);
                most.maps = most.maps.max(extra.maps);
                most.others = most.others.max(extra.others);
                cuts += 1;
            }
        }
    }
    println!("{cuts} cuts; at most resent: {most:?}");
    assert_eq!((most.parts, most.maps), (1, 1), "the cuts are real");
    assert!(most.offers <= 1 && most.asks <= 1 && most.others <= 1, "{most:?}");
}

#[test]
fn a_receiver_that_lost_its_state_is_offered_the_whole_again() {
    let content = content(330);
    let mut desk = sender(offer(1, &content, 16));
    let mut mast = Mast::new(8);
    for step in 0..400 {
        if step == 12 {
            mast = Mast::new(8);
        }
        match (answers(&mut mast.receiver), sends(&mut desk, &content)) {
            (None, None) => match desk.poll_wake() {
                Some(wake) => desk.elapse(wake),
                None => break,
            },
            (back, out) => {
                out.iter().for_each(|body| mast.take(body, false));
                if let Some(body) = &back {
                    let _ = desk.handle(body);
                }
            }
        }
    }
    assert_eq!((desk.outcome(), mast.whole), (Some(Outcome::Delivered), 1));
    assert_eq!(mast.store[..330], content[..]);
}

#[test]
fn nobody_there_is_unknown_and_goes_on_when_told_to() {
    let content = content(100);
    let mut desk = sender(offer(1, &content, 16));
    let mut offers = 0;
    while let Some(wake) = desk.poll_wake() {
        desk.elapse(wake);
        offers += u32::from(sends(&mut desk, &content).is_some());
    }
    assert_eq!((desk.outcome(), offers), (Some(Outcome::Unknown), 5));
    assert_eq!(desk.progress(), Progress { held: 0, size: 100 });
    desk.again();
    let mut mast = Mast::new(4);
    while let Some(body) = sends(&mut desk, &content) {
        mast.take(&body, false);
        while let Some(body) = answers(&mut mast.receiver) {
            desk.handle(&body).unwrap();
        }
    }
    assert_eq!((desk.outcome(), mast.whole), (Some(Outcome::Delivered), 1));
    assert_eq!(desk.progress(), Progress { held: 100, size: 100 });
    desk.again();
    assert_eq!(desk.outcome(), Some(Outcome::Delivered), "what is delivered is not offered again");
}

#[test]
fn progress_counts_octets_and_a_short_last_part() {
    let content = content(40);
    let mut mast = Mast::new(8);
    let mut desk = sender(offer(9, &content, 16));
    let mut seen = vec![];
    while let Some(body) = sends(&mut desk, &content) {
        mast.take(&body, false);
        seen.push(mast.receiver.progress().unwrap().held);
        answers(&mut mast.receiver).iter().for_each(|body| desk.handle(body).unwrap());
    }
    assert_eq!(seen, [0, 16, 32, 40]);
}
