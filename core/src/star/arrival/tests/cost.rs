//! What a report costs a leaf, counted on the machines themselves: the table of the docs.

use super::*;
use crate::{
    frame::{Ack, Addresses, Class, Header, Kind, write},
    link::{Config, Event, Outcome},
    star::{Address, Hub, HubConfig, Leaf, LeafConfig, LeafEvent, Speaks},
    time::Instant,
};
use std::{format, string::String, vec::Vec};

/// Message 7 and three octets: wind, rain, sky temperature.
const REPORT: [u8; 4] = [7, 42, 0, 19];

/// Lengths of the frames that the leaf sends and hears, octets.
#[derive(Default)]
struct Cost {
    sent: Vec<usize>,
    heard: Vec<usize>,
}

/// Time on the air of one packet, µs, of a chirp-spread-spectrum radio: spreading factor 9, 125 kHz, coding rate 4/5, 8 preamble symbols, explicit header, CRC on, no low-rate
/// optimization. The formula stands in the manuals of such transceivers: preamble (n + 4.25) symbols, payload 8 + max(ceil((8 PL - 4 SF + 28 + 16) / (4 SF)) (1 + 4), 0).
fn airtime(octets: usize) -> usize {
    let symbol = 4_096;
    let groups = (8 * octets + 28 + 16 - 4 * 9).div_ceil(4 * 9);
    symbol * 49 / 4 + symbol * (8 + 5 * groups)
}

/// A session that outlives the sleep: the report with its tag and addresses, and the acknowledgement.
fn with_saved_state() -> Cost {
    let header = |kind, to, from| Header {
        tag: Some(0x0C00),
        addresses: Some(Addresses { to, from }),
        ..Header::new(kind)
    };
    let report = header(Kind::Report, 0, 3);
    let ack = Header { ack: Some(Ack { next: 1, held: None }), ..header(Kind::Ack, 3, 0) };
    let len = |header: &Header, payload: &[u8]| {
        write::<_, Fcs16>(&Datagram, header, payload, Lead::Delimiter, &mut [0; 64]).unwrap()
    };
    Cost { sent: [len(&report, &REPORT)].into(), heard: [len(&ack, &[])].into() }
}

/// ARRIVAL and its answer.
fn without_storage() -> Cost {
    let mut leaf = Arriving::<13>::new(&CONFIG, &REPORT).unwrap();
    let mut hub = Arrivals::<8>::new(0, ms(10_000), ms(500));
    let frame = sends(&mut leaf).unwrap();
    let arrival = Arrival::parse(&frame[4..]).unwrap();
    let handled = hub.handle(3, &arrival, 0);
    assert_eq!(handled, Ok(Fresh::New));
    let answer = answers(Arrivals::<8>::answer(&arrival, &handled, false).unwrap(), 3);
    assert!(leaf.hear(&answer));
    Cost { sent: [frame.len() + 2].into(), heard: [answer.len() + 2].into() }
}

/// What sections 1 to 10 allow: a session for this one report, between a real leaf and a real hub that only answers.
fn with_a_session() -> Cost {
    let now = Instant::from_ticks(0);
    let config = HubConfig::datagram(0, ms(500), 0x1000);
    let mut hub = Hub::<Datagram, Fcs16, 8, 4, 64>::new(Datagram, config, now);
    assert!(hub.admit(now, 3, Speaks::Leaf));
    let link = Config::datagram(0, ms(500), OwnNumber::Random(0x2000));
    let mut leaf = Leaf::<Datagram>::new(Datagram, LeafConfig::new(link, Address::Known(3)), now);
    let (mut cost, mut out) = (Cost::default(), [0; 80]);
    loop {
        while let Some(len) = leaf.poll_transmit(now, &mut out) {
            cost.sent.push(len);
            assert_eq!(hub.handle_octets(now, &out[..len]), len);
            while hub.poll_event().is_some() {}
        }
        let transmit = hub.poll_transmit(now, &mut out).expect("an answer");
        cost.heard.push(transmit.len);
        assert_eq!(leaf.handle_octets(now, &out[..transmit.len]), transmit.len);
        let mut opened = false;
        while let Some(event) = leaf.poll_event() {
            match event {
                LeafEvent::Link(Event::Opened(_)) => opened = true,
                LeafEvent::Link(Event::Outcome { outcome, .. }) => {
                    assert_eq!(outcome, Outcome::Delivered);
                    return cost;
                }
                _ => {}
            }
        }
        if opened {
            leaf.send(now, Class::Report, &REPORT).unwrap();
        }
    }
}

fn row(name: &str, cost: &Cost) -> String {
    let octets = |frames: &[usize]| frames.iter().sum::<usize>();
    let air = |frames: &[usize]| frames.iter().map(|len| airtime(*len)).sum::<usize>() as f64 / 1_000.0;
    let Cost { sent, heard } = cost;
    format!(
        "| {name} | {} | {} | {:.1} | {} | {} | {:.1} |",
        sent.len(),
        octets(sent),
        air(sent),
        heard.len(),
        octets(heard),
        air(heard)
    )
}

/// The table of the docs says what the machines do. `cargo test … -- --nocapture` prints it.
#[test]
#[allow(clippy::cast_precision_loss)]
fn the_table_of_the_docs_is_what_the_machines_count() {
    // The formula against a published figure: 20 octets, 185.344 ms.
    assert_eq!(airtime(20), 185_344);
    let rows = [
        row(
            "a session that outlives the sleep, 16 octets saved ([`Asleep`](super::Asleep))",
            &with_saved_state(),
        ),
        row("nothing saved, ARRIVAL (W-69)", &without_storage()),
        row("nothing saved, a session for each report", &with_a_session()),
    ];
    let docs = include_str!("../cost.md");
    let table: Vec<_> =
        docs.lines().filter(|line| line.starts_with("| ") && !line.contains("frames sent")).collect();
    rows.iter().for_each(|row| std::println!("{row}"));
    assert_eq!(table, rows);
}
