//! The messages of the backyard observatory, built in for the demo, the lessons and the tests.
//!
//! [`Message`] is the Rust form: its postcard octets are the payloads. [`table`] tells the same as data, for printing.
//! A test holds both to each other.

use crate::messages::{Field, Form, MessageKind, Table};
use bellwire::frame::Class;
use serde::{Deserialize, Serialize};

/// How the shutter is to move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum ShutterMove {
    Open,
    Close,
    Stop,
}

/// What the dome's rotation is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Motion {
    /// Held still: no set-point yet.
    Held,
    /// Following a fresh set-point.
    Running,
    /// Stopped, because news stopped.
    Stale,
    /// Stopped until it is re-armed.
    ReArm,
}

/// Why the dome raised an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Alarm {
    /// Stopped for want of news.
    NoNews,
    /// Rain: the shutter closes, decided on the board.
    Rain,
    /// A limit switch.
    Limit,
}

/// Every message of the observatory; the place of a variant is its message number.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Message {
    /// 0, set-point, desk to dome: turn at this rate. Fresh for 500 ms; stop is rate 0.
    DomeRate {
        /// 0.01 °/s.
        rate: i16,
    },
    /// 1, errand, desk to dome: turn to this azimuth.
    DomeGoto {
        /// 0.01°.
        azimuth: u16,
    },
    /// 2, errand, desk to dome.
    Shutter {
        /// What to do.
        #[serde(rename = "move")]
        action: ShutterMove,
    },
    /// 3, report, dome to desk.
    DomeState {
        /// 0.01°.
        azimuth: u16,
        /// 0.01 °/s.
        rate: i16,
        /// How far the shutter is open, %.
        shutter: u8,
        /// What the rotation is doing.
        motion: Motion,
    },
    /// 4, errand, dome to desk.
    DomeAlarm {
        /// Why.
        reason: Alarm,
    },
    /// 5, errand, desk to dome: an operator's act after a stop.
    ReArm,
    /// 6, errand, desk to focuser.
    FocuserGoto {
        /// µm.
        position: u32,
    },
    /// 7, report, focuser to desk.
    FocuserState {
        /// µm.
        position: u32,
        /// 0.01 °C.
        temperature: i16,
    },
    /// 8, report, mast to desk.
    Weather {
        /// 0.1 m/s.
        wind: u16,
        /// Whether it rains.
        rain: bool,
        /// Temperature of the sky, 0.01 °C.
        sky: i16,
        /// lx.
        light: u32,
    },
    /// 9, errand, desk to porch.
    Lamp {
        /// %.
        level: u8,
    },
    /// 10, notice, from any board.
    LogLine {
        /// One line.
        text: String,
    },
}

impl Message {
    /// The class of this message.
    #[must_use]
    pub const fn class(&self) -> Class {
        match self {
            Self::DomeRate { .. } => Class::SetPoint,
            Self::DomeState { .. } | Self::FocuserState { .. } | Self::Weather { .. } => Class::Report,
            Self::LogLine { .. } => Class::Notice,
            Self::DomeGoto { .. }
            | Self::Shutter { .. }
            | Self::DomeAlarm { .. }
            | Self::ReArm
            | Self::FocuserGoto { .. }
            | Self::Lamp { .. } => Class::Errand,
        }
    }

    /// The payload: the postcard octets, message number first.
    #[must_use]
    pub fn payload(&self) -> Vec<u8> {
        postcard::to_allocvec(self).unwrap_or_default()
    }

    /// Reads a payload; `None` if it is none of these messages or octets are left over.
    #[must_use]
    pub fn from_payload(payload: &[u8]) -> Option<Self> {
        match postcard::take_from_bytes(payload) {
            Ok((message, [])) => Some(message),
            _ => None,
        }
    }
}

fn field(name: &str, form: Form, unit: &str, decimals: u8) -> Field {
    Field { name: name.to_owned(), form, unit: unit.to_owned(), decimals }
}

fn choice(words: &[&str]) -> Form {
    Form::Choice(words.iter().map(|&word| word.to_owned()).collect())
}

fn kind(number: u16, name: &str, class: Class, fields: Vec<Field>) -> MessageKind {
    MessageKind { number, name: name.to_owned(), class, fields, fresh_ms: None, stop: None, moves: false }
}

fn mover(message: MessageKind) -> MessageKind {
    MessageKind { moves: true, ..message }
}

/// The fingerprint of these messages, as the demo's boards state it in their OPEN.
pub const FINGERPRINT: u32 = 0x0B5E_0001;

/// The observatory's messages as data.
#[must_use]
pub fn table() -> Table {
    let azimuth = || field("azimuth", Form::U16, "°", 2);
    let rate = || field("rate", Form::I16, "°/s", 2);
    let position = || field("position", Form::U32, "µm", 0);
    let dome_rate = MessageKind {
        fresh_ms: Some(500),
        stop: Some(Message::DomeRate { rate: 0 }.payload()),
        ..mover(kind(0, "dome-rate", Class::SetPoint, vec![rate()]))
    };
    let motion = choice(&["held", "running", "stale", "re-arm"]);
    Table::new(
        "observatory",
        vec![
            dome_rate,
            mover(kind(1, "dome-goto", Class::Errand, vec![azimuth()])),
            mover(kind(
                2,
                "shutter",
                Class::Errand,
                vec![field("move", choice(&["open", "close", "stop"]), "", 0)],
            )),
            kind(
                3,
                "dome-state",
                Class::Report,
                vec![azimuth(), rate(), field("shutter", Form::U8, "%", 0), field("motion", motion, "", 0)],
            ),
            kind(
                4,
                "dome-alarm",
                Class::Errand,
                vec![field("reason", choice(&["no-news", "rain", "limit"]), "", 0)],
            ),
            mover(kind(5, "re-arm", Class::Errand, vec![])),
            mover(kind(6, "focuser-goto", Class::Errand, vec![position()])),
            kind(
                7,
                "focuser-state",
                Class::Report,
                vec![position(), field("temperature", Form::I16, "°C", 2)],
            ),
            kind(
                8,
                "weather",
                Class::Report,
                vec![
                    field("wind", Form::U16, "m/s", 1),
                    field("rain", Form::Bool, "", 0),
                    field("sky", Form::I16, "°C", 2),
                    field("light", Form::U32, "lx", 0),
                ],
            ),
            kind(9, "lamp", Class::Errand, vec![field("level", Form::U8, "%", 0)]),
            kind(10, "log-line", Class::Notice, vec![field("text", Form::Text, "", 0)]),
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shown(class: Class, payload: &[u8]) -> Option<String> {
        let table = table();
        let (message, values) = table.read(class, payload)?;
        let mut out = message.name.clone().into_bytes();
        for (field, value) in values {
            out.extend_from_slice(format!(" {}=", field.name).as_bytes());
            value.write_plain(&mut out);
            if !field.unit.is_empty() {
                out.extend_from_slice(format!(" {}", field.unit).as_bytes());
            }
        }
        String::from_utf8(out).ok()
    }

    #[test]
    fn messages_are_shown_with_scaled_values_and_units() {
        let show = |message: Message| shown(message.class(), &message.payload()).unwrap();
        assert_eq!(show(Message::DomeRate { rate: 125 }), "dome-rate rate=1.25 °/s");
        assert_eq!(show(Message::Shutter { action: ShutterMove::Close }), "shutter move=close");
        assert_eq!(show(Message::ReArm), "re-arm");
        assert_eq!(
            show(Message::DomeState { azimuth: 18_120, rate: -50, shutter: 100, motion: Motion::ReArm }),
            "dome-state azimuth=181.20 ° rate=-0.50 °/s shutter=100 % motion=re-arm"
        );
        assert_eq!(
            show(Message::Weather { wind: 43, rain: true, sky: -1850, light: 70_000 }),
            "weather wind=4.3 m/s rain=true sky=-18.50 °C light=70000 lx"
        );
        assert_eq!(show(Message::LogLine { text: "dôme".into() }), "log-line text=dôme");
    }

    fn any_message() -> impl Strategy<Value = Message> {
        use Message as M;
        prop_oneof![
            any::<i16>().prop_map(|rate| M::DomeRate { rate }),
            any::<u16>().prop_map(|azimuth| M::DomeGoto { azimuth }),
            prop_oneof![Just(ShutterMove::Open), Just(ShutterMove::Close), Just(ShutterMove::Stop)]
                .prop_map(|action| M::Shutter { action }),
            (any::<u16>(), any::<i16>(), any::<u8>(), prop_oneof![Just(Motion::Held), Just(Motion::ReArm)])
                .prop_map(|(azimuth, rate, shutter, motion)| M::DomeState { azimuth, rate, shutter, motion }),
            Just(M::DomeAlarm { reason: Alarm::Rain }),
            any::<u32>().prop_map(|position| M::FocuserGoto { position }),
            (any::<u16>(), any::<bool>(), any::<i16>(), any::<u32>())
                .prop_map(|(wind, rain, sky, light)| M::Weather { wind, rain, sky, light }),
            any::<u8>().prop_map(|level| M::Lamp { level }),
            ".{0,40}".prop_map(|text| M::LogLine { text }),
        ]
    }

    proptest! {
        /// Oracle: serde's own view of the enum (through JSON) against the table's reading of the postcard octets.
        #[test]
        fn the_table_reads_what_serde_and_postcard_wrote(message in any_message()) {
            let payload = message.payload();
            let table = table();
            let (kind, values) = table.read(message.class(), &payload).expect("the table knows it");
            let wanted = serde_json::to_value(&message).unwrap();
            let wanted = wanted.get(&kind.name).expect("same name").as_object().unwrap().clone();
            let mut seen = 0;
            let mut pairs = Vec::new();
            for (field, value) in values {
                let mut text = Vec::new();
                value.write_plain(&mut text);
                let text = String::from_utf8(text).unwrap();
                let oracle = match &wanted[&field.name] {
                    serde_json::Value::Number(raw) => {
                        let scale = 10_f64.powi(i32::from(field.decimals));
                        format!("{:.*}", usize::from(field.decimals), raw.as_f64().unwrap() / scale)
                    }
                    serde_json::Value::String(word) => word.clone(),
                    other => other.to_string(),
                };
                prop_assert_eq!(&text, &oracle);
                pairs.push((field.name.clone(), text));
                seen += 1;
            }
            prop_assert_eq!(seen, wanted.len());
            let pairs: Vec<_> = pairs.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
            prop_assert_eq!(kind.write(&pairs).unwrap(), payload);
        }

        /// The table takes exactly the payloads that postcard takes, octets left over included.
        #[test]
        fn the_table_and_postcard_agree_on_any_octets(payload in proptest::collection::vec(any::<u8>(), 0..20), first in 0_u8..12) {
            let payload = [&[first][..], &payload].concat();
            let table = table();
            let known = Class::ALL.iter().any(|&class| table.read(class, &payload).is_some());
            prop_assert_eq!(known, Message::from_payload(&payload).is_some());
        }
    }
}
