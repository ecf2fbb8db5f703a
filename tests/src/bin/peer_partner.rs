//! The Rust side of a conversation with a peer in another language: `peer_partner DEVICE FRAMING MAP COUNT`.
//!
//! It sends COUNT errands (message 100, a counter of 4 octets), one after the other, a set-point (102) every 20 ms, and at last an errand 103. It prints its books as
//! one line of JSON: what became of each errand, what came back (errands 101), and how many sessions there were.

use std::time::{Duration, Instant};

use bellwire::{
    frame::Class,
    link::{Outcome, Ticket},
};
use bellwire_cli::{
    args::{
        line::{FrameArgs, LineArgs},
        peer::SelfArgs,
    },
    endpoint::{LineFormat, Loss},
    talk::{Happening, Talk},
};
use serde_json::json;

const ERRAND: u8 = 100;
const ECHO: u8 = 101;
const RATE: u8 = 102;
const BYE: u8 = 103;
/// How many errands may be ahead of what came back, and for how long that holds the next one up.
const AHEAD: u32 = 3;
const PATIENCE: Duration = Duration::from_millis(500);
/// How long the other side may take to send back what it has.
const LINGER: Duration = Duration::from_secs(6);
/// And for its last words.
const FAREWELL: Duration = Duration::from_millis(300);

/// What was sent and what came.
#[derive(Default)]
struct Books {
    next: u32,
    sent_at: Option<Instant>,
    under_way: Option<(Ticket, u32)>,
    bye: Option<Ticket>,
    over: Option<Instant>,
    delivered: Vec<u32>,
    unknown: Vec<u32>,
    echoes: Vec<u32>,
    notices: Vec<String>,
    sessions: u32,
    set_points: u32,
}

fn payload(message: u8, counter: u32) -> Vec<u8> {
    [&[message][..], &counter.to_le_bytes()].concat()
}

impl Books {
    fn note(&mut self, happening: Happening) {
        match happening {
            Happening::Opened(_) => self.sessions += 1,
            Happening::Outcome { ticket, .. } if self.bye == Some(ticket) => self.over = Some(Instant::now()),
            Happening::Outcome { ticket, outcome } => {
                if let Some((_, counter)) = self.under_way.take_if(|(mine, _)| *mine == ticket) {
                    match outcome {
                        Outcome::Delivered => self.delivered.push(counter),
                        Outcome::Unknown => self.unknown.push(counter),
                        Outcome::NotSent(_) => self.next = counter,
                    }
                }
            }
            Happening::Message(message) if message.class == Class::Notice => {
                self.notices.push(message.payload.iter().map(|octet| format!("{octet:02x}")).collect());
            }
            Happening::Message(message) => {
                if let Some((&ECHO, counter)) = message.payload.split_first() {
                    let counter = counter.first_chunk::<4>().expect("four octets");
                    self.echoes.push(u32::from_le_bytes(*counter));
                }
            }
            _ => {}
        }
    }

    fn send(&mut self, talk: &mut Talk, count: u32) {
        let back = self.echoes.last().map_or(0, |&last| last + 1);
        let waits = self.next > back + AHEAD && self.sent_at.is_some_and(|at| at.elapsed() < PATIENCE);
        if self.under_way.is_none()
            && self.next < count
            && !waits
            && let Ok(ticket) = talk.send(Class::Errand, &payload(ERRAND, self.next))
        {
            self.under_way = Some((ticket, self.next));
            self.next += 1;
            self.sent_at = Some(Instant::now());
        }
        let came_back = self.echoes.last().is_some_and(|&last| last + 1 == count);
        let waited = self.sent_at.is_some_and(|at| at.elapsed() > LINGER / 2);
        if self.bye.is_none() && self.is_done(count) && (came_back || waited) {
            self.bye = talk.send(Class::Errand, &[BYE]).ok();
        }
    }

    /// Each errand has its outcome.
    const fn is_done(&self, count: u32) -> bool {
        self.next == count && self.under_way.is_none()
    }
}

fn main() {
    let args: Vec<_> = std::env::args().skip(1).collect();
    let [device, framing, map, count] = args.as_slice() else { panic!("DEVICE FRAMING MAP COUNT") };
    let frame = FrameArgs {
        framing: Some(framing.parse().expect("a framing")),
        map: Some(map.parse().expect("a map")),
        fcs: None,
    };
    let line = LineArgs { rate: 115_200, format: LineFormat::default(), frame };
    let count = count.parse().expect("a count");
    let spec = device.parse().expect("an endpoint");
    let mut talk = Talk::open(&spec, &line, &SelfArgs::default(), Loss::Wait).expect("opens");
    let mut books = Books::default();
    let (mut streamed, mut done) = (Instant::now(), None);
    while books.over.is_none_or(|since| since.elapsed() < FAREWELL)
        && done.is_none_or(|since: Instant| since.elapsed() < LINGER)
    {
        if let Some(happening) = talk.next(Duration::from_millis(1)).expect("the line stays") {
            books.note(happening);
        }
        books.send(&mut talk, count);
        if streamed.elapsed() > Duration::from_millis(20) {
            streamed = Instant::now();
            books.set_points +=
                u32::from(talk.send(Class::SetPoint, &payload(RATE, books.set_points)).is_ok());
        }
        done = done.or(books.is_done(count).then(Instant::now));
    }
    println!(
        "{}",
        json!({
            "delivered": books.delivered, "unknown": books.unknown, "echoes": books.echoes, "notices": books.notices,
            "sessions": books.sessions, "set_points": books.set_points,
        })
    );
}
