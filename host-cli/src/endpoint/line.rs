//! Rate and format of a serial line.

use core::fmt;
use core::str::FromStr;

/// Parity bit of a serial character.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Parity {
    /// No parity bit.
    #[default]
    None,
    /// Even number of ones.
    Even,
    /// Odd number of ones.
    Odd,
}

/// Shape of a serial character, written as in `8N1`: data bits, parity, stop bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct LineFormat {
    data: u8,
    parity: Parity,
    stop: u8,
}

impl LineFormat {
    /// Data bits, 5 to 8. Frames need 8.
    #[must_use]
    pub const fn data_bits(self) -> u8 {
        self.data
    }

    /// The parity bit.
    #[must_use]
    pub const fn parity(self) -> Parity {
        self.parity
    }

    /// Stop bits, 1 or 2.
    #[must_use]
    pub const fn stop_bits(self) -> u8 {
        self.stop
    }

    /// Bit times that one octet takes: start, data, parity and stop bits.
    #[must_use]
    pub const fn bits_an_octet(self) -> u8 {
        let parity = match self.parity {
            Parity::None => 0,
            Parity::Even | Parity::Odd => 1,
        };
        1 + self.data + parity + self.stop
    }
}

impl Default for LineFormat {
    /// `8N1`.
    fn default() -> Self {
        LineFormat { data: 8, parity: Parity::None, stop: 1 }
    }
}

impl fmt::Display for LineFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parity = match self.parity {
            Parity::None => 'N',
            Parity::Even => 'E',
            Parity::Odd => 'O',
        };
        write!(f, "{}{parity}{}", self.data, self.stop)
    }
}

impl FromStr for LineFormat {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "`{text}` is no line format: write data bits 5 to 8, parity N, E or O, stop bits 1 or 2, as in 8N1"
            )
        };
        let &[data, parity, stop] = text.as_bytes() else { return Err(wrong()) };
        let parity = match parity.to_ascii_uppercase() {
            b'N' => Parity::None,
            b'E' => Parity::Even,
            b'O' => Parity::Odd,
            _ => return Err(wrong()),
        };
        if !(b'5'..=b'8').contains(&data) || !(b'1'..=b'2').contains(&stop) {
            return Err(wrong());
        }
        Ok(LineFormat { data: data - b'0', parity, stop: stop - b'0' })
    }
}

/// Rate and format of a serial line, written as in `115200,8N1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct LineSettings {
    /// Bits per second, any rate the device can make; not 0.
    pub rate: u32,
    /// Shape of a character.
    pub format: LineFormat,
}

impl LineSettings {
    /// Octets per second at most.
    #[must_use]
    pub const fn octet_rate(self) -> u32 {
        self.rate / self.format.bits_an_octet() as u32
    }
}

impl Default for LineSettings {
    /// `115200,8N1`.
    fn default() -> Self {
        LineSettings { rate: 115_200, format: LineFormat::default() }
    }
}

impl fmt::Display for LineSettings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{},{}", self.rate, self.format)
    }
}

impl FromStr for LineSettings {
    type Err = String;

    /// Reads `RATE` or `RATE,FORMAT`.
    fn from_str(text: &str) -> Result<Self, String> {
        let (rate, format) = match text.split_once(',') {
            Some((rate, format)) => (rate, format.parse()?),
            None => (text, LineFormat::default()),
        };
        Ok(LineSettings { rate: parse_rate(rate)?, format })
    }
}

/// Reads a line rate in bits per second, 1 to 50000000.
///
/// # Errors
/// A sentence that says what a rate looks like.
pub fn parse_rate(text: &str) -> Result<u32, String> {
    match text.parse::<u32>() {
        Ok(rate @ 1..=50_000_000) => Ok(rate),
        _ => Err(format!("`{text}` is no line rate: write bits per second, 1 to 50000000, as in 115200")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_and_rates_read_back_as_written() {
        for text in ["115200,8N1", "9600,7E1", "1,5O2", "50000000,8N2", "123457,6E2"] {
            assert_eq!(text.parse::<LineSettings>().unwrap().to_string(), text);
        }
        assert_eq!("250000".parse::<LineSettings>().unwrap().to_string(), "250000,8N1");
        assert_eq!("9600,8n1".parse::<LineSettings>().unwrap().to_string(), "9600,8N1");
    }

    #[test]
    fn wrong_settings_are_refused_with_the_reason() {
        for text in [
            "",
            "0",
            "-1",
            "50000001",
            "fast",
            "9600,",
            "9600,9N1",
            "9600,8X1",
            "9600,8N3",
            "9600,8N1,",
            "9600,4N1",
        ] {
            let error = text.parse::<LineSettings>().unwrap_err();
            assert!(error.contains("no line"), "{text}: {error}");
        }
    }

    #[test]
    fn an_octet_takes_its_bits() {
        let bits = |text: &str| text.parse::<LineFormat>().unwrap().bits_an_octet();
        assert_eq!((bits("8N1"), bits("8E1"), bits("8E2"), bits("5N1")), (10, 11, 12, 7));
        assert_eq!("115200,8N1".parse::<LineSettings>().unwrap().octet_rate(), 11_520);
    }
}
