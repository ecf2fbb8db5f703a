//! How far a transfer is, on standard error: a bar on a terminal, else a line for each tenth. It has no colour.

use std::{
    io::{IsTerminal, stderr},
    time::{Duration, Instant},
};

use bellwire::transfer::Progress;

use super::octets;
use crate::{fail::Fail, shell::Shell};

/// Columns of the bar.
const BAR: usize = 16;
/// How often the bar is drawn.
const REDRAW: Duration = Duration::from_millis(100);

/// Shows progress.
#[derive(Debug)]
pub struct Gauge {
    json: bool,
    terminal: bool,
    start: Instant,
    /// Octets held when it was first told.
    from: Option<u32>,
    drawn: Option<Instant>,
    tenth: u32,
}

impl Gauge {
    /// A gauge; as JSON lines on standard output if `json`.
    #[must_use]
    pub fn new(json: bool) -> Self {
        let terminal = !json && stderr().is_terminal();
        Self { json, terminal, start: Instant::now(), from: None, drawn: None, tenth: 0 }
    }

    /// Octets that were held when it began.
    #[must_use]
    pub fn from(&self) -> u32 {
        self.from.unwrap_or(0)
    }

    /// Tells how far it is.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn show(&mut self, progress: Progress, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let Progress { held, size } = progress;
        if self.from.is_none() {
            (self.from, self.start) = (Some(held), Instant::now());
        }
        let tenth = u32::try_from(u64::from(held) * 10 / u64::from(size.max(1))).unwrap_or(10);
        if self.terminal {
            if self.drawn.is_none_or(|drawn| drawn.elapsed() >= REDRAW) || held == size {
                self.drawn = Some(Instant::now());
                let _ = write!(shell.err, "\r{:<79}", self.bar(progress));
                let _ = shell.err.flush();
            }
        } else if tenth > self.tenth {
            self.tenth = tenth;
            let text = format!("{} % held by the receiver: {held} of {size} octets", tenth * 10);
            if self.json {
                return self.event("progress", progress, &text, shell);
            }
            shell.remark(text);
        }
        Ok(())
    }

    /// One JSON record.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn event(
        &self,
        word: &str,
        progress: Progress,
        text: &str,
        shell: &mut Shell<'_>,
    ) -> Result<(), Fail> {
        let Progress { held, size } = progress;
        shell.line(serde_json::json!({
            "record": "event", "event": word, "held": held, "size": size, "text": text
        }))
    }

    /// The last word: one line of results, with the bar out of the way.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub fn end(
        &mut self,
        word: &str,
        progress: Progress,
        text: &str,
        shell: &mut Shell<'_>,
    ) -> Result<(), Fail> {
        if self.drawn.take().is_some() {
            shell.remark("");
        }
        if self.json {
            return self.event(word, progress, text, shell);
        }
        shell.line(crate::lines::sentence("", &format!("{word}: {text}")))
    }

    fn bar(&self, progress: Progress) -> String {
        let (held, size) = (u64::from(progress.held), u64::from(progress.size.max(1)));
        let full = usize::try_from(held * BAR as u64 / size).unwrap_or(BAR);
        let mut text = format!(
            "{:3} % [{}{}] {} of {}",
            held * 100 / size,
            "#".repeat(full),
            ".".repeat(BAR - full.min(BAR)),
            octets(held),
            octets(size)
        );
        let millis = u64::try_from(self.start.elapsed().as_millis()).unwrap_or(u64::MAX);
        let new = held.saturating_sub(self.from().into());
        if millis > 500 && new > 0 {
            let rate = (new * 1000 / millis).max(1);
            text.push_str(&format!(", {}/s, {} s left", octets(rate), (size - held) / rate));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_fits_a_screen_and_is_full_at_the_end() {
        let gauge = Gauge::new(false);
        let bar = |held, size| gauge.bar(Progress { held, size });
        assert_eq!(bar(0, 1000), "  0 % [................] 0 octets of 1000 octets");
        assert_eq!(bar(1 << 24, 1 << 24), "100 % [################] 16.0 MiB of 16.0 MiB");
        assert_eq!(bar(1 << 23, 1 << 24), " 50 % [########........] 8.0 MiB of 16.0 MiB");
        for held in (0..=1 << 24).step_by(99_991) {
            assert!(bar(held, 1 << 24).len() + 30 <= 79);
        }
    }
}
