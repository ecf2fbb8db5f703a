//! Exact decimal numbers, and how a whole number in a payload becomes one.

/// A decimal number: `number` divided by ten to the power `places`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Decimal {
    /// All digits as one whole number.
    pub number: i128,
    /// How many of them stand behind the point.
    pub places: u8,
}

impl Decimal {
    /// Most digits that are read; all forms of a payload need fewer.
    const DIGITS: usize = 30;

    /// Reads `-0.25`; `None` for anything else, exponents and a plus sign included.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (sign, digits) = text.strip_prefix('-').map_or((1, text), |rest| (-1, rest));
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let all = format!("{whole}{part}");
        if all.is_empty() || all.len() > Self::DIGITS || !all.bytes().all(|digit| digit.is_ascii_digit()) {
            return None;
        }
        let number = all.parse::<i128>().ok()?;
        Some(Self { number: sign * number, places: u8::try_from(part.len()).ok()? })
    }

    /// The same number as a whole number of the place `places`; `None` if it has digits behind that place, or is far too large.
    #[must_use]
    pub fn at(self, places: u8) -> Option<i128> {
        if places >= self.places {
            return 10_i128.checked_pow(u32::from(places - self.places))?.checked_mul(self.number);
        }
        let part = 10_i128.checked_pow(u32::from(self.places - places))?;
        (self.number % part == 0).then(|| self.number / part)
    }

    /// Appends it as plain digits with a point.
    pub fn write(self, out: &mut Vec<u8>) {
        let mut digits = itoa::Buffer::new();
        let places = usize::from(self.places);
        // Nearly all values fit 64 bits, and these divide much faster.
        let text = match i64::try_from(self.number) {
            Ok(small) => digits.format(small),
            Err(_) => digits.format(self.number),
        };
        let (sign, text) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
        out.extend_from_slice(sign.as_bytes());
        if places == 0 {
            out.extend_from_slice(text.as_bytes());
            return;
        }
        let whole = text.len().saturating_sub(places);
        if whole == 0 {
            out.extend_from_slice(b"0.");
            out.resize(out.len() + places - text.len(), b'0');
        } else {
            out.extend_from_slice(&text.as_bytes()[..whole]);
            out.push(b'.');
        }
        out.extend_from_slice(&text.as_bytes()[whole..]);
    }
}

impl std::fmt::Display for Decimal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut out = Vec::new();
        self.write(&mut out);
        f.write_str(&String::from_utf8_lossy(&out))
    }
}

/// How a whole number in the payload becomes the value: (number × `factor` + `offset`) / ten to the power `decimals`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Scale {
    /// Steps of the last place, at least 1.
    pub factor: i64,
    /// What the number 0 stands for, in the last place.
    pub offset: i64,
    /// Decimal places of the value.
    pub decimals: u8,
}

impl Default for Scale {
    fn default() -> Self {
        Self::places(0)
    }
}

impl Scale {
    /// The number is the value's last place: 125 is 1.25 with two places.
    #[must_use]
    pub const fn places(decimals: u8) -> Self {
        Self { factor: 1, offset: 0, decimals }
    }

    /// The value of a number of the payload, which has at most 64 bits.
    #[must_use]
    pub fn value(self, raw: i128) -> Decimal {
        let number = if self.factor == 1 && self.offset == 0 {
            raw
        } else {
            raw.saturating_mul(i128::from(self.factor)).saturating_add(i128::from(self.offset))
        };
        Decimal { number, places: self.decimals }
    }

    /// The number of the payload for a value; `None` if the value lies between two of them.
    #[must_use]
    pub fn raw(self, value: Decimal) -> Option<i128> {
        // The usual case, and quicker by far than two divisions of 128 bits.
        if self.factor == 1 && self.offset == 0 && value.places == self.decimals {
            return Some(value.number);
        }
        let factor = i128::from(self.factor);
        let above = value.at(self.decimals)?.checked_sub(i128::from(self.offset))?;
        (above.checked_rem(factor)? == 0).then(|| above / factor)
    }

    /// The step from one value to the next.
    #[must_use]
    pub fn step(self) -> Decimal {
        Decimal { number: self.factor.into(), places: self.decimals }
    }

    /// Whether numbers travel as they are.
    #[must_use]
    pub fn is_plain(self) -> bool {
        self == Self::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_scaled_exactly() {
        let plain = |number: i128, places| Decimal { number, places }.to_string();
        assert_eq!(plain(125, 2), "1.25");
        assert_eq!(plain(-125, 2), "-1.25");
        assert_eq!(plain(5, 2), "0.05");
        assert_eq!(plain(-5, 2), "-0.05");
        assert_eq!(plain(0, 2), "0.00");
        assert_eq!(plain(0, 0), "0");
        assert_eq!(plain(i128::from(u64::MAX), 1), "1844674407370955161.5");
        assert_eq!(plain(i128::from(i64::MIN), 0), "-9223372036854775808");
    }

    #[test]
    fn decimals_are_taken_exactly_or_refused() {
        let scaled = |text: &str| Decimal::read(text).and_then(|value| Scale::places(2).raw(value));
        assert_eq!(scaled("1.25"), Some(125));
        assert_eq!(scaled("-1.2"), Some(-120));
        assert_eq!(scaled("-0.05"), Some(-5));
        assert_eq!(scaled(".5"), Some(50));
        assert_eq!(scaled("3"), Some(300));
        assert_eq!(scaled("3.0000"), Some(300));
        for bad in ["", "-", ".", "1.255", "1e3", "+1", "1.2.3", "--1", "x", "1,5"] {
            assert_eq!(scaled(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_scale_with_an_offset_goes_both_ways_or_says_no() {
        // Steps of 0.5 from -40: the usual form of a small temperature sensor.
        let scale = Scale { factor: 5, offset: -400, decimals: 1 };
        for raw in 0..=255 {
            assert_eq!(scale.raw(scale.value(raw)), Some(raw));
        }
        assert_eq!(scale.value(123).to_string(), "21.5");
        assert_eq!(Decimal::read("21.4").and_then(|value| scale.raw(value)), None);
        assert_eq!(scale.step().to_string(), "0.5");
        let all = Scale { factor: i64::MAX, offset: i64::MIN, decimals: 9 };
        let _ = (all.value(u64::MAX.into()), all.raw(Decimal { number: i128::MAX, places: 0 }));
    }
}
