//! Loss, doubles, overtaking and restarts in any order: nothing wrong is ever taken as whole, and all ends once the line is whole.

use super::*;
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn what_is_delivered_is_the_content_and_once(
        size in 1_u32..700,
        window in 1_u8..=32,
        mishaps in prop::collection::vec((0_u8..12, any::<prop::sample::Index>()), 0..200),
    ) {
        let content = content(size);
        let offer = offer(1, &content, 16);
        let (mut desk, mut mast) = (sender(offer), Mast::new(window));
        let mut air: Vec<(bool, Vec<u8>)> = vec![];
        let mut mishaps = mishaps.into_iter();
        let mut sent = 0_u32;
        for _ in 0..3_000 {
            if desk.outcome() == Some(Outcome::Unknown) {
                desk.again();
            }
            let before = air.len();
            air.extend(answers(&mut mast.receiver).map(|body| (false, body)));
            air.extend(sends(&mut desk, &content).map(|body| (true, body)));
            sent += u32::try_from(air.len() - before).unwrap();
            let mishap = mishaps.next();
            let at = mishap.filter(|_| !air.is_empty()).map_or(0, |(_, index)| index.index(air.len()));
            match mishap.map(|(what, _)| what) {
                Some(0..=2) if !air.is_empty() => drop(air.remove(at)),
                Some(3 | 4) if !air.is_empty() => air.push(air[at].clone()),
                Some(5) => desk = sender(offer),
                Some(6) => mast.restart(),
                // Its state is lost; what lies in the store is still there.
                Some(7) => mast = Mast { whole: mast.whole, store: mast.store.clone(), ..Mast::new(window) },
                _ => {}
            }
            // With mishaps to come any frame may be next; later the line keeps order.
            let next = if mishap.is_some() { at } else { 0 };
            if next < air.len() {
                let (out, body) = air.remove(next);
                if out {
                    mast.take(&body, mishap.is_some_and(|(what, _)| what == 8));
                } else {
                    let _ = desk.handle(&body);
                }
            } else if let Some(wake) = desk.poll_wake() {
                desk.elapse(wake);
            }
            if desk.outcome() == Some(Outcome::Delivered) && air.is_empty() && mishap.is_none() {
                break;
            }
        }
        prop_assert_eq!(desk.outcome(), Some(Outcome::Delivered), "{:?} {:?}", desk, mast.receiver);
        prop_assert!(mast.whole >= 1);
        prop_assert_eq!(&mast.store[..content.len()], &content[..]);
        prop_assert!(sent < 3_000);
    }
}
