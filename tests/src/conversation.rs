//! Two links of the core talking over the simulated line, written down step by step: the source of `conversations.json`.

use crate::{
    line,
    machine::tell,
    vector::{Find, FramingName, Line, hex},
};
use bellwire::{
    fcs::Fcs16,
    frame::{Class, ResetCause},
    framing::{Cobs, Datagram},
    link::{Config, Event, Link, OwnNumber},
    time::Duration as Span,
};
use bellwire_cli::{
    machine::Machine,
    sim::{Action, Board, Carries, Condition, LineId, Moment, Network, Plug, Program, Seed, Seen, Setup},
};
use serde_json::{Value, json};
use std::{cell::RefCell, rc::Rc, time::Duration};

/// What is said and what goes wrong.
#[derive(Clone)]
pub struct Plan {
    /// Its name.
    pub name: &'static str,
    /// What it shows.
    pub shows: &'static str,
    /// COBS or datagrams, with 16 bits of FCS.
    pub framing: FramingName,
    /// Fingerprints of both sides' agreements.
    pub fingerprints: [u32; 2],
    /// When each side is switched on, ms.
    pub starts: [u64; 2],
    /// What the programs send: ms, side, class, payload.
    pub sends: Vec<(u64, usize, Class, Vec<u8>)>,
    /// What happens to the line from a side, or to the side: ms, side, what.
    pub happens: Vec<(u64, usize, Mishap)>,
    /// When the record ends, ms.
    pub end: u64,
}

/// What a plan does to a conversation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mishap {
    /// The next frame from this side is lost.
    Lose,
    /// The wire from this side is cut.
    Cut,
    /// It is mended.
    Mend,
    /// This side restarts.
    Restart,
}

/// Names of the two sides, and their identities, own numbers and reset causes.
pub const SIDES: [(&str, u64, u32, ResetCause); 2] =
    [("desk", 0xDE, 0x1000, ResetCause::Software), ("dome", 0xD0, 0x2001, ResetCause::Power)];

/// How long a copy of a frame lives on the datagram line, ms.
pub const LIFETIME: u64 = 50;

type Steps = Rc<RefCell<Vec<(Moment, Value)>>>;

struct Talker {
    side: usize,
    plan: Plan,
    next: usize,
    starts: u32,
    steps: Steps,
}

impl Talker {
    fn due(&self) -> Option<&(u64, usize, Class, Vec<u8>)> {
        self.plan.sends.iter().filter(|(_, side, ..)| *side == self.side).nth(self.next)
    }
}

impl Program for Talker {
    fn event(&mut self, now: Moment, event: &Event<'_>) {
        let mut value = tell(event);
        value["at"] = json!(micros(now));
        value["side"] = json!(SIDES[self.side].0);
        self.steps.borrow_mut().push((now, value));
    }

    fn work(&mut self, now: Moment, link: &mut dyn Machine) {
        while let Some((at, _, class, payload)) = self.due().cloned() {
            if Moment::from_millis(at) > now {
                return;
            }
            let item = link.send(now.instant(), class, &payload).expect("the link takes it").get();
            let value = json!({"at": micros(now), "side": SIDES[self.side].0, "event": "accepts", "item": item,
                "class": class.name(), "payload": hex(&payload)});
            self.steps.borrow_mut().push((now, value));
            self.next += 1;
        }
    }

    fn wake(&self) -> Option<Moment> {
        self.due().map(|(at, ..)| Moment::from_millis(*at))
    }

    fn start(&mut self, now: Moment) -> (Box<dyn Machine>, Moment) {
        let (_, identity, mine, cause) = SIDES[self.side];
        let own = OwnNumber::Stored(mine + 16 * self.starts);
        let on =
            now.plus(Duration::from_millis(if self.starts == 0 { self.plan.starts[self.side] } else { 3 }));
        self.starts += 1;
        let config = match self.plan.framing {
            FramingName::Datagram => Config::datagram(
                11_520,
                Span::from_ticks(u32::try_from(LIFETIME * 1000).expect("short")),
                own,
            ),
            _ => Config::uart(115_200, own),
        };
        let fingerprint = self.plan.fingerprints[self.side];
        let jitter_seed = 1 + u32::try_from(self.side).expect("two sides");
        let config = Config { identity, fingerprint, cause, jitter_seed, ..config };
        let link: Box<dyn Machine> = match self.plan.framing {
            FramingName::Datagram => {
                Box::new(Link::<Datagram, Fcs16, 64, 4, 8>::new(Datagram, config, on.instant()))
            }
            _ => Box::new(Link::<Cobs, Fcs16, 64, 4, 8>::new(Cobs, config, on.instant())),
        };
        (link, on)
    }
}

fn micros(moment: Moment) -> u64 {
    moment.nanos() / 1000
}

/// Carries a plan out; the conversation as JSON.
///
/// # Panics
/// If a frame that a link sends is not one.
#[must_use]
pub fn record(plan: &Plan) -> Value {
    let steps: Steps = Steps::default();
    let mut network = Network::new(Seed(1));
    let [one, two] = [0, 1].map(|side| {
        network.add(Board::new(Talker { side, plan: plan.clone(), next: 0, starts: 0, steps: steps.clone() }))
    });
    let delay = Duration::from_millis(1);
    let setup = match plan.framing {
        FramingName::Datagram => Setup { carries: Carries::Datagrams, delay, ..Setup::uart(115_200) },
        _ => Setup::uart(115_200),
    };
    let (out, back) = network.join(Plug::of(one), Plug::of(two), &setup).expect("a line that can be");
    let lines = [out, back];
    for (at, side, mishap) in &plan.happens {
        let action = match mishap {
            Mishap::Lose => Action::Lose(lines[*side], 1),
            Mishap::Cut => Action::Wire(lines[*side], Condition::Cut),
            Mishap::Mend => Action::Wire(lines[*side], Condition::Whole),
            Mishap::Restart => Action::Restart([one, two][*side]),
        };
        network.script().add(Moment::from_millis(*at), action);
    }
    let (mut lose, mut cut) = ([0, 0], [false, false]);
    let wire = Line { framing: plan.framing, fcs: 16, map: 0, buffer: 0 };
    let mut see = |now: Moment, seen: Seen<'_>| {
        let note = match seen {
            Seen::Sent { line: LineId(side), octets } => {
                let lost = lose[side] > 0 || cut[side];
                lose[side] = i32::max(lose[side] - 1, 0);
                let [Find::Frame(frame)] = &line::finds(wire, [octets])[..] else {
                    panic!("sent {}", hex(octets))
                };
                json!({"at": micros(now), "side": SIDES[side].0, "sends": hex(octets), "frame": hex(&frame.0), "lost": lost})
            }
            Seen::Done(Action::Lose(LineId(side), count)) => {
                lose[side] += i32::try_from(count).expect("few");
                return;
            }
            Seen::Done(Action::Wire(LineId(side), condition)) => {
                cut[side] = condition == Condition::Cut;
                let what =
                    if cut[side] { "the wire from here is cut" } else { "the wire from here is mended" };
                json!({"at": micros(now), "side": SIDES[side].0, "happens": what})
            }
            Seen::Done(Action::Restart(node)) => {
                json!({"at": micros(now), "side": SIDES[node.0].0, "happens": "restarts"})
            }
            _ => return,
        };
        steps.borrow_mut().push((now, note));
    };
    network.run(Moment::from_millis(plan.end), &mut see).unwrap_or_else(|stalled| panic!("{stalled}"));
    let steps: Vec<Value> = steps.borrow().iter().map(|(_, value)| value.clone()).collect();
    let sides: Vec<Value> = (0..2)
        .map(|side| {
            let (name, identity, mine, cause) = SIDES[side];
            json!({"name": name, "identity": identity, "mine": mine, "cause": cause as u8, "fingerprint": plan.fingerprints[side],
                "buffer": 64, "window": 4, "keep_alive": 1_000_000, "tries": 5, "switched_on": plan.starts[side] * 1000})
        })
        .collect();
    let framing = if plan.framing == FramingName::Datagram { "datagram" } else { "cobs" };
    json!({"name": plan.name, "shows": plan.shows, "framing": framing, "fcs": 16, "octets_per_second": 11_520,
        "lifetime": if plan.framing == FramingName::Datagram { LIFETIME * 1000 } else { 0 }, "sides": sides, "steps": steps})
}
