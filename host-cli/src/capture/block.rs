//! Blocks and options of pcapng: numbers, padding, byte order.

/// The link type of our ports: "raw octets of a line, as read or written in one piece". From the range 65001 to 65535 that
/// draft-ietf-opsawg-pcaplinktype leaves to private use.
pub const LINK_TYPE: u16 = 65_219;

pub(super) const SECTION: u32 = 0x0A0D_0D0A;
pub(super) const INTERFACE: u32 = 1;
pub(super) const SIMPLE_PACKET: u32 = 3;
pub(super) const PACKET: u32 = 6;
pub(super) const MAGIC: u32 = 0x1A2B_3C4D;

pub(super) const OPTION_COMMENT: u16 = 1;
pub(super) const OPTION_NAME: u16 = 2;
pub(super) const OPTION_PACKET_FLAGS: u16 = 2;
pub(super) const OPTION_APPLICATION: u16 = 4;
pub(super) const OPTION_SPEED: u16 = 8;
pub(super) const OPTION_UNIT: u16 = 9;
pub(super) const OPTION_OFFSET: u16 = 14;
pub(super) const OPTION_HARDWARE: u16 = 15;

/// The longest block that is read, in octets; a longer one is taken for damage.
pub const LONGEST_BLOCK: usize = 1 << 24;

/// Whether a file that begins so is a pcapng capture: four octets decide, and they read alike in both byte orders.
#[must_use]
pub fn is_capture(begin: &[u8]) -> bool {
    begin.starts_with(&SECTION.to_be_bytes())
}

/// Whether a file that begins so is a capture in the older format pcap (IETF, draft-ietf-opsawg-pcap): a magic number, times in µs or ns, in either
/// byte order.
#[must_use]
pub fn is_older_capture(begin: &[u8]) -> bool {
    const MAGIC: [u32; 2] = [0xA1B2_C3D4, 0xA1B2_3C4D];
    let number = begin.first_chunk::<4>();
    number.is_some_and(|number| {
        [u32::from_be_bytes(*number), u32::from_le_bytes(*number)].iter().any(|it| MAGIC.contains(it))
    })
}

/// Octets that pad `len` to a multiple of four.
pub(super) const fn padding(len: usize) -> usize {
    len.wrapping_neg() & 3
}

/// Order of octets in a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    Little,
    Big,
}

impl Order {
    pub(super) fn u16(self, at: usize, octets: &[u8]) -> Option<u16> {
        let field = octets.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(match self {
            Order::Little => u16::from_le_bytes(field),
            Order::Big => u16::from_be_bytes(field),
        })
    }

    pub(super) fn u32(self, at: usize, octets: &[u8]) -> Option<u32> {
        let field = octets.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(match self {
            Order::Little => u32::from_le_bytes(field),
            Order::Big => u32::from_be_bytes(field),
        })
    }

    pub(super) fn u64(self, at: usize, octets: &[u8]) -> Option<u64> {
        let field = octets.get(at..at.checked_add(8)?)?.try_into().ok()?;
        Some(match self {
            Order::Little => u64::from_le_bytes(field),
            Order::Big => u64::from_be_bytes(field),
        })
    }
}

/// Walks the options of a block: code and value, until the closing one or the end.
pub(super) struct Options<'a> {
    pub(super) order: Order,
    pub(super) rest: &'a [u8],
}

impl<'a> Iterator for Options<'a> {
    type Item = (u16, &'a [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let code = self.order.u16(0, self.rest)?;
        let len = usize::from(self.order.u16(2, self.rest)?);
        if code == 0 {
            return None;
        }
        let value = self.rest.get(4..4 + len)?;
        self.rest = self.rest.get(4 + len + padding(len)..).unwrap_or_default();
        Some((code, value))
    }
}

/// Builds one little-endian block at the end of a buffer.
pub(super) struct BlockBuilder<'a> {
    out: &'a mut Vec<u8>,
    start: usize,
    options: bool,
}

impl<'a> BlockBuilder<'a> {
    pub(super) fn new(out: &'a mut Vec<u8>, kind: u32) -> Self {
        let start = out.len();
        out.extend_from_slice(&kind.to_le_bytes());
        out.extend_from_slice(&[0; 4]);
        BlockBuilder { out, start, options: false }
    }

    pub(super) fn octets(&mut self, octets: &[u8]) -> &mut Self {
        self.out.extend_from_slice(octets);
        self
    }

    pub(super) fn padded(&mut self, octets: &[u8]) -> &mut Self {
        self.out.extend_from_slice(octets);
        self.out.resize(self.out.len() + padding(octets.len()), 0);
        self
    }

    /// Adds an option; a value longer than 65535 octets is cut there.
    pub(super) fn option(&mut self, code: u16, value: &[u8]) -> &mut Self {
        let len = u16::try_from(value.len()).unwrap_or(u16::MAX);
        self.options = true;
        self.out.extend_from_slice(&code.to_le_bytes());
        self.out.extend_from_slice(&len.to_le_bytes());
        self.padded(&value[..usize::from(len)])
    }

    pub(super) fn close(&mut self) {
        if self.options {
            self.out.extend_from_slice(&[0; 4]);
        }
        let total = self.out.len() - self.start + 4;
        let total = u32::try_from(total).unwrap_or(u32::MAX).to_le_bytes();
        self.out.extend_from_slice(&total);
        self.out[self.start + 4..self.start + 8].copy_from_slice(&total);
    }
}
