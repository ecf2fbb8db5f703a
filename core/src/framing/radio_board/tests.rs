use super::*;
use crate::framing::{Datagram, air::tail_of};
use proptest::prelude::*;
use std::{vec, vec::Vec};

fn encoded(air: Air<'_>) -> Vec<u8> {
    let mut out = vec![0; 1100];
    let len = air.encode(&mut out).expect("room");
    out.truncate(len);
    out
}

/// What the framing makes of octets, `piece` at a time, and the state after it.
fn finds(wire: &[u8], piece: usize) -> (Vec<Result<Vec<u8>, Reject>>, State) {
    let (mut state, mut buffer, mut found) = (State::default(), [0; 1040], vec![]);
    for part in wire.chunks(piece) {
        let mut rest = part;
        while !rest.is_empty() {
            let fed = RadioBoard.feed::<Fcs16>(&mut state, rest, &mut buffer);
            assert!(
                fed.step != Step::More || fed.consumed == rest.len(),
                "answers are passed over in the same call"
            );
            rest = &rest[fed.consumed..];
            match fed.step {
                Step::Frame { start, len } => found.push(Ok(buffer[start..start + len].to_vec())),
                Step::Refused { reject, .. } => found.push(Err(reject)),
                Step::Text { len } => found.push(Ok([b"text: ", &buffer[..len]].concat())),
                Step::More => {}
            }
        }
    }
    (found, state)
}

fn datagram(frame: &[u8]) -> Vec<u8> {
    let mut out = vec![0; frame.len() + 2];
    let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, frame));
    let len = Datagram.encode(&[frame, &fcs[..2]], Lead::Delimiter, &mut out).expect("room");
    out.truncate(len);
    out
}

#[test]
fn a_frame_of_the_air_comes_through_and_tells_its_strength() {
    let inner = datagram(&[0xA1, 0x34, 0x12, 0]);
    let wire = encoded(Air::Heard { at: 7, strength: Some(-93), datagram: &inner });
    let (found, state) = finds(&wire, 64);
    assert_eq!(found, [Ok(vec![0xA1, 0x34, 0x12, 0])]);
    assert_eq!(state.heard, Some(Heard { at: 7, strength: Some(-93) }));
    let (_, state) = finds(&encoded(Air::Heard { at: 8, strength: None, datagram: &inner }), 64);
    assert_eq!(state.heard, Some(Heard { at: 8, strength: None }));
}

#[test]
fn strength_is_written_as_the_nearest_that_there_is() {
    for (dbm, octet) in
        [(Some(5), 0), (Some(0), 0), (Some(-1), 1), (Some(-254), 254), (Some(-300), 254), (None, 255)]
    {
        let wire = encoded(Air::Heard { at: 0x0101_0101, strength: dbm, datagram: &[9; 4] });
        let mut plain = [0; 40];
        let len = cobs::decode(&wire[1..wire.len() - 1], &mut plain).expect("canonical");
        assert_eq!(plain[..len - 2][7], octet);
    }
}

#[test]
fn answers_are_counted_and_let_nothing_through() {
    let wire = [
        encoded(Air::Sent { at: 5, tail: [1, 2] }),
        encoded(Air::NotSent { why: NotSent::Airtime, tail: [3, 4] }),
        encoded(Air::Sent { at: 9, tail: [1, 2] }),
        encoded(Air::Send { datagram: &[1; 4] }),
    ]
    .concat();
    for piece in [1, 2, 7, 100] {
        let (found, state) = finds(&wire, piece);
        assert_eq!(found, []);
        assert_eq!((state.sent, state.not_sent, state.why), (2, 1, Some(NotSent::Airtime)));
    }
}

#[test]
fn damage_on_the_uart_and_damage_on_the_air_are_both_refused() {
    let inner = datagram(&[0xA1, 0x34, 0x12, 0]);
    let good = encoded(Air::Heard { at: 7, strength: None, datagram: &inner });
    let mut on_the_uart = good.clone();
    on_the_uart[9] ^= 0x10;
    let mut weak = inner.clone();
    weak[1] ^= 1;
    let on_the_air = encoded(Air::Heard { at: 7, strength: None, datagram: &weak });
    let text = encoded(Air::Heard { at: 7, strength: None, datagram: b"hello there" });
    let (found, _) = finds(&[good.clone(), on_the_uart, on_the_air, text, good].concat(), 5);
    let frame = Ok(vec![0xA1, 0x34, 0x12, 0]);
    assert_eq!(
        found,
        [frame.clone(), Err(Reject::BadFcs), Err(Reject::BadFcs), Ok(b"text: hello there".to_vec()), frame]
    );
}

/// W-63: each way to be wrong, with its error and the rule under which a link counts it.
#[test]
fn wrong_bodies_are_refused_by_name() {
    use NotAir::{BadLength, OtherFrame, UnknownForm, UnknownReason};
    let cases: [(&[u8], NotAir, Reject); 14] = [
        (&[], OtherFrame, Reject::UnknownExtension),
        (&[0xE0, 0x15], OtherFrame, Reject::UnknownExtension),
        (&[0xF0, 0x16, 1, 9, 9, 9, 9], OtherFrame, Reject::UnknownExtension),
        (&[0xE0, 0x16], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 0], UnknownForm, Reject::UnknownExtension),
        (&[0xE0, 0x16, 5, 1, 1, 1, 1], UnknownForm, Reject::UnknownExtension),
        (&[0xE0, 0x16, 1, 1, 1, 1], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 2, 1, 1, 1, 1], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 2, 1, 1, 1, 1, 60, 9, 9, 9], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 3, 1, 1, 1, 1, 9], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 3, 1, 1, 1, 1, 9, 9, 9], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 4, 1, 9], BadLength, Reject::BadLength),
        (&[0xE0, 0x16, 4, 5, 9, 9], UnknownReason, Reject::UnknownExtension),
        (&[0xE0, 0x16, 4, 1, 9, 9, 9], BadLength, Reject::BadLength),
    ];
    for (octets, not_air, reject) in cases {
        assert_eq!(Air::read(octets), Err(not_air), "{octets:02X?}");
        if octets.len() < 2 {
            continue;
        }
        let mut out = [0; 40];
        let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, octets));
        let len = Cobs.encode(&[octets, &fcs[..2]], Lead::Delimiter, &mut out).expect("room");
        assert_eq!(finds(&out[..len], 64).0, [Err(reject)], "{octets:02X?}");
    }
}

#[test]
fn more_than_four_parts_find_no_room() {
    let mut out = [0; 64];
    assert!(RadioBoard.encode(&[&[1], &[2], &[3], &[4]], Lead::Delimiter, &mut out).is_ok());
    assert_eq!(RadioBoard.encode(&[&[1_u8][..]; 5], Lead::Delimiter, &mut out), Err(NoRoom));
}

fn body() -> impl Strategy<Value = Vec<u8>> {
    (0_u8..7, proptest::collection::vec(any::<u8>(), 0..40))
        .prop_map(|(form, rest)| [&[0xE0, 0x16, form][..], &rest].concat())
}

proptest! {
    /// W-63 is canonical: what is read at all is what is written, octet for octet.
    #[test]
    fn only_what_is_written_is_read(octets in body()) {
        if let Ok(air) = Air::read(&octets) {
            let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &octets));
            let mut out = [0; 64];
            let len = Cobs.encode(&[&octets, &fcs[..2]], Lead::Delimiter, &mut out).unwrap();
            prop_assert_eq!(encoded(air), &out[..len]);
        }
    }

    /// What a link says through the board is SEND with the very datagram that it would say without one; the longest length holds.
    #[test]
    fn the_board_gets_the_datagram_whole(head in proptest::collection::vec(any::<u8>(), 2..8), payload in proptest::collection::vec(any::<u8>(), 0..1020)) {
        let frame = [&head[..], &payload].concat();
        let inner = datagram(&frame);
        let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &frame));
        let mut out = vec![0; RadioBoard::max_encoded_len(inner.len())];
        let len = RadioBoard.encode(&[&head, &payload, &fcs[..2]], Lead::Delimiter, &mut out).unwrap();
        prop_assert_eq!(&out[..len], encoded(Air::Send { datagram: &inner }));
        prop_assert_eq!(tail_of(&inner), [fcs[0], fcs[1]]);
    }

    /// Any cut of any octets gives the same, and nothing panics.
    #[test]
    fn any_cut_gives_the_same(bodies in proptest::collection::vec((body(), 0_usize..60), 0..5), piece in 1_usize..30) {
        let mut wire = vec![];
        for (octets, flip) in bodies {
            let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &octets));
            let mut out = [0; 64];
            let len = Cobs.encode(&[&octets, &fcs[..2]], Lead::Delimiter, &mut out).unwrap();
            if flip < len { out[flip] ^= 4 }
            wire.extend_from_slice(&out[..len]);
        }
        wire.push(0);
        let whole = finds(&wire, 4096);
        prop_assert_eq!(finds(&wire, piece).0, whole.0);
    }
}
