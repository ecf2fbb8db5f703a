//! The head of a frame, and the borrowed view of a whole one.

use super::{Extension, Kind, MessageNumber, Open, Reject};
use crate::rules::holds;

/// The most octets before the payload: control 1, tag 2, addresses 2, acknowledgement 2, extension or number 1.
pub const MAX_HEADER: usize = 8;

/// The octets of a header as written by [`Header::write`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Head<'a> {
    /// The octets, and some that are not used.
    pub octets: &'a [u8; MAX_HEADER],
    /// How many are used.
    pub len: usize,
}

impl<'a> Head<'a> {
    /// The octets that are used.
    #[must_use]
    pub fn as_slice(self) -> &'a [u8] {
        self.octets.get(..self.len).unwrap_or(self.octets)
    }
}

/// Addresses follow the control octet (W-15).
const ADDRESSED: u8 = 0x10;

/// Who a frame is for and from, on a shared link (W-15).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Addresses {
    /// 0 the hub, 1..=250 a leaf, 255 all.
    pub to: u8,
    /// 0 the hub, 1..=250 a leaf.
    pub from: u8,
}

/// An acknowledgement that rides along or stands alone (W-16).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ack {
    /// The next sequence number waited for.
    pub next: u8,
    /// Bit i (0..=6): number next+1+i is held; bit 7: more waits for you. `None` in the short form.
    pub held: Option<u8>,
}

/// The head of a frame. Fields that the kind or the line does not have are left out when written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Header {
    /// Kind of frame.
    pub kind: Kind,
    /// Low two bits of the session number; 0 in OPEN and EXTENDED.
    pub session: u8,
    /// Bits 2..=17 of the session number, on unordered links.
    pub tag: Option<u16>,
    /// Addresses, on shared links.
    pub addresses: Option<Addresses>,
    /// Acknowledgement.
    pub ack: Option<Ack>,
    /// Which extension, in EXTENDED frames.
    pub extension: Option<Extension>,
    /// Sequence number, in kinds that have one.
    pub number: u8,
}

/// Octets taken one after the other, `None` at the end.
struct Octets<'a>(&'a [u8]);

impl Octets<'_> {
    fn take(&mut self) -> Result<u8, Reject> {
        let (&first, rest) = self.0.split_first().ok_or(Reject::BadLength)?;
        self.0 = rest;
        Ok(first)
    }
}

impl Header {
    /// A header of this kind with nothing else set.
    #[must_use]
    pub const fn new(kind: Kind) -> Self {
        Self { kind, session: 0, tag: None, addresses: None, ack: None, extension: None, number: 0 }
    }

    /// Writes the header; gives the octets written.
    #[must_use]
    #[inline]
    pub fn write(&self, out: &mut [u8; MAX_HEADER]) -> usize {
        let form = match self.ack {
            None => 0,
            Some(Ack { held: None, .. }) => 1,
            Some(Ack { held: Some(_), .. }) => 2,
        };
        let addressed = if self.addresses.is_some() { ADDRESSED } else { 0 };
        let control = (self.kind as u8) << 5 | addressed | form << 2 | (self.session & 3);
        let mut cells = out.iter_mut();
        let mut len = 0_usize;
        let mut put = |octet: u8| {
            if let Some(cell) = cells.next() {
                *cell = octet;
                len = len.wrapping_add(1);
            }
        };
        put(control);
        if let Some(tag) = self.tag.filter(|_| self.kind.in_session()) {
            tag.to_le_bytes().into_iter().for_each(&mut put);
        }
        if let Some(Addresses { to, from }) = self.addresses {
            put(to);
            put(from);
        }
        if let Some(Ack { next, held }) = self.ack {
            put(next);
            held.into_iter().for_each(&mut put);
        }
        if let Some(extension) = self.extension.filter(|_| self.kind == Kind::Extended) {
            put(extension as u8);
        }
        if self.kind.is_numbered() {
            put(self.number);
        }
        len
    }

    /// Reads the header of a frame without its FCS and checks what follows it; gives the header and how many octets it takes.
    ///
    /// Apart from [`View::parse`], because a view borrows the frame and is not small for a board.
    pub(crate) fn read(frame: &[u8], tagged: bool) -> Result<(Self, usize), Reject> {
        let (header, payload) = Self::split(frame, tagged)?;
        Ok((header, frame.len().wrapping_sub(payload.len())))
    }

    #[inline]
    fn split(frame: &[u8], tagged: bool) -> Result<(Self, &[u8]), Reject> {
        let mut octets = Octets(frame);
        let control = octets.take()?;
        let kind = Kind::from_control(control).ok_or(Reject::ReservedKind)?;
        let mut header = Header::new(kind);
        let form = control >> 2 & 3;
        if kind.in_session() {
            header.session = control & 3;
        } else if control & 3 != 0 && holds(13) {
            return Err(Reject::SessionBits);
        }
        let form_is_allowed = match kind {
            Kind::Open | Kind::Extended => form == 0,
            Kind::Ack => form == 1 || form == 2,
            _ => form != 3,
        };
        if !form_is_allowed && holds(16) {
            return Err(Reject::BadAckForm);
        }
        if tagged && kind.in_session() && holds(14) {
            header.tag = Some(u16::from_le_bytes([octets.take()?, octets.take()?]));
        }
        if control & ADDRESSED != 0 {
            let (to, from) = (octets.take()?, octets.take()?);
            if ((251..=254).contains(&to) || from > 250) && holds(15) {
                return Err(Reject::BadAddress);
            }
            header.addresses = Some(Addresses { to, from });
        }
        if form != 0 {
            let next = octets.take()?;
            let held = if form == 2 { Some(octets.take()?) } else { None };
            header.ack = Some(Ack { next, held });
        }
        if kind == Kind::Extended {
            header.extension = Some(read_extension(octets.take()?)?);
        }
        if kind.is_numbered() {
            header.number = octets.take()?;
        }
        header.check_payload(octets.0)?;
        Ok((header, octets.0))
    }

    #[inline]
    fn check_payload(&self, payload: &[u8]) -> Result<(), Reject> {
        let len = payload.len();
        let has_its_length = match (self.kind, self.extension) {
            (Kind::Open, _) => return Open::check(payload),
            (Kind::Errand | Kind::Report, _) if len == 0 => return Ok(()),
            (Kind::Errand | Kind::Report | Kind::SetPoint | Kind::Notice, _) => {
                return if holds(18) { MessageNumber::split(payload).map(|_| ()) } else { Ok(()) };
            }
            (Kind::Ack, _) | (Kind::Extended, Some(Extension::StatisticsRequest)) => len == 0,
            (Kind::Extended, Some(Extension::Probe | Extension::ProbeAnswer)) => (2..=66).contains(&len),
            (Kind::Extended, _) => len % 4 == 1,
        };
        if has_its_length || !holds(17) { Ok(()) } else { Err(Reject::BadLength) }
    }
}

/// A checked frame: its header, and its payload or body borrowed from the caller's buffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct View<'a> {
    /// The head.
    pub header: Header,
    /// The payload of a message (message number first), or the body of an OPEN or EXTENDED frame.
    pub payload: &'a [u8],
}

impl<'a> View<'a> {
    /// Reads a frame without its FCS; `tagged` says whether the link is unordered (W-14).
    ///
    /// # Errors
    /// The rule that the frame breaks, W-12 to W-21.
    ///
    /// # Panics
    /// Never.
    #[inline]
    pub fn parse(frame: &'a [u8], tagged: bool) -> Result<Self, Reject> {
        let (header, payload) = Header::split(frame, tagged)?;
        Ok(Self { header, payload })
    }

    /// The message number, if the frame carries a message that is not a void.
    #[must_use]
    pub fn message(&self) -> Option<MessageNumber> {
        self.header.kind.class()?;
        MessageNumber::split(self.payload).ok().map(|(number, _)| number)
    }

    /// Whether the frame is a void: an errand or report given up by its sender (W-37).
    #[must_use]
    pub fn is_void(&self) -> bool {
        matches!(self.header.kind, Kind::Errand | Kind::Report) && self.payload.is_empty()
    }

    /// The body of an OPEN frame.
    #[must_use]
    pub fn open(&self) -> Option<Open> {
        if self.header.kind == Kind::Open { Open::parse(self.payload).ok() } else { None }
    }
}

fn read_extension(code: u8) -> Result<Extension, Reject> {
    if code == 0xFF && holds(12) {
        return Err(Reject::ReservedKind);
    }
    Extension::from_code(code).ok_or(if holds(19) { Reject::UnknownExtension } else { Reject::ReservedKind })
}
