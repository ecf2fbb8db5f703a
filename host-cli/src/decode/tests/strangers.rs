//! What strangers feed us, and outputs that go away.

use super::*;

#[test]
fn zeros_ones_and_noise_make_no_frames() {
    let seed = seed("zeros_ones_and_noise_make_no_frames");
    // Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
    let mut state = seed.value();
    let noise = (0..500_000).flat_map(|_| {
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (state ^ state >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed ^ mixed >> 31).to_le_bytes()
    });
    let noise = noise.collect();
    for octets in [vec![0; 1_000_000], vec![0xFF; 1_000_000], noise] {
        for wiring in WIRINGS {
            let (_, sum) = json(&octets, &[1 << 16], Form::Octets, wiring, 2);
            // About 16 000 candidates, each with odds of 2^-16 to pass the FCS: more than 6 has odds below 1e-8.
            assert!(sum.all_frames() <= 6, "{} frames", sum.all_frames());
            assert_eq!(sum.octets, octets.len() as u64);
        }
    }
}

#[test]
fn a_torn_capture_is_read_up_to_its_tear() {
    let mut writer = capture::Writer::new();
    writer.section();
    writer.port(&PortInfo::named("desk"));
    let rate = observatory::Message::DomeRate { rate: 1 }.payload();
    for number in 0..3 {
        let octets = encode(&Header { number, ..Header::new(Kind::SetPoint) }, &rate);
        writer.chunk(&Chunk { at: 1, port: 0, direction: Direction::In, octets });
    }
    let whole = writer.octets();
    let open = Filter::default();
    let torn = &whole[..whole.len() - 5];
    let decoded = decode_as(dribble(torn, &[33]), None, args(Wiring::default()), 2, Format::Text, &open);
    let done = decoded.done.unwrap();
    assert_eq!(done.sum.all_frames(), 2);
    assert!(matches!(done.torn, Some(Torn { name: None, tail: capture::Tail::Torn { .. } })));
    assert!(decoded.text.contains("ends inside a block"));
}

#[test]
fn bad_hex_is_refused_with_its_line_after_all_before_it_was_decoded() {
    let open = Filter::default();
    let good = vector::hex(&encode(&Header::new(Kind::SetPoint), &[0, 2]));
    let text = format!("{good}\n{good}\nnot hex\n{good}\n");
    let decoded = decode_as(
        dribble(text.as_bytes(), &[4096]),
        Some(Form::Hex),
        args(Wiring::default()),
        2,
        Format::Json,
        &open,
    );
    let fail = decoded.done.unwrap_err();
    assert!(fail.to_string().contains("line 3"), "{fail}");
    assert_eq!(fail.exit(), crate::exit::Exit::BadInput);
    assert_eq!(
        decoded
            .text
            .lines()
            .filter(|line| line.contains("set-point") && line.contains("payload\":\"00"))
            .count(),
        2
    );
}

#[test]
fn the_right_framing_is_named_where_the_wrong_one_finds_nothing() {
    let frame = vector::read::<vector::Frame>("frames")
        .into_iter()
        .find(|frame| frame.line.framing == vector::FramingName::Slip && frame.line.fcs == 32)
        .unwrap();
    let open = Filter::default();
    let decoded = decode_as(
        dribble(&frame.wire.0, &[9]),
        Some(Form::Octets),
        args(Wiring::default()),
        1,
        Format::Json,
        &open,
    );
    let wanted = Wiring { framing: FramingName::Slip, fcs: FcsName::Bits32, map: 0 };
    assert_eq!(decoded.done.unwrap().guess, Some((wanted, 1)));
}

#[test]
fn a_closed_output_ends_the_run_quietly() {
    struct Closed;
    impl std::io::Write for Closed {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let stream = encode(&Header::new(Kind::SetPoint), &[0, 2]).repeat(1000);
    let input = Input::new(dribble(&stream, &[100]), None, FrameArgs::default()).unwrap();
    let start = Arc::new(Start::default());
    let table = Arc::new(observatory::table());
    let render = renderer(Format::Json, Look::default(), table, Names::default(), Arc::clone(&start));
    let (filter, stop) = (Filter::default(), AtomicBool::new(false));
    let plan =
        Plan { threads: 3, show: Show::All, filter: &filter, render: &*render, start: &start, stop: &stop };
    assert!(run(input, &mut Closed, &plan).unwrap_err().is_quiet());
}
