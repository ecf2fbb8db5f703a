//! What is wrong with an agreement file, where, and what to write instead.

use std::{fmt, ops::Range};

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub what: String,
    /// What to write instead; empty where that is plain.
    pub instead: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}", self.line, self.column, self.what)?;
        if !self.instead.is_empty() {
            write!(f, "; {}", self.instead)?;
        }
        Ok(())
    }
}

/// A stretch of the file, octets.
pub(super) type Span = Range<usize>;

/// The faults found so far.
#[derive(Debug, Default)]
pub(super) struct Faults(Vec<(usize, String, String)>);

impl Faults {
    /// Notes a fault and what to write instead.
    pub(super) fn add(&mut self, at: &Span, what: impl Into<String>, instead: impl Into<String>) {
        self.0.push((at.start, what.into(), instead.into()));
    }

    /// Whether there is none.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// With lines and columns, in the order of the file.
    pub(super) fn told(mut self, source: &str) -> Vec<Fault> {
        self.0.sort_by_key(|(at, ..)| *at);
        let (mut line, mut start, mut seen) = (1, 0, 0);
        let mut faults = Vec::with_capacity(self.0.len());
        for (at, what, instead) in self.0 {
            let at = floor(source, at);
            for (index, _) in source[seen..at].match_indices('\n') {
                line += 1;
                start = seen + index + 1;
            }
            seen = at;
            let column = source[start..at].chars().count() + 1;
            faults.push(Fault { line, column, what, instead });
        }
        faults
    }
}

/// The nearest place at or before `at` where a character begins.
fn floor(source: &str, at: usize) -> usize {
    (0..=at.min(source.len())).rev().find(|&at| source.is_char_boundary(at)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_count_lines_and_characters_from_one() {
        let source = "name = \"dôme\"\nport = 1\n";
        let mut faults = Faults::default();
        for word in ["port", "1", "me\""] {
            let at = source.find(word).unwrap();
            faults.add(&(at..at + 1), word, "");
        }
        faults.add(&(999..1000), "end", "write more");
        let places: Vec<_> = faults.told(source).iter().map(ToString::to_string).collect();
        assert_eq!(places, ["1:11: me\"", "2:1: port", "2:8: 1", "3:1: end; write more"]);
    }
}
