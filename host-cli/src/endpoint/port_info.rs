//! What is known of a port.

use super::{LineSettings, Wiring};

/// What is known of a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortInfo {
    /// The endpoint as it was asked for, for example `/dev/ttyUSB0` or `tcp:desk:7000`.
    pub name: String,
    /// Rate and format of a serial line.
    pub line: Option<LineSettings>,
    /// Framing and FCS, where known: from options, or from what a capture says.
    pub wiring: Option<Wiring>,
    /// What tells this device from another of its kind, for example its by-id name.
    pub identity: Option<String>,
    /// What those are called whose frames come in here, and whose go out, where that is known; at most five columns each.
    pub sides: Option<[String; 2]>,
}

impl PortInfo {
    /// A port of which only the name is known.
    #[must_use]
    pub fn named(name: impl Into<String>) -> Self {
        PortInfo { name: name.into(), line: None, wiring: None, identity: None, sides: None }
    }
}
