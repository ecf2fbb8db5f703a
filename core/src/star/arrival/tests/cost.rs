//! What a report costs a leaf, counted on the machines themselves: the table of the docs.

use super::*;
use crate::{
    frame::Class,
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

type Desk = Hub<Datagram, Fcs16, 8, 4, 64>;

fn config() -> LeafConfig {
    let link = Config::datagram(0, ms(500), OwnNumber::Random(0x2000));
    LeafConfig::new(Config { keep_alive: ms(0), ..link }, Address::Known(3))
}

fn desk_and_leaf(now: Instant) -> (Desk, Leaf<Datagram>) {
    let config_of_hub = HubConfig { keep_alive: ms(0), ..HubConfig::datagram(0, ms(500), 0x1000) };
    let mut hub = Desk::new(Datagram, config_of_hub, now);
    assert!(hub.admit(now, 3, Speaks::Leaf));
    (hub, Leaf::new(Datagram, config(), now))
}

/// A session that outlives the sleep: the report with its tag and addresses, and the acknowledgement.
fn with_saved_state() -> Cost {
    let (evening, morning) = (Instant::from_ticks(0), Instant::from_ticks(600_000_000));
    let (mut hub, mut leaf) = desk_and_leaf(evening);
    let _ = one_report(&mut hub, &mut leaf, evening);
    let asleep = leaf.fall_asleep(evening).unwrap();
    let mut leaf = Leaf::resume(Datagram, config(), &asleep, ms(600_000), morning).unwrap();
    one_report(&mut hub, &mut leaf, morning)
}

/// What sections 1 to 10 allow: a session for this one report, between a real leaf and a real hub that only answers.
fn with_a_session() -> Cost {
    let now = Instant::from_ticks(0);
    let (mut hub, mut leaf) = desk_and_leaf(now);
    one_report(&mut hub, &mut leaf, now)
}

/// Everything that is sent until one report is delivered.
fn one_report(hub: &mut Desk, leaf: &mut Leaf<Datagram>, now: Instant) -> Cost {
    let (mut cost, mut out) = (Cost::default(), [0; 80]);
    let mut opened = leaf.peer().is_some();
    loop {
        if core::mem::take(&mut opened) {
            leaf.send(now, Class::Report, &REPORT).unwrap();
        }
        while let Some(len) = leaf.poll_transmit(now, &mut out) {
            cost.sent.push(len);
            assert_eq!(hub.handle_octets(now, &out[..len]), len);
            while hub.poll_event().is_some() {}
        }
        let transmit = hub.poll_transmit(now, &mut out).expect("an answer");
        cost.heard.push(transmit.len);
        assert_eq!(leaf.handle_octets(now, &out[..transmit.len]), transmit.len);
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
