//! Lines put together from parts of known size.
#![allow(clippy::cast_possible_truncation)] // digits and small lengths

use super::put::{PAIRS, civil};
use bellwire::frame::Kind;

/// Writes parts of known size into room made beforehand: much faster than appending many small parts.
pub(super) struct Slab<'a> {
    room: &'a mut [u8],
    at: usize,
}

impl Slab<'_> {
    /// Appends to `out` what is written, for which there is room for so many octets. What does not fit is left out.
    #[inline(always)]
    pub(super) fn append(out: &mut Vec<u8>, room: usize, write: impl FnOnce(&mut Slab<'_>)) {
        let from = out.len();
        out.resize(from + room, 0);
        let mut slab = Slab { room: out.get_mut(from..).unwrap_or(&mut []), at: 0 };
        write(&mut slab);
        let len = slab.at;
        out.truncate(from + len);
    }

    /// A part of known size.
    #[inline(always)]
    pub(super) fn put<const N: usize>(&mut self, part: &[u8; N]) {
        if let Some(room) = self.room.get_mut(self.at..).and_then(|room| room.first_chunk_mut::<N>()) {
            *room = *part;
            self.at += N;
        }
    }

    /// Of a part of known size the first `len` octets.
    #[inline(always)]
    fn put_some<const N: usize>(&mut self, part: &[u8; N], len: usize) {
        if let Some(room) = self.room.get_mut(self.at..).and_then(|room| room.first_chunk_mut::<N>()) {
            *room = *part;
            self.at += len;
        }
    }

    /// A phrase, with what its room holds after it.
    #[inline(always)]
    pub(super) fn phrase<const N: usize>(&mut self, phrase: &Phrase<N>) {
        self.put_some(&phrase.text, usize::from(phrase.len));
    }

    /// A whole number in decimal, most often a small one.
    #[inline(always)]
    pub(super) fn small(&mut self, number: u64) {
        match usize::try_from(number).ok().and_then(|number| SMALL.get(number)) {
            Some((digits, len)) => self.put_some(digits, usize::from(*len)),
            None => self.decimal(number),
        }
    }

    /// A whole number in decimal.
    #[inline]
    pub(super) fn decimal(&mut self, number: u64) {
        if number == 0 {
            self.put(b"0");
        } else if number < 100_000_000 {
            let digits = u64::from_le_bytes(eight_digits(number));
            let zeros = (digits ^ u64::from_le_bytes([b'0'; 8])).trailing_zeros() / 8;
            self.put_some(&(digits >> (8 * zeros)).to_le_bytes(), 8 - zeros as usize);
        } else {
            self.small(number / 100_000_000);
            self.put(&eight_digits(number % 100_000_000));
        }
    }

    /// Octets in hex, without spaces.
    #[inline(always)]
    pub(super) fn hex(&mut self, octets: &[u8]) {
        // Eight at a time; the last eight may overlap those that are done.
        if let Some(last) = octets.last_chunk::<8>() {
            let end = self.at + 2 * octets.len();
            for eight in octets.as_chunks::<8>().0 {
                self.put(&hex_of_eight(*eight));
            }
            self.at = end - 16;
            self.put(&hex_of_eight(*last));
        } else {
            octets.iter().for_each(|octet| self.put(&PAIRS[usize::from(*octet)]));
        }
    }

    /// Nanoseconds as seconds with nine decimal places.
    pub(super) fn seconds(&mut self, ns: u64) {
        self.decimal(ns / 1_000_000_000);
        self.put(b".");
        let part = ns % 1_000_000_000;
        self.put(&[b'0' + (part / 100_000_000) as u8]);
        for scale in [1_000_000, 10_000, 100, 1] {
            self.pair(part / scale % 100);
        }
    }

    fn pair(&mut self, number: u64) {
        self.put(&DECIMAL_PAIRS[(number % 100) as usize]);
    }

    /// A moment as RFC 3339 with nanoseconds, in UTC.
    pub(super) fn moment(&mut self, ns: u64) {
        let whole = ns / 1_000_000_000;
        let (days, in_day) = (whole / 86_400, whole % 86_400);
        let (year, month, day) = civil(days);
        self.pair(year / 100);
        self.pair(year);
        self.put(b"-");
        self.pair(month);
        self.put(b"-");
        self.pair(day);
        self.put(b"T");
        self.pair(in_day / 3600);
        self.put(b":");
        self.pair(in_day / 60 % 60);
        self.put(b":");
        let second = in_day % 60;
        if second < 10 {
            self.put(b"0");
        }
        self.seconds(second * 1_000_000_000 + ns % 1_000_000_000);
        self.put(b"Z");
    }
}

/// A phrase of up to `N` octets, written in one go.
#[derive(Clone, Copy)]
pub(super) struct Phrase<const N: usize> {
    text: [u8; N],
    len: u8,
}

impl<const N: usize> Phrase<N> {
    /// A phrase made of parts, cut off after `N` octets.
    pub(super) const fn new(parts: &[&str]) -> Self {
        let (mut text, mut len, mut part) = ([0; N], 0, 0);
        while part < parts.len() {
            let octets = parts[part].as_bytes();
            let mut at = 0;
            while at < octets.len() && len < text.len() {
                text[len] = octets[at];
                at += 1;
                len += 1;
            }
            part += 1;
        }
        Self { text, len: len as u8 }
    }

    /// For each kind of frame the phrase `before`, its name, `after`.
    pub(super) const fn of_kinds(before: &str, after: &str) -> [Self; Kind::ALL.len()] {
        let mut phrases = [Self::new(&[]); Kind::ALL.len()];
        let mut at = 0;
        while at < phrases.len() {
            phrases[at] = Self::new(&[before, Kind::ALL[at].name(), after]);
            at += 1;
        }
        phrases
    }
}

/// Hex digits of eight octets.
#[inline(always)]
fn hex_of_eight(octets: [u8; 8]) -> [u8; 16] {
    let [a, b, c, d, e, f, g, h] = octets.map(|octet| u16::from_le_bytes(PAIRS[usize::from(octet)]));
    let four = |a, b, c, d| u64::from(a) | u64::from(b) << 16 | u64::from(c) << 32 | u64::from(d) << 48;
    (u128::from(four(a, b, c, d)) | u128::from(four(e, f, g, h)) << 64).to_le_bytes()
}

/// A number below 10^8 with leading zeros.
#[inline(always)]
fn eight_digits(number: u64) -> [u8; 8] {
    let (high, low) = (number / 10_000, number % 10_000);
    let pair = |number: u64| DECIMAL_PAIRS[(number % 100) as usize];
    let ([a, b], [c, d], [e, f], [g, h]) = (pair(high / 100), pair(high), pair(low / 100), pair(low));
    [a, b, c, d, e, f, g, h]
}

const DECIMAL_PAIRS: [[u8; 2]; 100] = {
    let mut pairs = [[b'0'; 2]; 100];
    let mut number = 0;
    while number < 100 {
        pairs[number] = [b'0' + (number / 10) as u8, b'0' + (number % 10) as u8];
        number += 1;
    }
    pairs
};

/// Numbers up to 255 with their length.
const SMALL: [([u8; 4], u8); 256] = {
    let mut small = [([b'0'; 4], 1); 256];
    let mut number = 0;
    while number < 256 {
        let [a, b, c] =
            [b'0' + (number / 100) as u8, b'0' + (number / 10 % 10) as u8, b'0' + (number % 10) as u8];
        small[number] = if number > 99 {
            ([a, b, c, 0], 3)
        } else if number > 9 {
            ([b, c, 0, 0], 2)
        } else {
            ([c, 0, 0, 0], 1)
        };
        number += 1;
    }
    small
};

#[cfg(test)]
mod tests {
    use super::*;

    fn with(room: usize, write: impl FnOnce(&mut Slab<'_>)) -> String {
        let mut out = b">".to_vec();
        Slab::append(&mut out, room, write);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn digits_are_those_of_the_standard_library() {
        let powers = (0..20).flat_map(|n| [10_u64.pow(n) - 1, 10_u64.pow(n), 10_u64.pow(n) + 7]);
        for number in (0..70_000).chain(powers).chain([u64::MAX, u64::MAX - 1, 99_999_999, 100_000_000]) {
            assert_eq!(with(32, |slab| slab.decimal(number)), format!(">{number}"));
            assert_eq!(with(32, |slab| slab.small(number)), format!(">{number}"));
        }
        let octets: Vec<u8> = (0..=255).rev().collect();
        for len in 0..100 {
            let wanted: String = octets[..len].iter().map(|octet| format!("{octet:02x}")).collect();
            assert_eq!(with(2 * len, |slab| slab.hex(&octets[..len])), format!(">{wanted}"));
            let octets = &octets[100..100 + len];
            let wanted: String = octets.iter().map(|octet| format!("{octet:02x}")).collect();
            assert_eq!(with(2 * len, |slab| slab.hex(octets)), format!(">{wanted}"));
        }
    }
}
