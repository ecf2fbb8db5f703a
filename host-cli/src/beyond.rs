//! Frames of the extensions beyond two boards (section 11 of the wire text), which a link skips and the tool shows.

use bellwire::{
    frame::{Addresses, Kind},
    framing::NotSent,
    star::{Arrival, ArrivalAnswer, Told},
    transfer::{Message, Reason},
};

/// A field of such a frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Its name in the wire text, one word.
    pub name: &'static str,
    /// Octets that it takes.
    pub len: usize,
    /// What it says.
    pub value: Value,
}

/// What a field says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// A number.
    Number(u64),
    /// Words, or octets in hex.
    Words(String),
}

impl std::fmt::Display for Value {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Words(words) => f.write_str(words),
        }
    }
}

/// One such frame, read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Beyond<'a> {
    /// The code of the extension.
    pub code: u8,
    /// Its name, for instance `time request` or `transfer map`.
    pub name: &'static str,
    /// Who it is for and from, on a shared medium.
    pub addresses: Option<Addresses>,
    /// Its fields, in the order of the octets.
    pub fields: Vec<Field>,
    /// The body.
    pub body: &'a [u8],
}

/// Names of the extensions from 0x10 on.
#[must_use]
pub const fn name(code: u8) -> Option<&'static str> {
    Some(match code {
        0x10 => "time request",
        0x11 => "time",
        0x12 => "transfer",
        0x13 => "join",
        0x14 => "welcome",
        0x15 => "turn",
        0x16 => "air",
        Told::CODE => "to all",
        Arrival::CODE => "arrival",
        _ => return None,
    })
}

impl<'a> Beyond<'a> {
    /// Reads a frame without its FCS; `None` if it is no frame of these extensions.
    #[must_use]
    pub fn read(frame: &'a [u8]) -> Option<Self> {
        let (&control, rest) = frame.split_first()?;
        if Kind::from_control(control) != Some(Kind::Extended) || control & 0x0F != 0 {
            return None;
        }
        let (addresses, rest) = match rest {
            [to, from, rest @ ..] if control & 0x10 != 0 => (Some(Addresses { to: *to, from: *from }), rest),
            rest if control & 0x10 == 0 => (None, rest),
            _ => return None,
        };
        let (&code, body) = rest.split_first()?;
        let (name, fields) = fields(code, body).or_else(|| {
            let len = body.len();
            let field = Field { name: "misfit", len, value: Value::Words(hex(body)) };
            Some((name(code)?, vec![field]))
        })?;
        Some(Self { code, name, addresses, fields, body })
    }

    /// Whether it carries a datagram, which the framing `radio-board` shows.
    #[must_use]
    pub fn encloses(&self) -> bool {
        self.code == 0x16 && self.fields.iter().any(|field| field.name == "datagram")
    }

    /// `sent 12, heard 15`: the fields in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut text = self.name.to_owned();
        // The form is in the name.
        for (at, field) in self.fields.iter().filter(|field| field.name != "form").enumerate() {
            text.push_str(if at == 0 { ": " } else { ", " });
            let name = match field.name {
                "misfit" => "a body that does not fit it,",
                "tail" => "datagram that ends with",
                name => name,
            };
            let unit = if field.name == "time" { " µs" } else { "" };
            text.push_str(&format!("{name} {}{unit}", field.value));
        }
        text
    }
}

fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}

/// Takes fields off a body.
struct Body<'a> {
    left: &'a [u8],
    fields: Vec<Field>,
}

impl Body<'_> {
    fn octets(&mut self, len: usize) -> Option<u64> {
        let (taken, left) = self.left.split_at_checked(len)?;
        self.left = left;
        Some(taken.iter().rev().fold(0, |all, &octet| all << 8 | u64::from(octet)))
    }

    fn number(&mut self, name: &'static str, len: usize) -> Option<u64> {
        let value = self.octets(len)?;
        self.fields.push(Field { name, len, value: Value::Number(value) });
        Some(value)
    }

    fn long(&mut self, name: &'static str, len: usize) -> Option<()> {
        let value = self.octets(len)?;
        let value = Value::Words(format!("{value:0width$x}", width = 2 * len));
        self.fields.push(Field { name, len, value });
        Some(())
    }

    fn words(&mut self, name: &'static str, say: impl FnOnce(u8) -> String) -> Option<()> {
        let code = u8::try_from(self.octets(1)?).ok()?;
        self.fields.push(Field { name, len: 1, value: Value::Words(say(code)) });
        Some(())
    }

    /// All that is left.
    fn rest(&mut self, name: &'static str) {
        let value = Value::Words(hex(self.left));
        self.fields.push(Field { name, len: self.left.len(), value });
        self.left = &[];
    }
}

/// Name and fields; `None` if the body is not one of this extension.
fn fields(code: u8, octets: &[u8]) -> Option<(&'static str, Vec<Field>)> {
    let mut body = Body { left: octets, fields: Vec::new() };
    let mut said = name(code)?;
    match code {
        0x10 => {
            body.number("sent", 4)?;
        }
        0x11 => {
            for name in ["sent", "heard", "answered"] {
                body.number(name, 4)?;
            }
        }
        0x12 => said = transfer(&mut body, octets)?,
        0x13 => {
            body.long("identity", 8)?;
            body.number("address", 1)?;
            body.number("awake_ms", 2)?;
        }
        0x14 => {
            body.long("identity", 8)?;
            body.words("answer", |code| answer(code).to_owned())?;
            body.number("address", 1)?;
            body.long("holder", 8)?;
        }
        0x15 => {}
        Told::CODE if octets.is_empty() => said = "to all request",
        Told::CODE => {
            Told::parse(octets)?;
            body.long("session", 4)?;
            body.long("broadcast", 4)?;
            body.number("next", 1)?;
        }
        Arrival::CODE => said = arrival(&mut body, octets)?,
        _ => said = air(&mut body)?,
    }
    body.left.is_empty().then_some((said, body.fields))
}

/// A report without a session, or what became of it (W-69).
fn arrival(body: &mut Body<'_>, octets: &[u8]) -> Option<&'static str> {
    if ArrivalAnswer::parse(octets).is_some() {
        body.long("mine", 4)?;
        body.words("answer", |code| {
            let word = match code {
                0 => "taken",
                0x80 => "taken, more waits",
                _ => "not taken, the agreements differ",
            };
            word.to_owned()
        })?;
        return Some("arrival answer");
    }
    let cause = Arrival::parse(octets)?.cause;
    body.long("mine", 4)?;
    body.words("started", |_| cause.reason().to_owned())?;
    body.long("agreement", 4)?;
    body.rest("payload");
    Some("arrival")
}

/// What a WELCOME answers (W-60).
const fn answer(code: u8) -> &'static str {
    match code {
        0 => "taken",
        1 => "every address is in use",
        2 => "the address is held by another board",
        3 => "no such address or no identity",
        _ => "an answer that this version does not know",
    }
}

/// A body of section 11.2.
fn transfer(body: &mut Body<'_>, octets: &[u8]) -> Option<&'static str> {
    let message = Message::parse(octets).ok()?;
    let round = |body: &mut Body<'_>| {
        body.octets(1).map(|what| {
            body.fields.push(Field { name: "round", len: 1, value: Value::Number(what >> 4) });
        })
    };
    let head = |body: &mut Body<'_>| {
        body.number("number", 1)?;
        body.long("tag", 2)
    };
    round(body)?;
    Some(match message {
        Message::Offer { .. } => {
            body.number("number", 1)?;
            body.long("crc", 4)?;
            for (name, len) in [("size", 4), ("part", 2), ("topic", 2)] {
                body.number(name, len)?;
            }
            "transfer offer"
        }
        Message::Part { asks, .. } => {
            head(body)?;
            body.number("index", 3)?;
            body.rest("content");
            if asks.is_some() { "transfer part that asks" } else { "transfer part" }
        }
        Message::Ask { .. } => {
            head(body)?;
            "transfer ask"
        }
        Message::Map { .. } => {
            head(body)?;
            body.number("base", 3)?;
            body.long("held", 4)?;
            body.number("window", 1)?;
            "transfer map"
        }
        Message::Done(_) => {
            head(body)?;
            "transfer done"
        }
        Message::Stop(..) | Message::Refuse(..) => {
            head(body)?;
            body.words("reason", |code| Reason::from_code(code).reason().to_owned())?;
            if matches!(message, Message::Stop(..)) { "transfer stop" } else { "transfer refuse" }
        }
    })
}

/// A form of section 11.5.
fn air(body: &mut Body<'_>) -> Option<&'static str> {
    let form = body.number("form", 1)?;
    Some(match form {
        1 => {
            body.rest("datagram");
            "air send"
        }
        2 => {
            body.number("time", 4)?;
            body.words("strength", |s| if s == 255 { "not told".to_owned() } else { format!("-{s} dBm") })?;
            body.rest("datagram");
            "air heard"
        }
        3 => {
            body.number("time", 4)?;
            body.long("tail", 2)?;
            "air sent"
        }
        4 => {
            body.words("reason", |code| {
                NotSent::from_octet(code).map_or("not known", NotSent::reason).to_owned()
            })?;
            body.long("tail", 2)?;
            "air not sent"
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(octets: &[u8]) -> Option<String> {
        Beyond::read(octets).map(|beyond| beyond.sentence())
    }

    /// The bodies are laid out by hand from the tables of section 11.
    #[test]
    fn every_extension_is_read_by_its_table() {
        assert_eq!(said(&[0xE0, 0x10, 1, 2, 0, 0]).unwrap(), "time request: sent 513");
        assert_eq!(
            said(&[0xE0, 0x11, 1, 0, 0, 0, 2, 0, 0, 0, 3, 0, 0, 0]).unwrap(),
            "time: sent 1, heard 2, answered 3"
        );
        assert_eq!(
            said(&[0xE0, 0x12, 0x31, 7, 0xEF, 0xBE, 0xAD, 0xDE, 0, 1, 0, 0, 0xF0, 0, 5, 0]).unwrap(),
            "transfer offer: round 3, number 7, crc deadbeef, size 256, part 240, topic 5"
        );
        assert_eq!(
            said(&[0xE0, 0x12, 0x43, 7, 0xEF, 0xBE, 9, 0, 1, 0xAB]).unwrap(),
            "transfer part that asks: round 4, number 7, tag beef, index 65545, content ab"
        );
        assert_eq!(
            said(&[0xE0, 0x12, 0x45, 7, 0xEF, 0xBE, 9, 0, 0, 5, 0, 0, 0, 32]).unwrap(),
            "transfer map: round 4, number 7, tag beef, base 9, held 00000005, window 32"
        );
        assert!(
            said(&[0xE0, 0x12, 8, 7, 0xEF, 0xBE, 1]).unwrap().ends_with("larger than the receiver takes")
        );
        assert_eq!(
            said(&[0xE0, 0x13, 8, 7, 6, 5, 4, 3, 2, 1, 0, 0x2C, 1]).unwrap(),
            "join: identity 0102030405060708, address 0, awake_ms 300"
        );
        assert_eq!(
            said(&[0xE0, 0x14, 8, 7, 6, 5, 4, 3, 2, 1, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0]).unwrap(),
            "welcome: identity 0102030405060708, answer taken, address 4, holder 0000000000000000"
        );
        let turn = Beyond::read(&[0xF0, 4, 0, 0x15]).unwrap();
        assert_eq!((turn.name, turn.addresses), ("turn", Some(Addresses { to: 4, from: 0 })));
        assert_eq!(
            said(&[0xE0, 0x16, 3, 1, 0, 0, 0, 0x34, 0x12]).unwrap(),
            "air sent: time 1 µs, datagram that ends with 1234"
        );
        assert_eq!(
            said(&[0xE0, 0x16, 4, 1, 0x34, 0x12]).unwrap(),
            "air not sent: reason the air was busy, datagram that ends with 1234"
        );
        assert_eq!(
            said(&[0xF0, 4, 0, 0x17, 0x45, 0x23, 1, 0, 0xFF, 0xFF, 3, 0, 200]).unwrap(),
            "to all: session 00012345, broadcast 0003ffff, next 200"
        );
        assert_eq!(said(&[0xF0, 0, 4, 0x17]).unwrap(), "to all request");
        assert_eq!(
            said(&[0xF0, 0, 4, 0x18, 0x45, 0x23, 1, 0, 0x60, 0x11, 0x23, 0x50, 0x53, 7, 42]).unwrap(),
            "arrival: mine 00012345, started woke from sleep, agreement 53502311, payload 072a"
        );
        assert_eq!(
            said(&[0xF0, 4, 0, 0x18, 0x45, 0x23, 1, 0, 0x80]).unwrap(),
            "arrival answer: mine 00012345, answer taken, more waits"
        );
    }

    #[test]
    fn bodies_that_do_not_fit_are_shown_and_others_are_not_ours() {
        assert_eq!(said(&[0xE0, 0x10, 1]).unwrap(), "time request: a body that does not fit it, 01");
        assert_eq!(said(&[0xE0, 0x15, 9]).unwrap(), "turn: a body that does not fit it, 09");
        // A number of more than 18 bits.
        let told = [0xF0, 4, 0, 0x17, 0, 0, 4, 0, 0, 0, 0, 0, 0];
        assert_eq!(said(&told).unwrap(), "to all: a body that does not fit it, 000004000000000000");
        for other in
            [&[0xE0, 0x20, 1][..], &[0xE0, 0x01, 1, 2], &[0x40, 0x10], &[0xE1, 0x15], &[0xF0, 1], &[]]
        {
            assert_eq!(said(other), None, "{other:02x?}");
        }
    }

    /// The fields cover the body, octet for octet, whatever it is.
    #[test]
    fn fields_cover_the_body() {
        for code in 0x10..=Told::CODE {
            for first in 0..=255 {
                for len in 0..24 {
                    let mut frame = vec![0xE0, code];
                    frame.resize(2 + len, first);
                    let beyond = Beyond::read(&frame).unwrap();
                    assert_eq!(beyond.fields.iter().map(|field| field.len).sum::<usize>(), len);
                }
            }
        }
    }
}
