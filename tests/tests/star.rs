//! The extensions 0x10 to 0x18 and a leaf that hears what goes to all, against the golden vectors of `star.json`, which come from Python alone.

use bellwire::{
    frame::{Head, ResetCause},
    framing::{Datagram, Framing, Lead},
    link::{Config, Event, OwnNumber, When},
    star::{Address, Answer, Arrival, ArrivalAnswer, Join, Leaf, LeafConfig, LeafEvent, Told, Welcome},
    time::{Duration, Instant},
    timeline,
    transfer::{Id, Map, Message, Offer, Reason},
};
use bellwire_tests::{
    line::{self, Job},
    tool::root,
    vector::{FramingName, Line, Octets, hex},
};
use serde::Deserialize;
use serde_json::Value;

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Vector {
    Extension(Extension),
    Bad(Bad),
    Elsewhere(Relay),
    Script(Box<Script>),
}

#[derive(Debug, Deserialize)]
struct Extension {
    name: String,
    framing: FramingName,
    fcs: u8,
    to: Option<u8>,
    from: Option<u8>,
    code: u8,
    fields: Value,
    body: Octets,
    wire: Octets,
}

#[derive(Debug, Deserialize)]
struct Bad {
    name: String,
    code: u8,
    bad: Octets,
}

/// What is relayed: `relayed.rs` has it.
#[derive(Debug, Deserialize)]
struct Relay {
    #[serde(alias = "not_relayed")]
    relayed: Value,
}

#[derive(Debug, Deserialize)]
struct Script {
    name: String,
    rules: Vec<String>,
    address: How,
    lifetime: u32,
    mine: u32,
    identity: u64,
    steps: Vec<Step>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "lowercase")]
enum How {
    Known(u8),
    Wanted(u8),
    Asked(bool),
}

#[derive(Debug, Deserialize)]
struct Step {
    after: u32,
    feed: Option<Octets>,
    sends: Vec<Octets>,
    tells: Vec<Value>,
}

fn vectors() -> Vec<Vector> {
    let text = std::fs::read_to_string(root().join("tests/vectors/star.json")).expect("the vectors");
    let mut vectors: Vec<Vector> = serde_json::from_str(&text).expect("well-formed");
    vectors.retain(|vector| !matches!(vector, Vector::Elsewhere(Relay { relayed }) if !relayed.is_null()));
    vectors
}

fn number<T: TryFrom<u64, Error: std::fmt::Debug>>(fields: &Value, name: &str) -> T {
    let value = fields.get(name).and_then(Value::as_u64);
    value.unwrap_or_else(|| panic!("{name} of {fields}")).try_into().expect("in range")
}

/// What the core makes of the fields.
fn made(code: u8, fields: &Value) -> Vec<u8> {
    let at = |name| Instant::from_ticks(number(fields, name));
    match code {
        0x10 => timeline::Asker::new().request(at("sent")).to_vec(),
        0x11 => {
            let request = timeline::Asker::new().request(at("sent"));
            timeline::answer(&request, at("heard"), at("answered")).expect("a request").to_vec()
        }
        0x12 => {
            let content = fields.get("content").and_then(Value::as_str).unwrap_or("");
            let content = bellwire_tests::vector::unhex(content).expect("hex");
            let mut out = [0; 64];
            let len = transfer(fields, &content).write(&mut out).expect("room");
            assert_eq!(Message::parse(&out[..len]), Ok(transfer(fields, &content)), "{fields}");
            out[..len].to_vec()
        }
        0x13 => {
            let (wanted, awake) = (number(fields, "wanted"), number(fields, "awake"));
            let join = Join { identity: number(fields, "identity"), wanted, awake };
            assert_eq!(Join::parse(&join.octets()), Some(join), "{fields}");
            join.octets().to_vec()
        }
        0x14 => {
            let welcome = Welcome { identity: number(fields, "identity"), answer: answer(fields) };
            assert_eq!(Welcome::parse(&welcome.octets()), Some(welcome), "{fields}");
            welcome.octets().to_vec()
        }
        0x17 if fields.get("asks").is_none() => {
            let (session, broadcast) = (number(fields, "session"), number(fields, "broadcast"));
            let told = Told { session, broadcast, next: number(fields, "next") };
            assert_eq!(Told::parse(&told.octets()), Some(told), "{fields}");
            told.octets().to_vec()
        }
        0x18 => arrival(fields),
        _ => vec![],
    }
}

/// What the core reads in an ARRIVAL must be the fields; it gives the body again.
fn arrival(fields: &Value) -> Vec<u8> {
    let mine: u32 = number(fields, "mine");
    if fields.get("answer").is_some() {
        let body = [&mine.to_le_bytes()[..], &[number(fields, "answer")]].concat();
        let answer = ArrivalAnswer::parse(&body).expect("an answer");
        assert_eq!(answer.mine, mine);
        return answer.octets().to_vec();
    }
    let payload = fields["payload"].as_str().and_then(bellwire_tests::vector::unhex).expect("hex");
    let cause = CAUSES[number::<usize>(fields, "cause")];
    let numberless = fields["numberless"] == Value::Bool(true);
    let fingerprint = number(fields, "fingerprint");
    let arrival = Arrival { mine, numberless, cause, fingerprint, payload: &payload };
    let body = [&arrival.head()[..], &payload].concat();
    assert_eq!(Arrival::parse(&body), Some(arrival));
    body
}

/// By their codes (section 4).
const CAUSES: [ResetCause; 8] = [
    ResetCause::Unknown,
    ResetCause::Power,
    ResetCause::Pin,
    ResetCause::Watchdog,
    ResetCause::Software,
    ResetCause::LowVoltage,
    ResetCause::Wake,
    ResetCause::Fault,
];

fn answer(fields: &Value) -> Answer {
    match fields["answer"].as_str() {
        Some("taken") => Answer::Seated(number(fields, "address")),
        Some("full") => Answer::Full,
        Some("held") => Answer::Held(number(fields, "holder")),
        Some("impossible") => Answer::Impossible,
        other => panic!("{other:?}"),
    }
}

fn transfer<'a>(fields: &Value, octets: &'a [u8]) -> Message<'a> {
    let round = fields.get("round").map(|_| number(fields, "round"));
    let id = || Id { number: number(fields, "number"), tag: number(fields, "tag") };
    let reason = |name| Reason::from_code(number(fields, name));
    if let Some(offer) = fields.get("offer") {
        let (crc, size) = (number(offer, "crc"), number(offer, "size"));
        let (part, topic) = (number(offer, "part"), number(offer, "topic"));
        let offer = Offer { number: number(offer, "number"), crc, size, part, topic };
        return Message::Offer { offer, round: round.expect("a round") };
    }
    if let Some(map) = fields.get("map") {
        let map = Map { base: number(map, "base"), held: number(map, "held"), window: number(map, "window") };
        return Message::Map { id: id(), round: round.expect("a round"), map };
    }
    if fields.get("part").is_some() {
        Message::Part { id: id(), index: number(fields, "part"), asks: round, octets }
    } else if fields.get("ask").is_some() {
        Message::Ask { id: id(), round: round.expect("a round") }
    } else if fields.get("stop").is_some() {
        Message::Stop(id(), reason("stop"))
    } else if fields.get("refuse").is_some() {
        Message::Refuse(id(), reason("refuse"))
    } else {
        assert_eq!(fields["done"], Value::Bool(true), "{fields}");
        Message::Done(id())
    }
}

/// A frame of an extension: control octet, addresses, code, body.
struct Make<'a>(&'a Extension);

impl Job for Make<'_> {
    type Out = Vec<u8>;
    fn run<F: Framing, C: bellwire::fcs::Fcs>(self, framing: F) -> Vec<u8> {
        let Extension { code, to, from, ref body, .. } = *self.0;
        let mut out = [0; 160];
        let (octets, len) = match to.zip(from) {
            Some((to, from)) => ([0xF0, to, from, code, 0, 0, 0, 0], 4),
            None => ([0xE0, code, 0, 0, 0, 0, 0, 0], 2),
        };
        let head = Head { octets: &octets, len };
        let len = framing.encode_frame::<C>(head, &body.0, Lead::Delimiter, &mut out).expect("room");
        // Two of them the core writes whole.
        let mut whole = [0; 160];
        if let (0x17, Some(told), Some(leaf)) = (code, Told::parse(&body.0), to) {
            assert_eq!(told.write::<F, C>(&framing, leaf, Lead::Delimiter, &mut whole), len);
            assert_eq!(whole, out);
        }
        if let (0x14, Some(welcome)) = (code, Welcome::parse(&body.0)) {
            assert_eq!(welcome.write::<F, C>(&framing, Lead::Delimiter, &mut whole), len);
            assert_eq!(whole, out);
        }
        out[..len].to_vec()
    }
}

#[test]
fn every_extension_is_written_and_read_octet_for_octet() {
    let mut count = [0; 9];
    for vector in vectors() {
        let Vector::Extension(vector) = vector else { continue };
        assert_eq!(hex(&made(vector.code, &vector.fields)), hex(&vector.body.0), "{}", vector.name);
        let line = Line { framing: vector.framing, fcs: vector.fcs, map: 0, buffer: 0 };
        assert_eq!(hex(&line::on(line, Make(&vector))), hex(&vector.wire.0), "{}", vector.name);
        count[usize::from(vector.code - 0x10)] += 1;
    }
    // On three framings; those that both kinds of medium carry twice.
    assert_eq!(count, [3 * 6, 3 * 6, 3 * 66, 3 * 3, 3 * 5, 3 * 2, 0, 3 * 4, 3 * 6]);
}

#[test]
fn every_bad_body_is_refused() {
    let mut count = 0;
    for vector in vectors() {
        let Vector::Bad(Bad { name, code, bad }) = vector else { continue };
        let body = &bad.0[..];
        let at = Instant::from_ticks(0);
        let is_refused = match code {
            0x10 => timeline::answer(body, at, at).is_none(),
            0x11 => {
                let clocks = timeline::Clocks { drift_limit: 50, precision: 1 };
                timeline::Asker::new().handle(body, at, &clocks) == Err(timeline::Refused::BadLength)
            }
            0x12 => Message::parse(body).is_err(),
            0x13 => Join::parse(body).is_none(),
            0x14 => Welcome::parse(body).is_none(),
            0x17 => Told::parse(body).is_none(),
            0x18 => Arrival::parse(body).is_none() && ArrivalAnswer::parse(body).is_none(),
            other => panic!("{other:#04x}"),
        };
        assert!(is_refused, "{name}");
        count += 1;
    }
    assert_eq!(count, 34);
}

/// The leaf of a script, and what it has sent and told since the last step.
struct Played {
    leaf: Leaf<Datagram>,
    sends: Vec<String>,
    tells: Vec<Value>,
}

impl Played {
    fn new(script: &Script) -> Self {
        let link = Config::datagram(0, Duration::from_ticks(script.lifetime), OwnNumber::Stored(script.mine));
        let keep_alive = Duration::from_ticks(0);
        let link = Config { identity: script.identity, keep_alive, jitter_seed: 0, ..link };
        let address = match script.address {
            How::Known(own) => Address::Known(own),
            How::Wanted(own) => Address::Wanted(own),
            How::Asked(asked) => {
                assert!(asked);
                Address::Asked
            }
        };
        let config = LeafConfig { awake: 300, ..LeafConfig::new(link, address) };
        Self { leaf: Leaf::new(Datagram, config, Instant::from_ticks(0)), sends: vec![], tells: vec![] }
    }

    fn serve(&mut self, now: Instant) {
        self.leaf.handle_timeout(now);
        while let Some(event) = self.leaf.poll_event() {
            self.tells.push(match event {
                LeafEvent::Link(Event::Opened(peer)) => {
                    serde_json::json!({ "event": "opened", "session": peer.session })
                }
                LeafEvent::Link(Event::Refused(reject)) => {
                    serde_json::json!({ "event": "refused", "reject": reject.name() })
                }
                LeafEvent::ToAll(message) => serde_json::json!({
                    "event": "to all", "class": message.class.name(), "number": message.number,
                    "missed": message.missed, "payload": hex(message.payload),
                }),
                LeafEvent::Joined(address) => serde_json::json!({ "event": "joined", "address": address }),
                LeafEvent::NotJoined(answer) => {
                    let (answer, holder) = match answer {
                        Answer::Held(holder) => ("held", holder),
                        Answer::Full => ("full", 0),
                        other => panic!("{other:?}"),
                    };
                    serde_json::json!({ "event": "not joined", "answer": answer, "holder": holder })
                }
                other => panic!("{other:?}"),
            });
        }
        let mut out = [0; 80];
        while let Some(len) = self.leaf.poll_transmit(now, &mut out) {
            self.sends.push(hex(&out[..len]));
        }
    }

    /// The leaf's own timers run until then.
    fn pass(&mut self, until: Instant) {
        while let When::At(next) = self.leaf.poll_wake().when {
            if next.as_ticks() > until.as_ticks() {
                break;
            }
            self.serve(next);
        }
    }
}

#[test]
fn every_script_of_a_leaf_goes_as_the_model_says() {
    let mut count = 0;
    for vector in vectors() {
        let Vector::Script(script) = vector else { continue };
        let mut played = Played::new(&script);
        let mut now = 0;
        for (index, step) in script.steps.iter().enumerate() {
            now += step.after;
            let at = Instant::from_ticks(now);
            played.pass(at);
            if let Some(Octets(datagram)) = &step.feed {
                assert_eq!(played.leaf.handle_octets(at, datagram), datagram.len());
            }
            played.serve(at);
            let name = format!("{} {:?}, step {index}", script.name, script.rules);
            let sends: Vec<_> = step.sends.iter().map(|octets| hex(&octets.0)).collect();
            assert_eq!(core::mem::take(&mut played.sends), sends, "{name}");
            assert_eq!(core::mem::take(&mut played.tells), step.tells, "{name}");
        }
        count += 1;
    }
    assert_eq!(count, 27);
}
