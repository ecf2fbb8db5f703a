//! What a board says beside its UARTs, read back: the README of the firmware has the lines.

/// From this turn of the control loop on the motor turns at another rate. Times are the board's, µs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drive {
    /// The turn.
    pub at: u32,
    /// 0.01 °/s; 0 is the brake.
    pub rate: i32,
    /// The output pins, as read back.
    pub outputs: u32,
    /// When the newest set-point arrived.
    pub newest: u32,
    /// The turn before.
    pub before: u32,
}

/// Output pins: the motor's driver is on.
pub const MOTOR: u32 = 1;

/// The time of a line and the words after it.
fn split(line: &str) -> Option<(u32, &str)> {
    let (at, words) = line.split_once(' ')?;
    Some((at.parse().ok()?, words))
}

fn value<T: std::str::FromStr>(words: &str, name: &str) -> Option<T> {
    words.split(' ').find_map(|word| word.strip_prefix(name)?.strip_prefix('=')?.parse().ok())
}

/// All changes of what the outputs do.
#[must_use]
pub fn drives(said: &str) -> Vec<Drive> {
    said.lines()
        .filter_map(split)
        .filter(|(_, words)| words.starts_with("drive "))
        .filter_map(|(at, words)| {
            Some(Drive {
                at,
                rate: value(words, "rate")?,
                outputs: value(words, "outputs")?,
                newest: value(words, "newest")?,
                before: value(words, "before")?,
            })
        })
        .collect()
}

/// The time of the first line that begins with these words, and what follows them.
#[must_use]
pub fn first<'a>(said: &'a str, words: &str) -> Option<(u32, &'a str)> {
    said.lines().filter_map(split).find_map(|(at, line)| Some((at, line.strip_prefix(words)?)))
}

/// A number of the last line that begins with this word.
#[must_use]
pub fn last(said: &str, word: &str, name: &str) -> Option<u32> {
    said.lines()
        .filter_map(split)
        .rfind(|(_, words)| words.starts_with(word))
        .and_then(|(_, words)| value(words, name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_read_back() {
        let said = "0 motion held the board has just started\n7000 drive rate=-150 outputs=1 newest=6000 before=6000\n8000 goes on\n9000 overrun lost=3\nwarning: of the emulator\n";
        let drive = Drive { at: 7000, rate: -150, outputs: 1, newest: 6000, before: 6000 };
        assert_eq!(drives(said), [drive]);
        assert_eq!(first(said, "motion held"), Some((0, " the board has just started")));
        assert_eq!(first(said, "goes on"), Some((8000, "")));
        assert_eq!((last(said, "overrun", "lost"), last(said, "heard", "lost")), (Some(3), None));
    }
}
