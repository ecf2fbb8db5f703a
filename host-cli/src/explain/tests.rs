use super::*;
use crate::{args::units::Octets, endpoint::FcsName, observatory, talk::codec};
use bellwire::frame::{Header, Kind};

fn explained(octets: &[u8], wiring: Wiring) -> Explained {
    Explained::new(octets, wiring, &observatory::table())
}

fn hex(text: &str) -> Explained {
    let octets: Octets = text.parse().expect("hex");
    explained(&octets.0, Wiring::default())
}

/// The first thing wrong: its rule, its place, and whether its text holds `part`.
#[track_caller]
fn first(told: &Explained, rule: &str, at: usize, part: &str) {
    let wrong = told.wrong.first().expect("something is wrong");
    assert_eq!((wrong.rule, wrong.at), (rule, at), "{told:#?}");
    assert!(wrong.what.contains(part), "{}", wrong.what);
}

#[test]
fn the_frame_of_the_readme_is_told_octet_by_octet() {
    let told = hex("00 07 41 1c 09 28 b6 ac 00");
    assert_eq!(told.wrong, []);
    let lines: Vec<_> = told.parts.iter().map(|part| format!("{} {}", part.at, part.what)).collect();
    assert_eq!(
        lines,
        [
            "0 delimiter",
            "1 COBS code: 6 octets, then the end",
            "2 control: errand, session bits 01, no acknowledgement",
            "3 sequence number 28",
            "4 message number 9: lamp",
            "5 level = 40 %",
            "6 FCS: CRC-16/IBM-SDLC over 4 octets",
            "8 delimiter"
        ]
    );
}

/// Whatever the wiring and the payload, a frame of our own writer has nothing wrong, and every octet of it is told once.
#[test]
fn good_frames_of_every_framing_are_good() {
    let payload = observatory::Message::LogLine { text: "\u{0}~}\u{c0}\u{db}dôme".repeat(12) }.payload();
    for framing in FramingName::DIRECT {
        for fcs in FcsName::ALL {
            let wiring = Wiring { framing, fcs, map: 0 };
            let codec = codec(wiring);
            let tag = framing.is_unordered().then_some(0x1234);
            let header = Header { tag, number: 7, ..Header::new(Kind::Notice) };
            let frame = codec.frame(&header, &payload);
            let told = explained(&codec.encode(&frame), wiring);
            assert_eq!(told.wrong, [], "{framing} {fcs}");
            assert_eq!(told.frames, 1);
            let is_frame = |part: &&Part| {
                !["COBS", "escape", "delimiter"].iter().any(|word| part.what.starts_with(word))
            };
            let octets: Vec<u8> =
                told.parts.iter().filter(is_frame).flat_map(|part| part.octets.clone()).collect();
            assert_eq!(octets, frame, "{framing} {fcs}");
        }
    }
}

/// The example of the crate's documentation: HEARD at 1 s, -93 dBm, with a datagram whose own FCS is told after that of the UART.
#[test]
fn a_datagram_of_a_radio_board_is_told_with_what_is_around_it() {
    let wiring = Wiring { framing: FramingName::RadioBoard, ..Wiring::default() };
    let frame = codec(wiring)
        .frame(&Header { tag: Some(0x1234), number: 28, session: 1, ..Header::new(Kind::Errand) }, &[9, 40]);
    let heard = bellwire::framing::Air::Heard { at: 1_000_000, strength: Some(-93), datagram: &frame };
    let mut wire = [0; 40];
    let len = heard.encode(&mut wire).unwrap();
    let told = explained(&wire[..len], wiring);
    assert_eq!((told.frames, told.wrong.as_slice()), (1, &[][..]));
    let lines: Vec<_> = told.parts.iter().map(|part| part.what.as_str()).collect();
    assert_eq!(
        lines.iter().filter(|what| !what.starts_with("COBS") && **what != "delimiter").collect::<Vec<_>>(),
        [
            &"control: extended",
            &"extension 0x16: air",
            &"form 2: this datagram was heard",
            &"time 1000000 µs by the board's clock",
            &"strength -93 dBm",
            &"control: errand, session bits 01, no acknowledgement",
            &"tag: bits 2 to 17 of the session number, 4660",
            &"sequence number 28",
            &"message number 9: lamp",
            &"level = 40 %",
            &"FCS: CRC-16/IBM-SDLC over 6 octets",
            &"FCS: CRC-16/IBM-SDLC over 16 octets",
        ]
    );
    // Its datagram alone is spoilt: the UART is not to blame.
    let mut spoilt = frame;
    spoilt[5] ^= 1;
    let len = bellwire::framing::Air::Send { datagram: &spoilt }.encode(&mut wire).unwrap();
    first(&explained(&wire[..len], wiring), "W-11", 11, "the FCS is");
    let not_of_it = "00 07 41 1c 09 28 b6 ac 00".parse::<Octets>().unwrap();
    first(&explained(&not_of_it.0, wiring), "W-63", 2, "none of a radio board");
}

#[test]
fn the_first_fault_of_every_stage_is_found() {
    first(&hex("00 07 41 1c 09 28 b6 00"), "W-3", 1, "announces 6 octets, and 5 follow");
    first(&hex("00 03 41 1c 00"), "W-10", 2, "a frame has at least 4");
    first(&hex("00 07 41 1c 09 28 b6 ad 00"), "W-11", 6, "is B6 AC. No common check matches");
    first(&hex("07 41 1c 09 28 b6 ac"), "W-1", 7, "closing delimiter");
    first(&hex("00 00"), "W-2", 0, "silence");
    let frame = |control: u8, rest: &[u8]| {
        let codec = codec(Wiring::default());
        let body = [&[control], rest].concat();
        let crc = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC).checksum(&body).to_le_bytes();
        explained(&codec.encode(&[&body[..], &crc].concat()), Wiring::default())
    };
    first(&frame(0x01, &[1, 2]), "W-12", 2, "kind 0");
    first(&frame(0x4D, &[1, 2, 9, 40]), "W-16", 2, "acknowledgement form");
    first(&frame(0x21, &[1; 26]), "W-13", 2, "session bits");
    first(&frame(0x41, &[1, 0x80, 0x00]), "W-18", 4, "message number");
    first(&frame(0x41, &[1, 77]), "", 4, "observatory 2 has no message 77");
    first(&frame(0x81, &[1, 9, 40]), "", 4, "lamp is of class errand");
    first(&frame(0x41, &[1, 9, 101]), "", 5, "level is 101 %, out of its range");
    first(&frame(0x41, &[1, 9]), "", 5, "lamp ends before its field level");
    first(&frame(0x41, &[1, 9, 40, 1]), "", 6, "1 octets are left over");
    first(&frame(0x41, &[1, 2, 3]), "", 5, "these 1 octets are no choice");
    first(&frame(0x41, &[1, 1, 0x81, 0x80, 0x00]), "", 5, "the shortest form is 01");
}

#[test]
fn a_wrong_check_is_named() {
    let body = [0x41, 0x1C, 9, 40];
    let sent = |crc: [u8; 2]| explained(&[&[0, 7], &body[..], &crc, &[0]].concat(), Wiring::default());
    let of = |algorithm: &'static crc::Algorithm<u16>, octets: &[u8]| {
        crc::Crc::<u16>::new(algorithm).checksum(octets)
    };
    let modbus = of(&crc::CRC_16_MODBUS, &body);
    first(&sent(modbus.to_le_bytes()), "W-11", 6, "It would be right as CRC-16/MODBUS");
    first(
        &sent(modbus.to_be_bytes()),
        "W-11",
        6,
        "CRC-16/MODBUS (polynomial 0x8005), most significant octet first",
    );
    let ours = of(&crc::CRC_16_IBM_SDLC, &body);
    first(&sent(ours.to_be_bytes()), "W-11", 6, "CRC-16/IBM-SDLC, most significant octet first");
    let short = of(&crc::CRC_16_IBM_SDLC, &body[1..]);
    first(&sent(short.to_le_bytes()), "W-11", 6, "over the octets after the control octet only");
    let sum = body.iter().fold(0_u8, |sum, octet| sum.wrapping_add(*octet));
    first(&sent([sum, sum]), "W-11", 6, "a plain sum");
}

/// Oracle: the reader of the core finds a good frame exactly where nothing of the wire is wrong.
#[test]
fn it_agrees_with_the_core_on_any_octets() {
    use bellwire::frame::Read;
    use proptest::prelude::*;
    let seed = bellwire_tests::seed("it_agrees_with_the_core_on_any_octets");
    let good = codec(Wiring::default());
    let strategy = (proptest::collection::vec(any::<u8>(), 0..24), 0..40_usize, any::<u8>());
    let result = seed.runner(2_000).run(&strategy, |(payload, place, flip)| {
        for framing in FramingName::DIRECT {
            let wiring = Wiring { framing, ..Wiring::default() };
            let mut codec = codec(wiring);
            let frame = good
                .frame(&Header { number: 3, ..Header::new(Kind::Report) }, &[&[1], &payload[..]].concat());
            let mut wire = codec.encode(&frame);
            // Half of the frames are good.
            if let Some(octet) = wire.get_mut(place) {
                *octet ^= flip;
            }
            let told = explained(&wire, wiring);
            let (mut frames, mut refused) = (0, 0);
            codec.read(&wire, &mut |read| match read {
                Read::Frame(_) => frames += 1,
                _ => refused += 1,
            });
            let bad = told.wrong.iter().any(|wrong| !matches!(wrong.rule, "" | "W-1" | "W-2"));
            if frames == 1 && refused == 0 {
                prop_assert!(!bad, "{wire:02X?}\n{told:#?}");
            } else if frames == 0 && told.frames == 1 {
                prop_assert!(!told.wrong.is_empty(), "{wire:02X?}");
            }
        }
        Ok(())
    });
    result.unwrap();
}

#[test]
fn what_is_relayed_is_told_with_the_message_behind_it() {
    let codec = codec(Wiring::default());
    let told = |class, payload: &[u8]| {
        explained(&codec.encode(&codec.frame(&Header::new(class), payload)), Wiring::default())
    };
    let lamp = told(Kind::Errand, &[0xFE, 0x7F, 0, 4, 7, 9, 40]);
    assert_eq!(lamp.wrong, []);
    let parts = lamp.parts.iter().map(|part| part.what.as_str());
    let lines: Vec<_> = parts.filter(|what| !what.starts_with("COBS")).collect();
    let wanted = [
        "message number 16382: from leaf to leaf by way of the hub (W-68)",
        "a message follows",
        "the other leaf: porch",
        "name 7, which the first leaf chose",
        "message number 9: lamp",
        "level = 40 %",
    ];
    assert!(lines.windows(wanted.len()).any(|lines| lines == wanted), "{lines:#?}");
    let outcome = told(Kind::Report, &[0xFE, 0x7F, 3, 4, 7]);
    assert_eq!(outcome.wrong, []);
    assert!(
        outcome.parts.iter().any(|part| part.what == "what became of a message: unknown"),
        "{outcome:#?}"
    );
    for (kind, payload, wanted) in [
        (Kind::Report, &[0xFE, 0x7F, 3, 4, 7, 9][..], "wrong length"),
        (Kind::Errand, &[0xFE, 0x7F, 0, 4, 7, 0xFE, 0x7F, 0], "relayed twice"),
    ] {
        let wrong = told(kind, payload).wrong;
        assert!(wrong.first().is_some_and(|wrong| wrong.what.contains(wanted)), "{wrong:?}");
    }
}
