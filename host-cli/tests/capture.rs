//! Captures against the layout of draft-ietf-opsawg-pcapng (sections 3.1, 4.1, 4.2, 4.3 and 3.5), and against damage.

use bellwire_cli::{
    capture::{LINK_TYPE, Reader, Record, Tail, Writer},
    endpoint::{Chunk, Direction, FcsName, FramingName, Gap, Item, Note, PortInfo, Wiring},
};

fn hex(text: &str) -> Vec<u8> {
    let digits: Vec<u8> = text.bytes().filter(u8::is_ascii_hexdigit).collect();
    digits.chunks(2).map(|pair| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap()).collect()
}

/// Everything that a capture holds.
fn read(octets: &[u8]) -> (Vec<PortInfo>, Vec<Item>, Tail) {
    let mut reader = Reader::new(octets).unwrap();
    let mut items = Vec::new();
    loop {
        items.push(match reader.read().unwrap() {
            Record::Chunk { at, port, direction, octets } => {
                Item::Chunk(Chunk { at, port, direction, octets: octets.to_vec() })
            }
            Record::Gap(gap) => Item::Gap(gap),
            Record::Note(note) => Item::Note(note),
            Record::End(tail) => {
                assert_eq!(reader.read().unwrap(), Record::End(tail.clone()));
                return (reader.ports().to_vec(), items, tail);
            }
        });
    }
}

fn chunk(at: u64, port: u16, direction: Direction, octets: &[u8]) -> Item {
    Item::Chunk(Chunk { at, port, direction, octets: octets.to_vec() })
}

/// A minimal file laid out by hand after draft-ietf-opsawg-pcapng 4.1 to 4.3: microseconds where no unit is named.
const MINIMAL: &str = "0a0d0d0a 1c000000 4d3c2b1a 0100 0000 ffffffffffffffff 1c000000
    01000000 14000000 9300 0000 00000000 14000000
    06000000 2c000000 00000000 240a0600 40222018 0b000000 0b000000 313233343536373839 6e90 00 2c000000";

const CHECKED: &[u8] = b"123456789\x6e\x90";

#[test]
fn the_minimal_file_reads() {
    let file = hex(MINIMAL);
    assert_eq!(file.len(), 92);
    let (ports, items, tail) = read(&file);
    assert_eq!(ports, [PortInfo::named("port 0")]);
    assert_eq!(items, [chunk(1_700_000_000_123_456_000, 0, Direction::In, CHECKED)]);
    assert_eq!(tail, Tail::Whole);
}

#[test]
fn options_read_and_the_other_order_of_octets_reads_alike() {
    let little = "0a0d0d0a2c0000004d3c2b1a01000000ffffffffffffffff040007007265667465737400000000002c000000
        010000003800000093000000000000000200050075617274300000000800080000c201000000000009000100060000000000000038000000
        060000003800000000000000240a0600402220180b0000000b0000003132333435363738396e900002000400010000000000000038000000";
    let big = "0a0d0d0a0000002c1a2b3c4d00010000ffffffffffffffff000400077265667465737400000000000000002c
        000000010000003800930000000000000002000575617274300000000008000800000000 0001c20000090001060000000000000000000038
        000000060000003800000000 00060a2418202240 0000000b0000000b3132333435363738396e900000020004000000010000000000000038";
    let (ports, items, tail) = read(&hex(little));
    assert_eq!((ports[0].name.as_str(), ports[0].line.unwrap().to_string()), ("uart0", "115200,8N1".into()));
    assert_eq!(items, [chunk(1_700_000_000_123_456_000, 0, Direction::In, CHECKED)]);
    assert_eq!(tail, Tail::Whole);
    assert_eq!(read(&hex(big)), (ports, items, tail));
}

fn port(name: &str) -> PortInfo {
    PortInfo {
        name: name.into(),
        line: Some("57600,8E1".parse().unwrap()),
        wiring: Some(Wiring { framing: FramingName::OctetStuffing, fcs: FcsName::Bits32, map: 0x000A_0008 }),
        identity: Some("usb-Dome_board_0007-if00".into()),
        sides: None,
    }
}

/// All kinds of items on two ports.
fn night() -> (Vec<PortInfo>, Vec<Item>) {
    let why = || "unplugged".to_string();
    let items = vec![
        chunk(1, 0, Direction::In, b"\0\x01\0"),
        chunk(1_700_000_000_123_456_789, 1, Direction::Out, CHECKED),
        Item::Gap(Gap { port: 1, from: 5, to: None, why: why() }),
        Item::Gap(Gap { port: 1, from: 5, to: Some(u64::MAX), why: why() }),
        Item::Note(Note { at: 7, port: 0, text: "the clock was set".into() }),
        chunk(8, 0, Direction::In, &[0xA5; 4096]),
    ];
    (vec![port("/dev/ttyUSB0"), PortInfo::named("twin:/tmp/dome")], items)
}

fn write((ports, items): &(Vec<PortInfo>, Vec<Item>)) -> Vec<u8> {
    let mut writer = Writer::new();
    writer.section();
    ports.iter().for_each(|port| writer.port(port));
    for item in items {
        match item {
            Item::Chunk(chunk) => writer.chunk(chunk),
            Item::Gap(gap) => writer.gap(gap),
            Item::Note(note) => writer.note(note),
            Item::End => {}
        }
    }
    writer.octets().to_vec()
}

#[test]
fn what_is_written_reads_back() {
    let night = night();
    let (ports, items, tail) = read(&write(&night));
    assert_eq!((ports, items), night);
    assert_eq!(tail, Tail::Whole);
}

#[test]
fn the_writer_keeps_the_layout() {
    let mut writer = Writer::new();
    writer.section();
    writer.port(&PortInfo::named("uart0"));
    writer.chunk(&Chunk {
        at: 1_700_000_000_123_456_789,
        port: 0,
        direction: Direction::Out,
        octets: CHECKED.to_vec(),
    });
    let application = concat!("bellwire ", env!("CARGO_PKG_VERSION"));
    let mut wanted = hex("0a0d0d0a 34000000 4d3c2b1a 0100 0000 ffffffffffffffff 0400 0e00");
    assert_eq!(application.len(), 14);
    wanted.extend_from_slice(application.as_bytes());
    wanted.extend(hex("0000 00000000 34000000 01000000 2c000000"));
    wanted.extend(LINK_TYPE.to_le_bytes());
    wanted.extend(hex("0000 00000000 0200 0500 7561727430 000000 0900 0100 09 000000 00000000 2c000000
        06000000 38000000 00000000 479c9717 15d5b7ca 0b000000 0b000000 313233343536373839 6e90 00
        0200 0400 02000000 00000000 38000000"));
    let stamp = 1_700_000_000_123_456_789_u64;
    let at = wanted.len() - 56 + 12;
    wanted[at..at + 4].copy_from_slice(&stamp.to_le_bytes()[4..]);
    wanted[at + 4..at + 8].copy_from_slice(&stamp.to_le_bytes()[..4]);
    assert_eq!(writer.octets(), wanted);
}

#[test]
fn a_file_cut_anywhere_reads_up_to_the_cut() {
    let night = night();
    let file = write(&night);
    // Where blocks end, found by walking the lengths.
    let mut ends = vec![0];
    while let Some(&end) = ends.last()
        && end < file.len()
    {
        ends.push(end + u32::from_le_bytes(file[end + 4..end + 8].try_into().unwrap()) as usize);
    }
    for cut in 0..=file.len() {
        let (ports, items, tail) = read(&file[..cut]);
        let whole = ends.iter().filter(|end| **end <= cut).count() - 1; // section, two ports, items
        assert_eq!(items, night.1[..whole.saturating_sub(3)], "cut at {cut}");
        assert_eq!(ports, night.0[..whole.saturating_sub(1).min(2)], "cut at {cut}");
        let offset = ends[whole];
        let torn = Tail::Torn { offset: offset as u64, octets: (cut - offset) as u64 };
        assert_eq!(tail, if cut == offset { Tail::Whole } else { torn }, "cut at {cut}");
    }
}

#[test]
fn unknown_blocks_and_foreign_links_are_passed_over() {
    let mut file = hex("0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000
        0100000014000000 0100 0000 00000000 14000000
        0100000014000000 9300 0000 00000000 14000000
        ad0b000010000000 01020304 10000000
        0600000024000000 00000000 00000000 05000000 01000000 01000000 aa000000 24000000
        0600000024000000 01000000 00000000 07000000 01000000 01000000 bb000000 24000000
        0500000010000000 00000000 10000000");
    let mut reader = Reader::new(file.as_slice()).unwrap();
    let bb = Record::Chunk { at: 7_000, port: 0, direction: Direction::In, octets: &[0xBB] };
    assert_eq!(reader.read().unwrap(), bb);
    assert_eq!(reader.read().unwrap(), Record::End(Tail::Whole));
    assert_eq!(reader.foreign(), 1);
    // A simple packet (4.4) has no time of its own and belongs to the first port.
    file.extend(hex("0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000
        0100000014000000 9300 0000 00000000 14000000 0300000014000000 02000000 cc dd 0000 14000000"));
    let (ports, items, _) = read(&file);
    assert_eq!(
        items,
        [chunk(7_000, 0, Direction::In, &[0xBB]), chunk(7_000, 1, Direction::In, &[0xCC, 0xDD])]
    );
    assert_eq!(ports.len(), 2);
}

#[test]
fn sections_one_after_the_other_share_their_ports() {
    let night = night();
    let twice = [write(&night), write(&night)].concat();
    let (ports, items, tail) = read(&twice);
    assert_eq!(ports, night.0);
    assert_eq!(items, [night.1.clone(), night.1].concat());
    assert_eq!(tail, Tail::Whole);
}

#[test]
fn damage_is_named_and_ends_the_reading() {
    let file = hex(MINIMAL);
    let damaged = |at: usize, octet: u8| {
        let mut file = file.clone();
        file[at] = octet;
        read(&file).2
    };
    let table: [(usize, u8, u64, &str); 7] = [
        (8, 0, 0, "mark"),
        (12, 2, 0, "major version"),
        (28 + 4, 15, 28, "multiple of four"),
        (28 + 4, 8, 28, "multiple of four, or too short"),
        (28 + 7, 2, 28, "longer than 16 MiB"),
        (91 - 3, 0x30, 48, "lengths of a block differ"),
        (48 + 8, 1, 48, "not described"),
    ];
    for (at, octet, offset, part) in table {
        match damaged(at, octet) {
            Tail::Damaged { offset: found, why } => {
                assert!(found == offset && why.contains(part), "{at}: {why}")
            }
            tail => panic!("{at}: {tail:?}"),
        }
    }
    let long = damaged(48 + 20, 0x0D);
    assert_eq!(long, Tail::Damaged { offset: 48, why: "a packet longer than its block" });
}

#[test]
fn what_is_no_capture_is_refused() {
    assert!(Reader::new(b"time,wind\n".as_slice()).is_err());
    assert!(Reader::new([0xD4, 0xC3, 0xB2, 0xA1].as_slice()).is_err());
    assert_eq!(read(b"").2, Tail::Whole);
}

/// A hostile file: each port costs it twenty octets, and must not cost us more and more time and memory.
#[test]
fn a_file_of_ports_without_end_is_damage() {
    let section = hex("0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000");
    let port = hex("0100000014000000 9300 0000 00000000 14000000");
    let most = bellwire_cli::capture::MOST_PORTS;
    let one_section = |ports: usize| [section.clone(), port.repeat(ports)].concat();
    let (ports, _, tail) = read(&one_section(most));
    assert_eq!((ports.len(), tail), (most, Tail::Whole));
    let (ports, _, tail) = read(&one_section(most + 1));
    let offset = (section.len() + most * port.len()) as u64;
    assert_eq!((ports.len(), tail), (most, Tail::Damaged { offset, why: "more ports than 1024" }));
    // The same spread over sections, each port with a name of its own.
    let mut file = Vec::new();
    for name in 0..=most {
        file.extend(&section);
        file.extend(hex("0100000020000000 9300 0000 00000000 0200 0400"));
        file.extend(format!("{name:04}").bytes());
        file.extend(hex("00000000 20000000"));
    }
    let (ports, _, tail) = read(&file);
    assert_eq!(ports.len(), most);
    assert!(matches!(tail, Tail::Damaged { why: "more ports than 1024", .. }), "{tail:?}");
}

/// What the tool prints of these words, and its exit.
fn tool(words: &[&str]) -> (bellwire_cli::exit::Exit, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut shell = bellwire_cli::shell::Shell { out: &mut out, err: &mut err, stop: Default::default() };
    let exit = bellwire_cli::run(["bellwire", "decode"].iter().chain(words).map(Into::into), &mut shell);
    (exit, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

/// The lamp's errand on two ports, each with a capture of its own: one timeline, whichever is named first, and what is missing at the end is told of the
/// one that lacks it.
#[test]
fn several_captures_are_one_timeline() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let lamp = [0x00, 0x07, 0x41, 0x1C, 0x09, 0x28, 0xB6, 0xAC, 0x00];
    let write = |name: &str, port: &str, seconds: &[u64], missing: usize| {
        let mut writer = Writer::new();
        writer.section();
        writer.port(&PortInfo::named(port));
        for second in seconds {
            let (at, octets) = (second * 1_000_000_000, lamp.to_vec());
            writer.chunk(&Chunk { at, port: 0, direction: Direction::In, octets });
        }
        let octets = writer.octets();
        std::fs::write(path(name), &octets[..octets.len() - missing]).unwrap();
        path(name)
    };
    let (desk, field) =
        (write("desk.pcapng", "uart", &[10, 13], 0), write("field.pcapng", "radio", &[11, 12, 14], 3));
    for (inputs, wanted) in [
        ([&desk, &field], [("0.0", 0), ("1.0", 1), ("2.0", 1), ("3.0", 0)]),
        ([&field, &desk], [("0.0", 1), ("1.0", 0), ("2.0", 0), ("3.0", 1)]),
    ] {
        let (exit, out, err) = tool(&[inputs[0], inputs[1], "--json"]);
        assert_eq!(exit, bellwire_cli::exit::Exit::Good, "{err}");
        let records = out.lines().map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap());
        let seen: Vec<_> = records
            .filter(|record| record["record"] == "frame")
            .map(|frame| (frame["seconds"].to_string(), frame["port"].as_u64().unwrap()))
            .collect();
        assert_eq!(seen, wanted.map(|(seconds, port)| (seconds.to_owned(), port)));
        assert!(
            err.contains(&format!("radio in {field}"))
                && err.contains(&format!("{field}: the capture ends inside"))
        );
    }
    std::fs::write(path("notes.txt"), "it rained").unwrap();
    let (exit, out, err) = tool(&[&desk, &path("notes.txt")]);
    assert_eq!((exit, out.as_str()), (bellwire_cli::exit::Exit::BadInput, ""), "{err}");
    assert!(err.contains("notes.txt") && err.contains("only captures have times"), "{err}");
    assert_eq!(tool(&[&desk, &field, "--as", "hex"]).0, bellwire_cli::exit::Exit::Usage);
}
