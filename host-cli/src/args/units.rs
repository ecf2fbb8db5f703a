//! Values with units on the command line: durations, rates, sizes, percentages, hex octets.

use std::{ops::RangeInclusive, str::FromStr, time::Duration};

use bellwire::frame::{Class, Kind};

/// Octets written in hex, for instance `01 02 ff`, `0102ff`, `0x01,0x02` or `01:02`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Octets(pub Vec<u8>);

/// A part of a whole: `10%` is 0.1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share(pub f64);

/// Splits `12.5ms` into 12.5 and `ms`.
fn number_and_unit(text: &str) -> Result<(f64, &str), String> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let number = number.parse::<f64>().map_err(|_| format!("`{text}` does not start with a number"))?;
    Ok((number, unit.trim()))
}

/// A duration: `250us`, `20ms`, `5s`, `1.5min`, `2h`.
///
/// # Errors
/// In plain words, if the number or the unit is missing.
pub fn duration(text: &str) -> Result<Duration, String> {
    let (number, unit) = number_and_unit(text)?;
    let second = match unit {
        "us" | "µs" => 1e-6,
        "ms" => 1e-3,
        "s" => 1.0,
        "min" => 60.0,
        "h" => 3600.0,
        "" => return Err(format!("say the unit: {number}s or {number}ms")),
        _ => return Err(format!("`{unit}` is no unit of time; use us, ms, s, min or h")),
    };
    Duration::try_from_secs_f64(number * second).map_err(|_| format!("`{text}` is too long"))
}

/// A duration that is not zero.
///
/// # Errors
/// In plain words, as [`duration`], and for zero.
pub fn period(text: &str) -> Result<Duration, String> {
    let period = duration(text)?;
    if period.is_zero() { Err("must be longer than nothing".into()) } else { Ok(period) }
}

/// A line rate in baud: `115200`, `9600`, `1M`, `57.6k`.
///
/// # Errors
/// In plain words, outside 50 Bd to 20 MBd.
pub fn rate(text: &str) -> Result<u32, String> {
    let (number, unit) = number_and_unit(text)?;
    let scale = match unit {
        "" | "Bd" => 1.0,
        "k" | "kBd" => 1e3,
        "M" | "MBd" => 1e6,
        _ => return Err(format!("`{unit}` is no unit of rate; give baud, for instance 115200, 57.6k or 1M")),
    };
    let baud = (number * scale).round();
    if (50.0..=20e6).contains(&baud) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the range is checked")]
        Ok(baud as u32)
    } else {
        Err(format!("{baud} Bd is outside 50 Bd to 20 MBd"))
    }
}

/// A size in octets: `4096`, `10kB`, `64MB`, `1GB`, `16MiB`.
///
/// # Errors
/// In plain words, if the unit is not known or nothing is left.
pub fn size(text: &str) -> Result<u64, String> {
    let (number, unit) = number_and_unit(text)?;
    let scale: f64 = match unit {
        "" | "B" => 1.0,
        "kB" | "KB" => 1e3,
        "MB" => 1e6,
        "GB" => 1e9,
        "KiB" => 1024.0,
        "MiB" => 1_048_576.0,
        "GiB" => 1_073_741_824.0,
        _ => return Err(format!("`{unit}` is no unit of size; use B, kB, MB, GB, KiB, MiB or GiB")),
    };
    let octets = (number * scale).round();
    if (1.0..1e18).contains(&octets) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the range is checked")]
        Ok(octets as u64)
    } else {
        Err(format!("`{text}` is not between one octet and 1e9 GB"))
    }
}

/// The smallest size of a capture that another one follows: what is recorded reaches a file in pieces of up to 64 KiB.
const LEAST_CAPTURE: u64 = 100_000;

/// The size at which a capture ends and the next begins.
///
/// # Errors
/// In plain words, as [`size`], and below 100 kB.
pub fn capture_size(text: &str) -> Result<u64, String> {
    let octets = size(text)?;
    if octets < LEAST_CAPTURE {
        Err("captures so small are no use; the least is 100kB".into())
    } else {
        Ok(octets)
    }
}

/// A 32-bit number, decimal or `0x` hex.
///
/// # Errors
/// In plain words.
pub fn number32(text: &str) -> Result<u32, String> {
    u32::try_from(number64(text)?).map_err(|_| format!("`{text}` does not fit 32 bits"))
}

/// A 64-bit number, decimal or `0x` hex.
///
/// # Errors
/// In plain words.
pub fn number64(text: &str) -> Result<u64, String> {
    let digits = text.replace('_', "");
    match digits.strip_prefix("0x") {
        Some(hex) => u64::from_str_radix(hex, 16),
        None => digits.parse(),
    }
    .map_err(|_| format!("`{text}` is no number; write it as 42 or 0x2A"))
}

/// A factor above zero: `2`, `0.5`.
///
/// # Errors
/// In plain words.
pub fn factor(text: &str) -> Result<f64, String> {
    match text.trim_end_matches('x').parse::<f64>() {
        Ok(factor) if factor > 0.0 && factor.is_finite() => Ok(factor),
        _ => Err("give a number above zero, for instance 2 or 0.5".into()),
    }
}

impl FromStr for Share {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let (number, unit) = number_and_unit(text)?;
        match unit {
            "%" if number <= 100.0 => Ok(Self(number / 100.0)),
            "%" => Err(format!("{number}% is more than all")),
            _ => Err(format!("write it as a percentage, for instance {number}%")),
        }
    }
}

impl FromStr for Octets {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let mut octets = Vec::with_capacity(text.len() / 2);
        for word in text.split(|c: char| c.is_whitespace() || matches!(c, ',' | ':' | '-')) {
            let digits = word.strip_prefix("0x").or_else(|| word.strip_prefix("0X")).unwrap_or(word);
            if let Some(strange) = digits.chars().find(|c| !c.is_ascii_hexdigit()) {
                return Err(format!("`{strange}` is no hex digit"));
            }
            if digits.len() % 2 == 1 {
                return Err(format!("`{word}` has an odd number of hex digits; an octet has two"));
            }
            for at in (0..digits.len()).step_by(2) {
                octets.extend(u8::from_str_radix(&digits[at..at + 2], 16));
            }
        }
        Ok(Self(octets))
    }
}

/// A kind of frame by its word.
///
/// # Errors
/// In plain words.
pub fn kind(text: &str) -> Result<Kind, String> {
    let words = || Kind::ALL.map(Kind::name).join(", ");
    Kind::ALL.into_iter().find(|kind| kind.name() == text).ok_or_else(|| format!("use {}", words()))
}

/// A class of message by its word.
///
/// # Errors
/// In plain words.
pub fn class(text: &str) -> Result<Class, String> {
    let words = || Class::ALL.map(Class::name).join(", ");
    Class::ALL.into_iter().find(|class| class.name() == text).ok_or_else(|| format!("use {}", words()))
}

/// A sequence number, or a range of them: `7`, `10..20`.
///
/// # Errors
/// In plain words.
pub fn numbers(text: &str) -> Result<RangeInclusive<u8>, String> {
    let number =
        |text: &str| text.trim().parse::<u8>().map_err(|_| format!("`{text}` is not between 0 and 255"));
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    let range = number(first)?..=number(last.trim_start_matches('='))?;
    if range.is_empty() {
        Err(format!("`{text}` is empty: the smaller number goes first"))
    } else {
        Ok(range)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_need_a_unit() {
        assert_eq!(duration("250ms"), Ok(Duration::from_millis(250)));
        assert_eq!(duration("1.5 s"), Ok(Duration::from_millis(1500)));
        assert_eq!(duration("2min"), Ok(Duration::from_secs(120)));
        assert_eq!(duration("20"), Err("say the unit: 20s or 20ms".into()));
        assert!(duration("5 parsecs").is_err() && duration("s").is_err() && duration("").is_err());
        assert!(duration("99999999999999999999h").is_err() && period("0s").is_err());
    }

    #[test]
    fn rates_and_sizes_take_their_usual_units() {
        assert_eq!(rate("115200"), Ok(115_200));
        assert_eq!(rate("57.6k"), Ok(57_600));
        assert_eq!(rate("1M"), Ok(1_000_000));
        assert!(rate("0").is_err() && rate("30M").is_err() && rate("9600baud").is_err());
        assert_eq!(size("10MB"), Ok(10_000_000));
        assert_eq!(size("64KiB"), Ok(65_536));
        assert!(size("0").is_err() && size("10 pounds").is_err());
    }

    #[test]
    fn hex_in_all_its_usual_spellings() {
        for text in ["0102ff", "01 02 FF", "0x01,0x02,0xff", "01:02:ff", " 01-02\nff "] {
            assert_eq!(text.parse(), Ok(Octets(vec![1, 2, 255])), "{text}");
        }
        assert_eq!("".parse(), Ok(Octets(vec![])));
        assert!("1".parse::<Octets>().unwrap_err().contains("odd number"));
        assert!("0g".parse::<Octets>().unwrap_err().contains("`g`"));
        assert!("0é".parse::<Octets>().is_err());
    }

    #[test]
    fn a_share_says_percent() {
        assert_eq!("10%".parse(), Ok(Share(0.1)));
        assert!("10".parse::<Share>().is_err() && "101%".parse::<Share>().is_err());
    }
}
