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
