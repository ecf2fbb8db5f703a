//! Forms of input and output say the same.

use super::*;

/// Oracles: `serde_json` and `csv`, general-purpose readers of both forms.
#[test]
fn every_line_is_json_or_a_row_and_both_say_the_same() {
    let seed = seed("every_line_is_json_or_a_row_and_both_say_the_same");
    let result = seed.runner(64).run(&any_stream(), |stream| {
        let (text, sum) = json(&stream, &[4096], Form::Octets, Wiring::default(), 1);
        let values: Vec<serde_json::Value> =
            text.lines().map(|line| serde_json::from_str(line).expect(line)).collect();
        let open = Filter::default();
        let rows = dribble(&stream, &[4096]);
        let rows = decode_as(rows, Some(Form::Octets), args(Wiring::default()), 1, Format::Csv, &open);
        let mut reader = csv::Reader::from_reader(rows.text.as_bytes());
        let head = reader.headers().unwrap().clone();
        let rows: Vec<_> = reader.records().map(|row| row.expect("row")).collect();
        prop_assert_eq!(values.len(), rows.len());
        for (value, row) in values.iter().zip(&rows) {
            let cell = |name: &str| &row[head.iter().position(|column| column == name).expect(name)];
            let said = |name: &str| match &value[name] {
                serde_json::Value::Null => String::new(),
                serde_json::Value::String(text) => text.clone(),
                other => other.to_string(),
            };
            prop_assert_eq!(cell("record"), said("record"));
            if value["record"] == "frame" {
                for name in [
                    "port",
                    "direction",
                    "place",
                    "wire",
                    "kind",
                    "number",
                    "next",
                    "held",
                    "message",
                    "name",
                ] {
                    prop_assert_eq!(cell(name), said(name), "{}", name);
                }
                prop_assert_eq!(cell("octets"), said("payload"));
            }
        }
        let frames = values.iter().filter(|value| value["record"] == "frame").count() as u64;
        prop_assert_eq!(frames, sum.all_frames());
        prop_assert_eq!(&values.last().unwrap()["octets"], &stream.len());
        Ok(())
    });
    result.unwrap();
}

#[test]
fn values_survive_json_exactly() {
    let message =
        observatory::Message::LogLine { text: "a \"quoted\" line\\\n\u{1b}[2J\u{7f} 21 °C".into() };
    let rate = observatory::Message::DomeRate { rate: i16::MIN };
    let stream = [
        encode(&Header::new(Kind::Notice), &message.payload()),
        encode(&Header::new(Kind::SetPoint), &rate.payload()),
    ];
    let (text, _) = json(&stream.concat(), &[4096], Form::Octets, Wiring::default(), 1);
    let values: Vec<serde_json::Value> =
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(values[0]["values"]["text"], "a \"quoted\" line\\\n\u{1b}[2J\u{7f} 21 °C");
    assert_eq!(values[1]["values"]["rate"], serde_json::json!(-327.68));
    assert_eq!(values[1]["units"]["rate"], "°/s");
    assert!(!text.contains(|c: char| c.is_control() && c != '\n'));
}

#[test]
fn every_golden_frame_and_reject_works_as_hex_text() {
    let open = Filter::default();
    let mut count = 0;
    let wiring = |line: &vector::Line| Wiring {
        framing: match line.framing {
            vector::FramingName::Cobs => FramingName::Cobs,
            vector::FramingName::OctetStuffing => FramingName::OctetStuffing,
            vector::FramingName::Slip => FramingName::Slip,
            vector::FramingName::Datagram => FramingName::Datagram,
        },
        fcs: line.fcs.to_string().parse().unwrap(),
        map: line.map,
    };
    for frame in vector::read::<vector::Frame>("frames") {
        let text = format!("{}\n", vector::hex(&frame.wire.0));
        let input = dribble(text.as_bytes(), &[7]);
        let decoded = decode_as(input, None, args(wiring(&frame.line)), 1, Format::Json, &open);
        assert_eq!(decoded.done.unwrap().sum.all_frames(), 1, "{}", frame.name);
        count += 1;
    }
    // Those for a small buffer are not refused here: the decoder's takes every frame.
    for reject in
        vector::read::<vector::Rejected>("rejects").into_iter().filter(|reject| reject.line.buffer == 0)
    {
        let text = vector::hex(&reject.wire.0);
        let input = dribble(text.as_bytes(), &[4096]);
        let decoded = decode_as(input, None, args(wiring(&reject.line)), 1, Format::Json, &open);
        let first: serde_json::Value = serde_json::from_str(decoded.text.lines().next().unwrap()).unwrap();
        assert_eq!(
            (&first["record"], &first["rule"]),
            (&"reject".into(), &reject.rule.as_str().into()),
            "{}",
            reject.name
        );
        count += 1;
    }
    assert!(count > 100, "only {count} vectors");
}
