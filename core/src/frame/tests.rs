//! Small parts of frames, in full.

use super::*;
use crate::{fcs::Fcs16, framing::Cobs};

#[test]
fn a_void_is_an_errand_or_report_without_payload() {
    let control = |kind: Kind| (kind as u8) << 5;
    for (frame, is_void) in [
        (&[control(Kind::Errand), 0][..], true),
        (&[control(Kind::Report), 0], true),
        (&[control(Kind::Errand), 0, 1], false),
        (&[control(Kind::Report), 0, 1], false),
        (&[control(Kind::SetPoint), 0, 1], false),
        (&[control(Kind::Notice), 0, 1], false),
        (&[control(Kind::Ack) | 1 << 2, 0], false),
    ] {
        let view = View::parse(frame, false).unwrap();
        assert_eq!(view.is_void(), is_void, "{view:?}");
        assert_eq!(view.message().is_some(), view.payload.len() == 1);
    }
}

/// W-15: 0 to 250 name boards; a sender has no other.
#[test]
fn addresses_end_at_250_and_255_is_everybody() {
    fn parse(to: u8, from: u8) -> Result<Addresses, Reject> {
        let frame = [(Kind::Notice as u8) << 5 | 1 << 4, to, from, 0, 1];
        View::parse(&frame, false).map(|view| view.header.addresses.unwrap())
    }
    for from in 0..=255 {
        let wanted = (from <= 250).then_some(Addresses { to: 1, from }).ok_or(Reject::BadAddress);
        assert_eq!(parse(1, from), wanted);
    }
    for to in 0..=255 {
        let wanted = (to <= 250 || to == 255).then_some(Addresses { to, from: 1 }).ok_or(Reject::BadAddress);
        assert_eq!(parse(to, 1), wanted);
    }
}

/// W-20: the cause of a reset stands in bits 4 to 6, and all eight are taken.
#[test]
fn each_cause_of_a_reset_comes_back() {
    let causes = [
        ResetCause::Unknown,
        ResetCause::Power,
        ResetCause::Pin,
        ResetCause::Watchdog,
        ResetCause::Software,
        ResetCause::LowVoltage,
        ResetCause::Wake,
        ResetCause::Fault,
    ];
    for (bits, cause) in (0_u8..).zip(causes) {
        for numberless in [false, true] {
            let open = Open {
                version: WIRE_VERSION,
                ask: true,
                numberless,
                cause,
                mine: 7,
                echo: None,
                window: 1,
                max_payload: 48,
                fingerprint: 0,
                silence: 0,
                identity: 0,
            };
            assert_eq!(open.octets()[1], 1 | u8::from(numberless) << 2 | bits << 4);
            assert_eq!(Open::parse(&open.octets()), Ok(open));
        }
    }
}

/// W-20 and W-21, octet for octet: the length first, then flags, window and largest payload; another version has its numbers only.
#[test]
fn an_open_is_refused_for_its_length_or_a_field_out_of_range() {
    let good = [1, 0, 7, 0, 0, 0, 0, 0, 0, 0, 1, 48, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    let open = |place: usize, octet: u8| {
        let mut body = good;
        body[place] = octet;
        Open::parse(&body).map(|_| ())
    };
    let longer = [&good[..], &[0]].concat();
    for len in 0..=longer.len() {
        let wanted = if len == good.len() { Ok(()) } else { Err(Reject::BadLength) };
        assert_eq!(Open::parse(&longer[..len]).map(|_| ()), wanted, "{len}");
        let frame = [&[(Kind::Open as u8) << 5], &longer[..len]].concat();
        assert_eq!(View::parse(&frame, false).map(|_| ()), wanted, "the frame around {len}");
        let other = [&[2], &longer[1..]].concat();
        let wanted = if len >= 10 { Ok(()) } else { Err(Reject::BadLength) };
        assert_eq!(Open::parse(&other[..len]).map(|_| ()), wanted, "version 2, {len}");
    }
    for flags in 0..=255 {
        let wanted = if flags & 0x88 == 0 { Ok(()) } else { Err(Reject::BadOpen) };
        assert_eq!(open(1, flags), wanted, "flags {flags:02X}");
    }
    for window in 0..=255 {
        let wanted = if (1..=8).contains(&window) { Ok(()) } else { Err(Reject::BadOpen) };
        assert_eq!(open(10, window), wanted, "window {window}");
    }
    let least = u8::try_from(*PAYLOAD_RANGE.start()).expect("an octet");
    assert_eq!((open(11, least), open(11, least - 1)), (Ok(()), Err(Reject::BadOpen)));
}

/// W-16: which forms of acknowledgement each kind may have.
#[test]
fn each_kind_has_its_forms_of_acknowledgement() {
    for kind in Kind::ALL.into_iter().filter(|kind| *kind != Kind::Open) {
        for form in 0..4_u8 {
            let mut frame = std::vec![(kind as u8) << 5 | form << 2];
            frame.extend((0..form.min(2)).map(|_| 9));
            frame.extend((kind == Kind::Extended).then_some(Extension::StatisticsRequest as u8));
            frame.extend(kind.is_numbered().then_some(5));
            frame.extend((kind != Kind::Ack && kind != Kind::Extended).then_some(1));
            let may = match kind {
                Kind::Ack => form == 1 || form == 2,
                Kind::Extended => form == 0,
                _ => form != 3,
            };
            let got = View::parse(&frame, false).map(|view| view.header.kind);
            assert_eq!(got, if may { Ok(kind) } else { Err(Reject::BadAckForm) }, "{kind:?} {form}");
        }
    }
}

/// W-17 and W-18: an acknowledgement has no payload, a body its length, a message its number in the shortest form.
#[test]
fn each_kind_has_its_payload() {
    let control = |kind: Kind| (kind as u8) << 5;
    let extended = |extension: Extension, len: usize| {
        let frame = [&[control(Kind::Extended), extension as u8][..], &std::vec![1; len]].concat();
        View::parse(&frame, false).map(|_| ())
    };
    for len in 0..80 {
        let fits = |good: bool| if good { Ok(()) } else { Err(Reject::BadLength) };
        assert_eq!(extended(Extension::StatisticsRequest, len), fits(len == 0));
        assert_eq!(extended(Extension::Probe, len), fits((2..=66).contains(&len)));
        assert_eq!(extended(Extension::ProbeAnswer, len), fits((2..=66).contains(&len)));
        assert_eq!(extended(Extension::Statistics, len), fits(len % 4 == 1));
        let ack = [&[control(Kind::Ack) | 1 << 2, 0][..], &std::vec![1; len]].concat();
        assert_eq!(View::parse(&ack, false).map(|_| ()), fits(len == 0));
    }
    for kind in [Kind::Errand, Kind::Report, Kind::SetPoint, Kind::Notice] {
        for long in [&[0x80, 0x00][..], &[0x80], &[0x80, 0x80, 0x01]] {
            let frame = [&[control(kind), 0][..], long].concat();
            let refused = View::parse(&frame, false).map(|_| ());
            assert_eq!(refused, MessageNumber::split(long).map(|_| ()), "{kind:?}");
            assert!(refused.is_err());
        }
    }
}

#[test]
fn readers_are_equal_if_they_go_on_alike() {
    use std::hash::{DefaultHasher, Hash, Hasher};
    fn hash<T: Hash>(value: &T) -> u64 {
        let mut hasher = DefaultHasher::new();
        value.hash(&mut hasher);
        hasher.finish()
    }
    let read = |octets: &[u8]| {
        let mut reader = Reader::<Cobs, Fcs16, 8>::new(Cobs);
        let _ = reader.feed(octets);
        reader
    };
    // What a frame before has left in the buffer does not count.
    let (fresh, after) = (read(&[]), read(&[0, 0x99, 0x98, 0x97, 0]));
    assert_eq!((&fresh, hash(&fresh)), (&after, hash(&after)));
    // Octets held, how many of them, and skipping a long candidate do.
    let all = [fresh, read(&[5]), read(&[6]), read(&[5, 5]), read(&[0x80; 20])];
    for (at, one) in all.iter().enumerate() {
        for (place, other) in all.iter().enumerate() {
            assert_eq!(one == other, at == place, "{one:?} {other:?}");
            assert_eq!(hash(one) == hash(other), at == place);
        }
    }
    let maps = [crate::framing::ControlMap::NONE, crate::framing::ControlMap::ALL];
    let [one, other] = maps.map(|map| Reader::<_, Fcs16, 8>::new(crate::framing::OctetStuffing::new(map)));
    assert_ne!(one, other);
}
