//! Frames of the extensions beyond two boards, as lines.

use super::{Lines, Tint};
use crate::{beyond::Beyond, report::Refusal};
use bellwire::frame::{Extension, Kind};

impl Lines {
    /// A frame of an extension beyond two boards.
    pub(super) fn beyond(&self, refusal: &Refusal<'_>, beyond: &Beyond<'_>, out: &mut Vec<u8>) {
        let mut sentence = beyond.sentence();
        if let Some(addresses) = beyond.addresses {
            self.between(addresses, &mut sentence);
        }
        super::append_aired(&mut sentence, refusal.aired);
        let left = self.left(refusal.stamp.at, Some(refusal.stamp.place));
        let side = self.side(refusal.stamp.port, Some(refusal.stamp.direction));
        self.line(&left, &side, Kind::Extended.name(), Tint::Plain, &sentence, out);
        self.hex_lines(beyond.body, out);
    }
}

pub(in crate::report) fn describe_extended(extension: Option<Extension>, body: &[u8]) -> String {
    let name = extension.map_or("extension", Extension::name);
    match (extension, body.first_chunk::<2>()) {
        (Some(Extension::Probe | Extension::ProbeAnswer), Some(id)) => {
            format!("{name} {}, {} octets of filling", u16::from_le_bytes(*id), body.len().saturating_sub(2))
        }
        _ => name.to_owned(),
    }
}
