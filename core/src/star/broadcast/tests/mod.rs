mod copies;
mod numbers;
mod sending;

use super::*;
use crate::{
    frame::{Addresses, Class, Kind, View},
    time::Duration,
};

const SESSION: u32 = 0x3001;
const HUB: u32 = 0x2_A5C3;
const LIFETIME: Duration = Duration::from_ticks(500_000);

/// A frame to all as it comes out of a reader.
fn frame<'a>(hub: u32, class: Class, number: u8, tagged: bool, payload: &'a [u8]) -> View<'a> {
    let header = Header {
        session: u8::try_from(hub & 3).unwrap(),
        tag: tagged.then(|| u16::try_from(hub >> 2).unwrap()),
        addresses: Some(Addresses { to: 255, from: 0 }),
        number,
        ..Header::new(class.kind())
    };
    View { header, payload }
}

/// A leaf whose hub has told it that `next` comes next.
fn leaf(lifetime: Duration, next: u8) -> BroadcastReceiver {
    let mut leaf = BroadcastReceiver::new(lifetime);
    leaf.opened(SESSION);
    assert!(leaf.handle_told(Told { session: SESSION, broadcast: HUB, next }));
    leaf
}

fn set_point(number: u8) -> View<'static> {
    frame(HUB, Class::SetPoint, number, true, &[4, 10])
}

#[test]
fn the_body_lies_where_it_is_written_down() {
    let told = Told { session: 0x3_0201, broadcast: 0x1_0605, next: 9 };
    assert_eq!(told.octets(), [1, 2, 3, 0, 5, 6, 1, 0, 9]);
    assert_eq!(Told::parse(&told.octets()), Some(told));
    assert_eq!(Told::parse(&[1, 2, 3, 0, 5, 6, 1, 0]), None, "too short");
    assert_eq!(Told::parse(&[1, 2, 3, 0, 5, 6, 1, 0, 9, 0]), None, "too long");
    assert_eq!(Told::parse(&[1, 2, 4, 0, 5, 6, 1, 0, 9]), None, "a session number has 18 bits");
    assert_eq!(Told::parse(&[1, 2, 3, 0, 5, 6, 1, 1, 9]), None, "and a broadcast number too");
}

#[test]
fn only_set_points_and_notices_from_the_hub_to_all_are_heard() {
    use crate::frame::Reject::NotForUs;
    let mut leaf = leaf(LIFETIME, 0);
    for kind in Kind::ALL {
        for (to, from) in [(255, 0), (255, 1), (3, 0), (0, 3)] {
            let addresses = Some(Addresses { to, from });
            let header = Header { addresses, ..Header::new(kind) };
            let heard = leaf.hear(&View { header, payload: &[4, 10] });
            let is_ours = (to, from) == (255, 0) && matches!(kind, Kind::SetPoint | Kind::Notice);
            assert_eq!(heard == Err(NotForUs), !is_ours, "{kind:?} {to} {from}");
        }
    }
    let header = Header::new(Kind::Notice);
    assert_eq!(leaf.hear(&View { header, payload: &[4] }), Err(NotForUs), "no addresses");
}
