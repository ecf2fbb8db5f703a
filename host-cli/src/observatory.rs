//! The messages of the backyard observatory, built in for the demo, the lessons and the tests.
//!
//! [`table`] is read from the agreement file `examples/observatory/agreement.toml`. [`Message`] is the Rust form of those messages that the
//! demo's boards exchange: its postcard octets are the payloads. A test holds both to each other.

use crate::{agreement::Agreement, messages::Table};
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

/// The text of the observatory's agreement file.
pub const AGREEMENT: &str = include_str!("../../examples/observatory/agreement.toml");

/// The fingerprint of these messages, as the demo's boards state it in their OPEN. A test holds it to the file.
pub const FINGERPRINT: u32 = 0x5350_2311;

/// The observatory's messages as data, read from its agreement file.
///
/// # Panics
/// Never: a test reads the file, which is part of the program.
#[must_use]
pub fn table() -> Table {
    agreement().table
}

/// The observatory's agreement.
///
/// # Panics
/// Never: a test reads the file, which is part of the program.
#[must_use]
pub fn agreement() -> Agreement {
    match Agreement::read(AGREEMENT) {
        Ok(agreement) => agreement,
        Err(faults) => panic!("examples/observatory/agreement.toml: {faults:?}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::messages::WriteError;
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
    fn the_fingerprint_is_that_of_the_file() {
        assert_eq!(
            format!("{:08x}", table().fingerprint()),
            format!("{FINGERPRINT:08x}"),
            "{}",
            table().outline()
        );
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
            let mut outside = None;
            for (field, value) in values {
                if outside.is_none() && !field.allows(&value) {
                    outside = Some(field.name.clone());
                }
                let mut text = Vec::new();
                value.write_plain(&mut text);
                let text = String::from_utf8(text).unwrap();
                let oracle = match &wanted[&field.name] {
                    serde_json::Value::Number(raw) => {
                        let decimals = field.scale.decimals;
                        let scale = 10_f64.powi(i32::from(decimals));
                        format!("{:.*}", usize::from(decimals), raw.as_f64().unwrap() / scale)
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
            match (kind.write(&pairs), outside) {
                (Ok(written), None) => prop_assert_eq!(written, payload),
                (Err(WriteError::BadValue(field, ..)), Some(outside)) => prop_assert_eq!(field, outside),
                (written, outside) => prop_assert!(false, "{written:?}, out of range: {outside:?}"),
            }
        }

        /// The table takes exactly the payloads that postcard takes, octets left over included.
        #[test]
        fn the_table_and_postcard_agree_on_any_octets(payload in proptest::collection::vec(any::<u8>(), 0..20), first in 0_u8..11) {
            let payload = [&[first][..], &payload].concat();
            let table = table();
            let known = Class::ALL.iter().any(|&class| table.read(class, &payload).is_some());
            prop_assert_eq!(known, Message::from_payload(&payload).is_some());
        }
    }
}
