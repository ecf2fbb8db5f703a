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
mod tests;
