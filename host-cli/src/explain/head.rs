//! The head of a frame: control octet and fields (section 3 of the wire text).

use bellwire::frame::{Kind, Reject, View};

use super::{Explained, body, crcs::values};
use crate::{beyond::Beyond, messages::Table};

/// Octets still to be told, with their places.
pub(super) struct Rest<'a> {
    octets: &'a [(usize, u8)],
    /// Where the last octet taken stood.
    last: usize,
}

impl<'a> Rest<'a> {
    /// All of these octets are to be told.
    pub(super) fn new(octets: &'a [(usize, u8)]) -> Self {
        Self { octets, last: octets.first().map_or(0, |(at, _)| *at) }
    }

    /// The next octets, fewer at the end.
    pub(super) fn take(&mut self, count: usize) -> (usize, Vec<u8>) {
        let (taken, rest) = self.octets.split_at(count.min(self.octets.len()));
        let at = taken.first().map_or(self.last + 1, |(at, _)| *at);
        self.last = taken.last().map_or(self.last, |(at, _)| *at);
        self.octets = rest;
        (at, values(taken))
    }

    /// Where the next octet stands.
    pub(super) fn place(&self) -> usize {
        self.octets.first().map_or(self.last + 1, |(at, _)| *at)
    }

    /// All that is left, without places.
    pub(super) fn values(&self) -> Vec<u8> {
        values(self.octets)
    }

    /// How many octets are left.
    pub(super) const fn len(&self) -> usize {
        self.octets.len()
    }
}

/// Tells the head and the body of a frame without its FCS.
pub(super) fn explain(frame: &[(usize, u8)], tagged: bool, table: &Table, told: &mut Explained) {
    let all = values(frame);
    let beyond = Beyond::read(&all);
    // A link skips these (W-19), which is not wrong.
    let refused = View::parse(&all, tagged).err().filter(|_| beyond.is_none());
    let mut rest = Rest::new(frame);
    let (control_at, control) = rest.take(1);
    let Some(&control) = control.first() else { return };
    let kind = Kind::from_control(control);
    told.part(control_at, &[control], control_text(control, kind));
    let Some(kind) = kind else {
        told.wrong(
            control_at,
            "W-12",
            "kind 0 is reserved for ever: bits 5 to 7 of the control octet name the kind",
        );
        return;
    };
    let mut field = |count: usize, what: &dyn Fn(&[u8]) -> String| {
        let (at, octets) = rest.take(count);
        if !octets.is_empty() {
            told.part(at, &octets, what(&octets));
        }
        at
    };
    if tagged && kind.in_session() {
        field(2, &|tag| format!("tag: bits 2 to 17 of the session number, {}", number(tag)));
    }
    let mut address_at = control_at;
    if control & 0x10 != 0 {
        address_at = field(1, &|to| format!("to {}", number(to)));
        field(1, &|from| format!("from {}", number(from)));
    }
    let form = control >> 2 & 3;
    if kind.in_session() && (form == 1 || form == 2) {
        field(1, &|next| format!("acknowledges: waits for number {}", number(next)));
    }
    if kind.in_session() && form == 2 {
        field(1, &|held| format!("holds already: bits {:08b}", number(held)));
    }
    if kind == Kind::Extended {
        field(1, &|extension| match &beyond {
            Some(beyond) => format!("extension 0x{:02X}: {}", number(extension), beyond.name),
            None => format!("extension 0x{:02X}", number(extension)),
        });
    }
    if kind.is_numbered() {
        field(1, &|sequence| format!("sequence number {}", number(sequence)));
    }
    let payload_at = rest.place();
    if let Some(reject) = refused {
        let at = match reject {
            Reject::ReservedKind | Reject::SessionBits | Reject::BadAckForm => control_at,
            Reject::BadAddress | Reject::NotForUs => address_at,
            _ => payload_at,
        };
        told.wrong(at, reject.rule(), format!("{}: {}", reject.name(), reject.reason()));
    }
    body::explain(kind, refused, beyond.as_ref(), &mut rest, table, told);
}

fn control_text(control: u8, kind: Option<Kind>) -> String {
    let name = kind.map_or("kind 0", Kind::name);
    let form = match control >> 2 & 3 {
        0 => "no acknowledgement",
        1 => "acknowledgement of one octet",
        2 => "acknowledgement of two octets",
        _ => "acknowledgement form 3",
    };
    let addressed = if control & 0x10 != 0 { ", addressed" } else { "" };
    format!("control: {name}, session bits {:02b}, {form}{addressed}", control & 3)
}

/// Octets as a number, least significant first.
pub(super) fn number(octets: &[u8]) -> u64 {
    octets.iter().rev().fold(0, |all, &octet| all << 8 | u64::from(octet))
}
