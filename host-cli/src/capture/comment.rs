//! What we say in comments of a capture, so that today's reader loses nothing and any other reader shows plain text.

use crate::endpoint::{FcsName, FramingName, LineFormat, Wiring};

/// All our comments begin so.
const MARK: &str = "bellwire ";

/// The comment of a port: `bellwire framing=cobs fcs=16 map=0x00000000 format=8N1`, each word only where known.
#[must_use]
pub fn of_port(wiring: Option<Wiring>, format: Option<LineFormat>) -> Option<String> {
    let mut words = Vec::new();
    if let Some(wiring) = wiring {
        words.push(format!("framing={} fcs={}", wiring.framing, wiring.fcs));
        if wiring.map != 0 {
            words.push(format!("map=0x{:08x}", wiring.map));
        }
    }
    words.extend(format.map(|format| format!("format={format}")));
    (!words.is_empty()).then(|| format!("{MARK}{}", words.join(" ")))
}

/// Reads the comment of a port. Unknown words are passed over, so that later versions may say more.
#[must_use]
pub fn read_port(comment: &str) -> (Option<Wiring>, Option<LineFormat>) {
    let (mut framing, mut fcs, mut map, mut format) = (None, None, 0, None);
    for word in comment.strip_prefix(MARK).unwrap_or_default().split(' ') {
        match word.split_once('=') {
            Some(("framing", value)) => framing = value.parse::<FramingName>().ok(),
            Some(("fcs", value)) => fcs = value.parse::<FcsName>().ok(),
            Some(("map", value)) => {
                map = value.strip_prefix("0x").and_then(|hex| u32::from_str_radix(hex, 16).ok()).unwrap_or(0);
            }
            Some(("format", value)) => format = value.parse::<LineFormat>().ok(),
            _ => {}
        }
    }
    (framing.zip(fcs).map(|(framing, fcs)| Wiring { framing, fcs, map }), format)
}

/// What the comment of a packet says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remark {
    /// A gap begins at the time of the packet.
    GapBegins {
        /// What happened.
        why: String,
    },
    /// A gap ends at the time of the packet.
    GapEnds {
        /// When it began, nanoseconds since the Unix epoch.
        from: u64,
        /// What had happened.
        why: String,
    },
    /// Any other remark; a comment that is not ours becomes one as it is.
    Note(String),
}

impl Remark {
    /// The comment that says it.
    #[must_use]
    pub fn to_comment(&self) -> String {
        match self {
            Remark::GapBegins { why } => format!("{MARK}gap begins: {why}"),
            Remark::GapEnds { from, why } => format!("{MARK}gap ends from={from}: {why}"),
            Remark::Note(text) => format!("{MARK}note: {text}"),
        }
    }

    /// Reads a comment.
    #[must_use]
    pub fn read(comment: &str) -> Self {
        Self::ours(comment).unwrap_or_else(|| Remark::Note(comment.to_string()))
    }

    fn ours(comment: &str) -> Option<Self> {
        let (head, text) = comment.strip_prefix(MARK)?.split_once(": ")?;
        let text = text.to_string();
        match head {
            "gap begins" => Some(Remark::GapBegins { why: text }),
            "note" => Some(Remark::Note(text)),
            _ => {
                let from = head.strip_prefix("gap ends from=")?.parse().ok()?;
                Some(Remark::GapEnds { from, why: text })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn remarks_read_back() {
        let why = || "unplugged: /dev/ttyUSB0".to_string();
        for remark in [
            Remark::GapBegins { why: why() },
            Remark::GapEnds { from: u64::MAX, why: why() },
            Remark::Note("any: text".into()),
            Remark::Note(String::new()),
        ] {
            assert_eq!(Remark::read(&remark.to_comment()), remark);
        }
        assert_eq!(Remark::read("the rain began"), Remark::Note("the rain began".into()));
        assert_eq!(
            Remark::read("bellwire gap ends from=x: y"),
            Remark::Note("bellwire gap ends from=x: y".into())
        );
    }

    #[test]
    fn port_comments_read_back() {
        let wirings = FramingName::ALL.into_iter().flat_map(|framing| {
            FcsName::ALL
                .into_iter()
                .flat_map(move |fcs| [0, 0x000A_0008].map(|map| Wiring { framing, fcs, map }))
        });
        for wiring in wirings {
            for format in [None, Some("7E2".parse().unwrap())] {
                let comment = of_port(Some(wiring), format).unwrap();
                assert_eq!(read_port(&comment), (Some(wiring), format), "{comment}");
            }
        }
        assert_eq!(of_port(None, None), None);
        assert_eq!(read_port("bellwire fcs=16 colour=red"), (None, None));
        assert_eq!(read_port("framing=cobs fcs=16"), (None, None));
    }
}
