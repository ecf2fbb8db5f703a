//! Small writers that append to a buffer.

use super::slab::Slab;

/// Appends octets.
pub(super) fn put(out: &mut Vec<u8>, text: &str) {
    out.extend_from_slice(text.as_bytes());
}

/// Appends a whole number in decimal.
pub(super) fn decimal(out: &mut Vec<u8>, number: impl itoa::Integer) {
    out.extend_from_slice(itoa::Buffer::new().format(number).as_bytes());
}

/// Appends nanoseconds as seconds with so many decimal places (at most 9), cut off, not rounded.
pub(super) fn seconds(out: &mut Vec<u8>, ns: u64, places: usize) {
    decimal(out, ns / 1_000_000_000);
    out.push(b'.');
    let mut part = ns % 1_000_000_000;
    let mut digits = [b'0'; 9];
    for digit in digits.iter_mut().rev() {
        *digit = b'0' + (part % 10) as u8;
        part /= 10;
    }
    out.extend_from_slice(&digits[..places.min(9)]);
}

const HEX: &[u8; 16] = b"0123456789abcdef";

/// Two hex digits for every octet.
pub(super) const PAIRS: [[u8; 2]; 256] = {
    let mut pairs = [[0; 2]; 256];
    let mut octet = 0;
    while octet < 256 {
        pairs[octet] = [HEX[octet >> 4], HEX[octet & 15]];
        octet += 1;
    }
    pairs
};

/// Appends octets in hex, without spaces.
pub(super) fn hex(out: &mut Vec<u8>, octets: &[u8]) {
    let at = out.len();
    out.resize(at + 2 * octets.len(), 0);
    for (pair, &octet) in out[at..].chunks_exact_mut(2).zip(octets) {
        pair.copy_from_slice(&PAIRS[usize::from(octet)]);
    }
}

/// Appends a moment as RFC 3339 with nanoseconds, in UTC.
pub(super) fn moment(out: &mut Vec<u8>, ns: u64) {
    Slab::append(out, 32, |slab| slab.moment(ns));
}

/// Year, month and day of a day counted from 1970-01-01, in the proleptic Gregorian calendar.
pub(super) const fn civil(days: u64) -> (u64, u64, u64) {
    // Count from 0000-03-01, so that the leap day is the last of its year; 400 years are 146 097 days.
    let days = days + 719_468;
    let (era, in_era) = (days / 146_097, days % 146_097);
    let year = (in_era - in_era / 1460 + in_era / 36_524 - in_era / 146_096) / 365;
    let in_year = in_era - (365 * year + year / 4 - year / 100);
    let shifted = (5 * in_year + 2) / 153;
    let day = in_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
    (era * 400 + year + (month <= 2) as u64, month, day)
}

/// Appends text with control characters and anything that is not UTF-8 escaped (`\n`, `\e`, `\x07`), so that it can do
/// nothing to a terminal. Backslashes are doubled.
pub(super) fn escaped(out: &mut Vec<u8>, text: &[u8]) {
    for piece in text.utf8_chunks() {
        for character in piece.valid().chars() {
            match character {
                '\\' => put(out, "\\\\"),
                '\n' => put(out, "\\n"),
                '\r' => put(out, "\\r"),
                '\t' => put(out, "\\t"),
                '\x1b' => put(out, "\\e"),
                control if control.is_control() => put(out, &format!("\\x{:02x}", u32::from(control))),
                // Marks that turn the direction of writing could make a line lie.
                '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
                    put(out, &format!("\\u{{{:x}}}", u32::from(character)));
                }
                shown => put(out, shown.encode_utf8(&mut [0; 4])),
            }
        }
        for octet in piece.invalid() {
            put(out, &format!("\\x{octet:02x}"));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(write: impl FnOnce(&mut Vec<u8>)) -> String {
        let mut out = Vec::new();
        write(&mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn moments_are_those_of_the_calendar() {
        // RFC 3339 section 5.8 gives 1985-04-12T23:20:50.52Z and 1996-12-20T00:39:57Z; seconds by POSIX 4.16.
        assert_eq!(with(|out| moment(out, 482_196_050_520_000_000)), "1985-04-12T23:20:50.520000000Z");
        assert_eq!(with(|out| moment(out, 851_042_397_000_000_000)), "1996-12-20T00:39:57.000000000Z");
        assert_eq!(with(|out| moment(out, 0)), "1970-01-01T00:00:00.000000000Z");
        assert_eq!(with(|out| moment(out, 951_782_400_000_000_001)), "2000-02-29T00:00:00.000000001Z");
        assert_eq!(with(|out| moment(out, 1_709_164_799_000_000_000)), "2024-02-28T23:59:59.000000000Z");
    }

    #[test]
    fn nothing_that_moves_a_cursor_gets_through() {
        assert_eq!(
            with(|out| escaped(out, b"a\\\x1b[2J\r\n\x07\xff\xc2\x9b\xc2\xb0")),
            "a\\\\\\e[2J\\r\\n\\x07\\xff\\x9b°"
        );
        assert_eq!(with(|out| seconds(out, 1_234_567_891, 3)), "1.234");
        assert_eq!(with(|out| hex(out, &[0, 0xAB, 0x10])), "00ab10");
    }
}
