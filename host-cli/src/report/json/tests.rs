//! Both ways to write a frame give the same line.

use super::*;
use bellwire::frame::Ack;
use bellwire_tests::seed;
use proptest::prelude::*;
use std::borrow::Cow;

#[test]
fn the_short_way_writes_what_the_long_way_writes() {
    let seed = seed("the_short_way_writes_what_the_long_way_writes");
    let json = Json::new(Arc::new(crate::observatory::table()), Arc::default());
    let _ = json.start.get(1_764_062_400_000_000_000);
    let place =
        prop_oneof![any::<u64>(), 0_u64..2000, (0_u32..20).prop_map(|n| 10_u64.pow(n) - n as u64 % 2)];
    let time = proptest::option::of(1_764_062_400_000_000_000..1_964_062_400_000_000_000_u64);
    let body = (0_u8..13, proptest::collection::vec(any::<u8>(), 0..20));
    let head = (0..Kind::ALL.len(), any::<u8>(), 0_u8..4, proptest::option::of(any::<u8>()));
    let strategy = (place, time, body, head, any::<u16>(), 0_u32..2000, any::<bool>());
    let result = seed.runner(2000).run(
        &strategy,
        |(place, at, (message, body), (kind, number, session, next), port, wire, out)| {
            let direction = if out { Direction::Out } else { Direction::In };
            let ack = next.filter(|next| next % 4 == 0).map(|next| Ack { next, held: None });
            let header = Header { number, session, ack, ..Header::new(Kind::ALL[kind]) };
            let payload = Cow::Owned([&[message][..], &body].concat());
            let stamp = Stamp { at, port, direction, place };
            let record = Record::Frame(Frame {
                stamp,
                wire,
                header,
                payload,
                sending: 1 + u8::from(number == 7),
                agreement: 0,
                aired: None,
            });
            let (mut short, mut long) = (Vec::new(), Vec::new());
            json.record(&record, &mut short);
            json.any(&record, &mut long);
            prop_assert_eq!(String::from_utf8(short).unwrap(), String::from_utf8(long).unwrap());
            Ok(())
        },
    );
    result.unwrap();
}
