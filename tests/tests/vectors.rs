//! The golden vectors of `tests/vectors`: every good frame is read and made again, every reject names its rule, every
//! stream is found the same however it is cut.

use bellwire::{
    fcs::Fcs,
    frame::{self, Ack, Addresses, Extension, Header, Kind, MessageNumber, Reject, View},
    framing::{Framing, Lead},
};
use bellwire_tests::{
    line::{self, Job},
    vector::{self, Fields, Find, FramingName, Octets, Rejected, Stream, hex},
};
use std::collections::BTreeSet;

fn header_of(fields: &Fields) -> Header {
    let kind = Kind::ALL.into_iter().find(|kind| kind.name() == fields.kind).expect("a kind");
    let extension =
        |name: &String| Extension::ALL.into_iter().find(|known| known.name() == name).expect("an extension");
    Header {
        session: fields.session.unwrap_or(0),
        tag: fields.tag,
        addresses: fields.to.map(|to| Addresses { to, from: fields.from.expect("from") }),
        ack: fields.next.map(|next| Ack { next, held: fields.held }),
        extension: fields.extension.as_ref().map(extension),
        number: fields.number.unwrap_or(0),
        ..Header::new(kind)
    }
}

#[test]
fn good_frames_are_found_and_read() {
    for vector in vector::read::<vector::Frame>("frames") {
        let name = format!("{} ({:?})", vector.name, vector.line);
        assert_eq!(
            line::finds(vector.line, [&vector.wire.0[..]]),
            [Find::Frame(vector.frame.clone())],
            "{name}"
        );
        let tagged = vector.line.framing == FramingName::Datagram;
        let view = View::parse(&vector.frame.0, tagged).expect(&name);
        assert_eq!(view.header, header_of(&vector.fields), "{name}");
        assert_eq!(hex(view.payload), hex(&vector.fields.payload.0), "{name}");
        assert_eq!(view.message().map(MessageNumber::get), vector.fields.message, "{name}");
        let Some(wanted) = vector.fields.open else { continue };
        let open = view.open().expect(&name);
        assert_eq!(
            (open.version, open.ask, open.numberless),
            (wanted.version, wanted.ask, wanted.numberless),
            "{name}"
        );
        assert_eq!(
            (open.cause as u8, open.mine, open.echo),
            (wanted.cause, wanted.mine, wanted.echo),
            "{name}"
        );
        if wanted.version == frame::WIRE_VERSION {
            assert_eq!(Some(open.window), wanted.window, "{name}");
            assert_eq!(Some(open.max_payload), wanted.max_payload, "{name}");
            assert_eq!(Some(open.fingerprint), wanted.fingerprint, "{name}");
            assert_eq!(
                (Some(open.silence), Some(open.identity)),
                (wanted.silence, wanted.identity),
                "{name}"
            );
            assert_eq!(open.octets()[..], *view.payload, "{name}");
        }
    }
}

#[test]
fn good_frames_are_made_octet_for_octet() {
    struct Make<'a>(&'a Header, &'a [u8]);
    impl Job for Make<'_> {
        type Out = Vec<u8>;
        fn run<F: Framing, C: Fcs>(self, framing: F) -> Vec<u8> {
            let mut out = vec![0; F::max_encoded_len(frame::MAX_HEADER + self.1.len() + C::LEN)];
            let len =
                frame::write::<F, C>(&framing, self.0, self.1, Lead::Delimiter, &mut out).expect("room");
            out.truncate(len);
            out
        }
    }
    for vector in vector::read::<vector::Frame>("frames") {
        let made = line::on(vector.line, Make(&header_of(&vector.fields), &vector.fields.payload.0));
        assert_eq!(hex(&made), hex(&vector.wire.0), "{} ({:?})", vector.name, vector.line);
        assert_eq!(line::encode(vector.line, Lead::Delimiter, &vector.frame.0), made, "{}", vector.name);
        if vector.line.framing != FramingName::Datagram {
            assert_eq!(
                line::encode(vector.line, Lead::BackToBack, &vector.frame.0),
                made[1..],
                "{}",
                vector.name
            );
        }
    }
}

#[test]
fn rejects_name_the_rule() {
    for vector in vector::read::<Rejected>("rejects") {
        let found = line::finds(vector.line, [&vector.wire.0[..]]);
        assert_eq!(found, [Find::Reject(vector.reject.clone())], "{} ({:?})", vector.name, vector.line);
        let reject = Reject::ALL.into_iter().find(|reject| reject.name() == vector.reject).expect("a reject");
        assert_eq!((reject.code(), reject.rule()), (vector.code, &vector.rule[..]), "{}", vector.name);
    }
}

#[test]
fn streams_are_found_alike_however_they_are_cut() {
    for vector in vector::read::<Stream>("streams") {
        let name = format!("{} ({:?})", vector.name, vector.line);
        let wire = &vector.wire.0[..];
        assert_eq!(line::finds(vector.line, [wire]), vector.finds, "{name}, whole");
        for piece in [1, 2, 3, 7] {
            assert_eq!(
                line::finds(vector.line, wire.chunks(piece)),
                vector.finds,
                "{name}, {piece} at a time"
            );
        }
        for cut in 1..wire.len() {
            let (one, two) = wire.split_at(cut);
            assert_eq!(line::finds(vector.line, [one, two]), vector.finds, "{name}, cut at {cut}");
        }
    }
}

/// Any cut of any good frame, and of any reject, finds the same.
#[test]
fn frames_and_rejects_are_found_alike_however_they_are_cut() {
    let frames =
        vector::read::<vector::Frame>("frames").into_iter().map(|v| (v.line, v.wire, Find::Frame(v.frame)));
    let rejects =
        vector::read::<Rejected>("rejects").into_iter().map(|v| (v.line, v.wire, Find::Reject(v.reject)));
    for (line, Octets(wire), find) in frames.chain(rejects) {
        if line.framing == FramingName::Datagram {
            continue;
        }
        for cut in 1..wire.len() {
            let (one, two) = wire.split_at(cut);
            assert_eq!(
                line::finds(line, [one, two]),
                std::slice::from_ref(&find),
                "{line:?}, cut at {cut}: {}",
                hex(&wire)
            );
        }
    }
}

/// Section 9 of WIRE.md, this crate's table, and the vectors name the same rejects; codes 0 to 9, 11 to 15 have a vector here, the
/// others belong to a link and stand in `sessions.json`.
#[test]
fn every_reject_of_a_receiver_has_a_vector() {
    let shown: BTreeSet<u8> = vector::read::<Rejected>("rejects").iter().map(|vector| vector.code).collect();
    let wanted: BTreeSet<u8> = (0..=15).filter(|code| *code != Reject::NotForUs.code()).collect();
    assert_eq!(shown, wanted);
}
