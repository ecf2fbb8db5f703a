//! Plays the scripts of `tests/vectors/sessions.json` to a link.

use crate::{
    line,
    machine::Machine,
    vector::{Find, FramingName, Line, Octets, hex},
};
use bellwire::{
    fcs::Fcs16,
    frame::{Class, Kind, ResetCause, View},
    framing::{Cobs, Datagram},
    link::{Config, Link, OwnNumber, When},
    time::{Duration, Instant, after, elapsed},
};
use serde::Deserialize;
use serde_json::{Map, Value, json};

/// A script for one link.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Script {
    pub name: String,
    pub rules: Vec<String>,
    #[serde(flatten)]
    pub line: Line,
    pub device: Device,
    pub steps: Vec<Step>,
}

/// How the link is made.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Device {
    pub mine: u32,
    pub buffer: usize,
    pub window: u8,
    pub octets_per_second: u32,
    pub keep_alive: u32,
    pub tries: u8,
    pub lifetime: u32,
    pub fingerprint: u32,
    pub identity: u64,
    pub cause: u8,
    #[serde(default)]
    pub numberless: bool,
}

/// One step.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Step {
    pub after: u32,
    pub feed: Option<Octets>,
    pub send: Option<Item>,
    pub within: Option<[u32; 2]>,
    pub sends: Vec<Want>,
    pub tells: Vec<Value>,
}

/// A message that the program sends.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Item {
    pub class: String,
    pub payload: Octets,
}

/// A frame that must be sent.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Want {
    /// This one, without its FCS.
    Exact(Octets),
    /// One with these fields.
    Fields(Map<String, Value>),
}

impl Device {
    fn config(&self) -> Config {
        let own = if self.numberless { OwnNumber::Numberless } else { OwnNumber::Stored(self.mine) };
        assert_eq!(self.cause, ResetCause::Power as u8, "scripts start by power");
        Config {
            identity: self.identity,
            fingerprint: self.fingerprint,
            cause: ResetCause::Power,
            keep_alive: Duration::from_ticks(self.keep_alive),
            tries: self.tries,
            lifetime: Duration::from_ticks(self.lifetime),
            ..Config::uart(self.octets_per_second * 10, own)
        }
    }

    fn make(&self, line: Line, now: Instant) -> Box<dyn Machine> {
        assert_eq!((self.buffer, line.fcs), (64, 16), "scripts use one size of buffer");
        let config = self.config();
        match (line.framing, self.window) {
            (FramingName::Cobs, 1) => Box::new(Link::<Cobs, Fcs16, 64, 1, 4>::new(Cobs, config, now)),
            (FramingName::Cobs, 4) => Box::new(Link::<Cobs, Fcs16, 64, 4, 8>::new(Cobs, config, now)),
            (FramingName::Datagram, 1) => {
                Box::new(Link::<Datagram, Fcs16, 64, 1, 4>::new(Datagram, config, now))
            }
            (FramingName::Datagram, 4) => {
                Box::new(Link::<Datagram, Fcs16, 64, 4, 8>::new(Datagram, config, now))
            }
            other => panic!("no link for {other:?}"),
        }
    }
}

/// Plays a script that starts at `origin`.
///
/// # Errors
/// What went otherwise than the script says.
pub fn play(script: &Script, origin: Instant) -> Result<(), String> {
    let mut player = Player {
        line: script.line,
        machine: script.device.make(script.line, origin),
        now: origin,
        sent: Vec::new(),
        told: Vec::new(),
    };
    // A link asks at once (W-24); only a script that waits for that says so.
    player.drain()?;
    if script.steps.first().is_none_or(|step| step.within.is_none()) {
        player.sent.clear();
    }
    for (count, step) in script.steps.iter().enumerate() {
        player.step(step).map_err(|fault| {
            format!(
                "{}, step {count} ({}): {fault}",
                script.name,
                serde_json::to_string(&brief(step)).unwrap_or_default()
            )
        })?;
    }
    Ok(())
}

fn brief(step: &Step) -> Value {
    json!({"after": step.after, "feed": step.feed.as_ref().map(|octets| hex(&octets.0)), "within": step.within,
        "send": step.send.as_ref().map(|item| format!("{} {:?}", item.class, item.payload))})
}

struct Player {
    line: Line,
    machine: Box<dyn Machine>,
    now: Instant,
    sent: Vec<Vec<u8>>,
    told: Vec<Value>,
}

/// More rounds than any script needs: a link that spins is found out.
const ROUNDS: usize = 1000;

impl Player {
    fn step(&mut self, step: &Step) -> Result<(), String> {
        let begin = after(self.now, Duration::from_ticks(step.after));
        if step.after > 0 || step.within.is_none() {
            self.run_until(begin, |_| false)?;
            self.compare(&[], &[], "before its time")?;
        }
        if step.feed.is_some() || step.send.is_some() {
            if let Some(octets) = &step.feed {
                self.feed(&octets.0, step.send.is_some())?;
            }
            if let Some(item) = &step.send {
                let class =
                    Class::ALL.into_iter().find(|class| class.name() == item.class).ok_or("no such class")?;
                self.machine.send(self.now, class, &item.payload.0).map_err(|fault| fault.to_string())?;
            }
            self.drain()?;
        } else if let Some([shortest, longest]) = step.within {
            let named = |player: &Self| player.told(&step.tells).len() >= step.tells.len();
            self.run_until(after(begin, Duration::from_ticks(longest)), |player| {
                player.sent.len() >= step.sends.len() && named(player)
            })?;
            let span = elapsed(self.now, begin).as_ticks();
            if span < shortest {
                return Err(format!("came after {span} us"));
            }
        }
        self.compare(&step.sends, &step.tells, "in answer")
    }

    /// Runs the timers up to `end`, or until `enough`.
    fn run_until(&mut self, end: Instant, enough: impl Fn(&Self) -> bool) -> Result<(), String> {
        for _ in 0..ROUNDS {
            self.drain()?;
            if enough(self) {
                return Ok(());
            }
            let due = match self.machine.poll_wake().when {
                When::Now => self.now,
                When::Idle => end,
                When::At(at) => {
                    if elapsed(at, end).as_ticks() > 0 {
                        end
                    } else {
                        after(self.now, elapsed(at, self.now))
                    }
                }
            };
            let last = due == end;
            self.now = due;
            self.machine.handle_timeout(self.now);
            if last {
                return self.drain();
            }
        }
        Err(format!("spins: {:?}", self.machine.poll_wake()))
    }

    /// Feeds octets; `answers` says that the program will send something before the link is asked for frames.
    fn feed(&mut self, octets: &[u8], answers: bool) -> Result<(), String> {
        let mut rest = octets;
        for _ in 0..ROUNDS {
            let consumed = self.machine.handle_octets(self.now, rest);
            rest = rest.get(consumed..).ok_or("consumed more than there was")?;
            if answers {
                self.told.extend(std::iter::from_fn(|| self.machine.poll_event()));
            } else {
                self.drain()?;
            }
            if rest.is_empty() {
                return Ok(());
            }
        }
        Err("takes no octets".to_owned())
    }

    fn drain(&mut self) -> Result<(), String> {
        for _ in 0..ROUNDS {
            if let Some(event) = self.machine.poll_event() {
                self.told.push(event);
                continue;
            }
            let Some(octets) = self.machine.poll_transmit(self.now) else { return Ok(()) };
            match &line::finds(self.line, [&octets[..]])[..] {
                [Find::Frame(frame)] => self.sent.push(frame.0.clone()),
                other => return Err(format!("sent {} which is {other:?}", hex(&octets))),
            }
        }
        Err("never has enough".to_owned())
    }

    /// What was told, without `quiet` and `resumed` unless `wanted` names one of them.
    fn told(&self, wanted: &[Value]) -> Vec<&Value> {
        let pace = |event: &Value| event["event"] == "quiet" || event["event"] == "resumed";
        let named = wanted.iter().any(pace);
        self.told.iter().filter(|event| named || !pace(event)).collect()
    }

    fn compare(&mut self, sends: &[Want], tells: &[Value], when: &str) -> Result<(), String> {
        let told = self.told(tells);
        let good =
            told.len() == tells.len() && told.iter().zip(tells).all(|(got, wanted)| contains(got, wanted));
        if !good {
            return Err(format!("told {when}: {}\n  wanted: {}", json!(told), json!(tells)));
        }
        let tagged = self.line.framing == FramingName::Datagram;
        let fits = |got: &[u8], want: &Want| match want {
            Want::Exact(octets) => got == octets.0,
            Want::Fields(fields) => contains(&fields_of(got, tagged), &Value::Object(fields.clone())),
        };
        let good =
            self.sent.len() == sends.len() && self.sent.iter().zip(sends).all(|(got, want)| fits(got, want));
        if !good {
            let sent: Vec<_> = self
                .sent
                .iter()
                .map(|frame| format!("{} {}", hex(frame), fields_of(frame, tagged)))
                .collect();
            return Err(format!("sent {when}: {sent:#?}\n  wanted: {sends:?}"));
        }
        self.sent.clear();
        self.told.clear();
        Ok(())
    }
}

/// Whether `whole` has every field of `part` with its value.
fn contains(whole: &Value, part: &Value) -> bool {
    part.as_object().is_some_and(|fields| fields.iter().all(|(name, value)| whole.get(name) == Some(value)))
}

/// The fields of a frame as the vectors name them.
fn fields_of(frame: &[u8], tagged: bool) -> Value {
    let Ok(view) = View::parse(frame, tagged) else { return Value::Null };
    let header = view.header;
    let mut out = json!({"kind": header.kind.name(), "session": header.session, "tag": header.tag,
        "extension": header.extension.map(|extension| extension.name()), "payload": hex(view.payload)});
    if header.kind.is_numbered() {
        out["number"] = json!(header.number);
    }
    if let Some(ack) = header.ack {
        out["next"] = json!(ack.next);
        out["held"] = json!(ack.held);
    }
    if header.kind == Kind::Open
        && let Some(open) = view.open()
    {
        out["ask"] = json!(open.ask);
        out["mine"] = json!(open.mine);
        out["echo"] = json!(open.echo);
    }
    out
}
