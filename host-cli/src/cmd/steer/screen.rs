//! What the operator sees: plain lines, and below them one line that shows how things stand.

use std::io::{self, Write};

/// A terminal in raw mode needs a carriage return before each new line; the line of how things stand is wiped before anything else is
/// written and put back by the next [`Screen::stand`].
pub(super) struct Screen<'a> {
    out: &'a mut (dyn Write + Send),
    mode: Mode,
    shown: String,
}

/// Where the lines go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    /// A terminal: the last line is written over.
    Terminal,
    /// A file or pipe: only lines.
    Lines,
}

impl<'a> Screen<'a> {
    /// A screen on this stream.
    pub(super) fn new(out: &'a mut (dyn Write + Send), mode: Mode) -> Self {
        Self { out, mode, shown: String::new() }
    }

    /// Shows how things stand, if it has changed.
    ///
    /// # Errors
    /// Those of the stream.
    pub(super) fn stand(&mut self, line: &str) -> io::Result<()> {
        if line == self.shown {
            return Ok(());
        }
        match self.mode {
            Mode::Terminal => {
                let gone = self.shown.chars().count().saturating_sub(line.chars().count());
                write!(self.out, "\r{line}{:gone$}", "")?;
            }
            Mode::Lines => write!(self.out, "{line}\r\n")?,
        }
        self.shown = line.to_owned();
        self.out.flush()
    }

    /// Leaves the last line as it stands and goes below it.
    ///
    /// # Errors
    /// Those of the stream.
    pub(super) fn leave(&mut self) -> io::Result<()> {
        if self.mode == Mode::Terminal && !self.shown.is_empty() {
            self.shown.clear();
            write!(self.out, "\r\n")?;
        }
        self.out.flush()
    }
}

impl Write for Screen<'_> {
    fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
        if self.mode == Mode::Terminal && !self.shown.is_empty() {
            let width = self.shown.chars().count();
            write!(self.out, "\r{:width$}\r", "")?;
            self.shown.clear();
        }
        for piece in octets.split_inclusive(|&octet| octet == b'\n') {
            match piece.strip_suffix(b"\n") {
                Some(line) => {
                    self.out.write_all(line)?;
                    self.out.write_all(b"\r\n")?;
                }
                None => self.out.write_all(piece)?,
            }
        }
        Ok(octets.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_go_above_the_line_that_stands() {
        let mut out = Vec::new();
        let mut screen = Screen::new(&mut out, Mode::Terminal);
        screen.stand("armed, 1.00").unwrap();
        screen.stand("armed, 1.00").unwrap();
        screen.stand("armed").unwrap();
        writeln!(screen, "dome-alarm").unwrap();
        screen.stand("silent").unwrap();
        screen.leave().unwrap();
        let text = String::from_utf8(out).unwrap();
        assert_eq!(text, "\rarmed, 1.00\rarmed      \r     \rdome-alarm\r\n\rsilent\r\n");
    }
}
