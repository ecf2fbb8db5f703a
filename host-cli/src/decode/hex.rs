//! Hex text to octets, streaming.

use crate::{exit::Exit, fail::Fail};

/// Reads hex digits in pairs; spaces, commas, colons, hyphens and `0x` between them, and comments from `#` to the end of a line.
#[derive(Debug, Clone, Default)]
pub(super) struct HexText {
    high: Option<u8>,
    comment: bool,
    line: u64,
    /// Characters of this line that are done.
    column: u64,
}

/// Whether octets at the start of an input look like hex text: nothing else, and at least one octet.
pub(super) fn looks_like_hex(head: &[u8]) -> bool {
    let (mut digits, mut comment) = (0_usize, false);
    for &octet in head {
        match octet {
            b'\n' => comment = false,
            _ if comment => {}
            b'#' => comment = true,
            _ if octet.is_ascii_hexdigit() => digits += 1,
            b'x' | b'X' | b' ' | b'\t' | b'\r' | b',' | b':' | b'-' => {}
            _ => return false,
        }
    }
    digits >= 2
}

impl HexText {
    /// Appends the octets of more text; `line` is called at the end of each line.
    ///
    /// # Errors
    /// Bad input, with its line.
    pub(super) fn feed(
        &mut self,
        text: &[u8],
        octets: &mut Vec<u8>,
        mut line: impl FnMut(&mut Vec<u8>),
    ) -> Result<(), Fail> {
        for &octet in text {
            match octet {
                b'\n' => {
                    self.comment = false;
                    self.pair_done()?;
                    self.line += 1;
                    self.column = 0;
                    line(octets);
                    continue;
                }
                _ if self.comment => {}
                b'#' => self.comment = true,
                b'x' | b'X' if self.high == Some(0) => self.high = None,
                b' ' | b'\t' | b'\r' | b',' | b':' | b'-' => self.pair_done()?,
                _ => {
                    let Some(digit) =
                        char::from(octet).to_digit(16).and_then(|digit| u8::try_from(digit).ok())
                    else {
                        let shown = char::from(octet).escape_default();
                        return Err(self.bad(format!("'{shown}' is no hex digit"), self.column + 1));
                    };
                    match self.high.take() {
                        Some(high) => octets.push(high << 4 | digit),
                        None => self.high = Some(digit),
                    }
                }
            }
            self.column += 1;
        }
        Ok(())
    }

    /// The text has ended.
    ///
    /// # Errors
    /// Half an octet is left.
    pub(super) fn end(&mut self) -> Result<(), Fail> {
        self.pair_done()
    }

    fn pair_done(&mut self) -> Result<(), Fail> {
        match self.high.take() {
            Some(high) => {
                let what = format!("half an octet: an odd number of hex digits, '{high:x}' has no partner");
                Err(self.bad(what, self.column))
            }
            None => Ok(()),
        }
    }

    fn bad(&self, what: String, column: u64) -> Fail {
        Fail::new(Exit::BadInput, what)
            .at(format!("line {}, column {column} of the hex text", self.line + 1))
            .next("write octets as pairs of hex digits; for raw octets add --as octets")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<u8>, String> {
        let (mut hex, mut octets) = (HexText::default(), Vec::new());
        for &octet in text.as_bytes() {
            hex.feed(&[octet], &mut octets, |_| {}).map_err(|fail| fail.to_string())?;
        }
        hex.end().map_err(|fail| fail.to_string())?;
        Ok(octets)
    }

    #[test]
    fn hex_in_its_usual_spellings_and_errors_with_their_line() {
        for text in [
            "00 03 81 ff",
            "000381FF",
            "0x00,0x03,0x81,0xff",
            "00:03:81:ff # a set-point\n",
            "00\n03\n81\nff",
        ] {
            assert_eq!(read(text), Ok(vec![0, 3, 0x81, 0xFF]), "{text}");
            assert!(looks_like_hex(text.as_bytes()), "{text}");
        }
        assert!(read("00 0").unwrap_err().contains("half an octet"));
        assert!(read("00 0 3").unwrap_err().contains("half an octet"));
        assert!(read("00\n03\n8g").unwrap_err().contains("line 3, column 2"));
        assert!(read("00\n03 f\n8f").unwrap_err().contains("line 2, column 4"));
        assert!(read("00 03 8").unwrap_err().contains("line 1, column 7"));
        for text in ["", "mast login: ", "\u{0}\u{3}", "# only a remark\n", "deadbeef!"] {
            assert!(!looks_like_hex(text.as_bytes()), "{text:?}");
        }
    }
}
