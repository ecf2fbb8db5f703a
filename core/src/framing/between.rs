//! What a decoder says of itself between two calls: octets held, and text that waits for its delimiter.

use std::vec::Vec;

use super::*;
use crate::fcs::Fcs16;

/// Octets held and pending text after these octets, with a buffer of 16.
fn between<F: Framing>(framing: &F, octets: &[u8]) -> (usize, Vec<u8>) {
    let (mut state, mut buffer) = (F::State::default(), [0xEE; 16]);
    let mut rest = octets;
    while !rest.is_empty() {
        rest = &rest[framing.feed::<Fcs16>(&mut state, rest, &mut buffer).consumed..];
    }
    let text = buffer[..framing.pending_text(&state, &buffer)].to_vec();
    (framing.held(&state), text)
}

#[test]
fn a_prompt_is_held_and_shown_until_it_cannot_be_text() {
    fn check<F: Framing>(framing: F) {
        let delimiter = F::DELIMITER.unwrap();
        assert_eq!(between(&framing, &[]), (0, Vec::new()));
        assert_eq!(between(&framing, b"dome> "), (6, b"dome> ".to_vec()), "{framing:?}");
        assert_eq!(between(&framing, b"dome\x80").0, 5, "{framing:?}");
        assert_eq!(between(&framing, &[&b"dome"[..], &[delimiter]].concat()), (0, Vec::new()), "{framing:?}");
        assert_eq!(between(&framing, &[&b"dome"[..], &[delimiter], b"a"].concat()), (1, b"a".to_vec()));
    }
    check(Cobs);
    check(Slip);
    check(RadioBoard);
    check(OctetStuffing::default());
    // One octet that is no text: there is no text at all in COBS and SLIP; octet stuffing shows what came before it.
    assert_eq!(between(&Cobs, b"dome\x80").1, b"");
    assert_eq!(between(&Slip, b"dome\x80").1, b"");
}

#[test]
fn an_escaped_octet_is_no_text() {
    assert_eq!(between(&Slip, &[b'a', b'b', 0xDB]), (2, Vec::new()), "the escape octet has come");
    assert_eq!(between(&Slip, &[b'a', 0xDB, 0xDC, b'b']), (3, Vec::new()));
    assert_eq!(between(&Slip, &[0x80, b'a']), (2, Vec::new()));
}

#[test]
fn what_is_skipped_is_not_held() {
    // Seventeen octets that are no text do not fit sixteen.
    for more in 0..3 {
        assert_eq!(between(&Cobs, &std::vec![0x80; 17 + more]), (0, Vec::new()));
        assert_eq!(between(&Slip, &std::vec![0x80; 17 + more]), (0, Vec::new()));
        assert_eq!(between(&OctetStuffing::default(), &std::vec![0x80; 17 + more]), (0, Vec::new()));
    }
}

#[test]
fn a_datagram_leaves_nothing_behind() {
    for octets in [&b""[..], b"text", b"\x80\x81", &[b't'; 40]] {
        assert_eq!(between(&Datagram, octets), (0, Vec::new()));
    }
}

/// W-9: text longer than the buffer is handed out in pieces, and the next datagram is a new one.
#[test]
fn a_long_text_in_a_datagram_comes_out_whole() {
    let (mut state, mut buffer) = (datagram::State::default(), [0; 16]);
    let mut feed = |octets: &[u8]| Datagram.feed::<Fcs16>(&mut state, octets, &mut buffer);
    for len in [17, 32, 33, 40] {
        let text = std::vec![b't'; len];
        let mut at = 0;
        while at < len {
            let fed = feed(&text[at..]);
            assert_eq!(
                fed,
                Fed { consumed: (len - at).min(16), step: Step::Text { len: (len - at).min(16) } }
            );
            at += fed.consumed;
        }
        assert_eq!(feed(&[0x80, 1, 2, 3]).step, Step::Refused { reject: Reject::BadFcs, len: 4 });
    }
    let no_room = Datagram.feed::<Fcs16>(&mut state, &[b't'; 3], &mut []);
    assert_eq!(no_room, Fed { consumed: 3, step: Step::Refused { reject: Reject::TooLong, len: 0 } });
}

#[test]
fn a_datagram_decodes_to_itself() {
    let mut out = [0; 4];
    assert_eq!(datagram::decode(&[1, 2, 3, 4], &mut out), Ok(4));
    assert_eq!(out, [1, 2, 3, 4]);
    assert_eq!(datagram::decode(&[1, 2, 3, 4, 5], &mut out), Err(Reject::TooLong));
    assert_eq!(datagram::decode_in_place(&mut [7, 8, 9]), Ok(3));
    assert_eq!(datagram::decode_in_place(&mut []), Ok(0));
}

/// W-9: what is left of a text is text even if it looks like a frame by itself.
#[test]
fn the_rest_of_a_long_text_is_no_frame() {
    let printable = 0x20..0x7F_u8;
    let mut frames = printable.clone().flat_map(|first| printable.clone().map(move |second| [first, second]));
    let frame = frames.find_map(|frame| {
        let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &frame));
        is_text(&fcs[..2]).then_some([frame[0], frame[1], fcs[0], fcs[1]])
    });
    let frame = frame.expect("one in seven of 9025");
    let alone = Datagram.feed::<Fcs16>(&mut datagram::State::default(), &frame, &mut [0; 16]);
    assert_eq!(alone.step, Step::Frame { start: 0, len: 2 });
    let (mut state, mut buffer) = (datagram::State::default(), [0; 16]);
    let datagram = [&[b't'; 16][..], &frame].concat();
    let mut feed = |octets: &[u8]| Datagram.feed::<Fcs16>(&mut state, octets, &mut buffer);
    assert_eq!(feed(&datagram), Fed { consumed: 16, step: Step::Text { len: 16 } });
    assert_eq!(feed(&datagram[16..]), Fed { consumed: 4, step: Step::Text { len: 4 } });
}
