//! Golden vectors of `tests/vectors`, as data (its README.md tells the fields).

use crate::tool::root;
use serde::{Deserialize, de::DeserializeOwned};

/// A line that a vector is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub struct Line {
    /// How frames are told apart.
    pub framing: FramingName,
    /// Width of the FCS, bits.
    pub fcs: u8,
    /// Control-character map of octet stuffing.
    #[serde(default)]
    pub map: u32,
    /// The receiver's buffer, octets; 0: any that is large enough.
    #[serde(default)]
    pub buffer: usize,
}

/// Name of a framing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum FramingName {
    Cobs,
    OctetStuffing,
    Slip,
    Datagram,
}

/// A good frame.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Frame {
    pub name: String,
    #[serde(flatten)]
    pub line: Line,
    pub wire: Octets,
    pub frame: Octets,
    pub fields: Fields,
}

/// Fields of a frame.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Fields {
    pub kind: String,
    pub session: Option<u8>,
    pub tag: Option<u16>,
    pub to: Option<u8>,
    pub from: Option<u8>,
    pub next: Option<u8>,
    pub held: Option<u8>,
    pub extension: Option<String>,
    pub number: Option<u8>,
    pub message: Option<u16>,
    pub payload: Octets,
    pub open: Option<OpenFields>,
}

/// Fields of an OPEN body.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct OpenFields {
    pub version: u8,
    pub ask: bool,
    pub numberless: bool,
    pub cause: u8,
    pub mine: u32,
    pub echo: Option<u32>,
    pub window: Option<u8>,
    pub max_payload: Option<u16>,
    pub fingerprint: Option<u32>,
    pub silence: Option<u8>,
    pub identity: Option<u64>,
}

/// A candidate that must be refused.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Rejected {
    pub name: String,
    #[serde(flatten)]
    pub line: Line,
    pub wire: Octets,
    pub reject: String,
    pub code: u8,
    pub rule: String,
}

/// Octets in a row and all that is found in them.
#[derive(Debug, Clone, Deserialize)]
#[allow(missing_docs)]
pub struct Stream {
    pub name: String,
    #[serde(flatten)]
    pub line: Line,
    pub rules: Vec<String>,
    pub wire: Octets,
    pub finds: Vec<Find>,
}

/// One thing found.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Find {
    /// A good frame, without its FCS.
    Frame(Octets),
    /// A candidate refused, by the name of the reject.
    Reject(String),
    /// Foreign text.
    Text(Octets),
}

/// Octets written as hex.
#[derive(Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Octets(pub Vec<u8>);

impl std::fmt::Debug for Octets {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&hex(&self.0))
    }
}

impl TryFrom<String> for Octets {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        unhex(&text).map(Self).ok_or_else(|| format!("not hex: {text}"))
    }
}

/// Octets as lower-case hex.
#[must_use]
pub fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}

/// Octets from hex, blanks allowed.
#[must_use]
pub fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits: Option<Vec<u8>> = text
        .chars()
        .filter(|c| !c.is_whitespace())
        .map(|c| c.to_digit(16).and_then(|digit| u8::try_from(digit).ok()))
        .collect();
    digits?.chunks(2).map(|pair| if let [high, low] = pair { Some(high << 4 | low) } else { None }).collect()
}

/// Reads `tests/vectors/NAME.json`.
///
/// # Panics
/// If it is missing or does not fit the type.
#[must_use]
pub fn read<T: DeserializeOwned>(name: &str) -> Vec<T> {
    let path = root().join("tests/vectors").join(name).with_extension("json");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
}
