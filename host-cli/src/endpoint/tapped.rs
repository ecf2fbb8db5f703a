//! Two joined endpoints seen as one line: the device's, with what the program sends as its other direction.

use std::time::Duration;

use super::{Delays, Direction, Gap, Gather, Item, Joined, Note, PortInfo, Source};
use crate::{fail::Fail, lines};

/// What passes between a device and a program, as one source with the device's port.
pub struct Tapped {
    both: Gather,
    delays: Delays,
}

impl Tapped {
    /// Watches a joint whose first endpoint is the device.
    #[must_use]
    pub fn new(joined: Joined) -> Self {
        Tapped { both: Gather::new(vec![joined.first, joined.second]), delays: joined.delays }
    }

    /// An item of the program's side as one of the device's line.
    fn from_program(item: Item) -> Item {
        let note = |at, text| Item::Note(Note { at, port: 0, text });
        match item {
            Item::Chunk(chunk) => Item::Chunk(super::Chunk { port: 0, direction: Direction::Out, ..chunk }),
            Item::Gap(Gap { from, to: None, why, .. }) => {
                note(from, format!("the program's side is away: {why}"))
            }
            Item::Gap(Gap { from, to: Some(to), .. }) => {
                let ms = to.saturating_sub(from) / 1_000_000;
                note(to, format!("the program's side is back after {}.{:03} s", ms / 1000, ms % 1000))
            }
            Item::Note(Note { at, text, .. }) => note(at, format!("the program's side: {text}")),
            Item::End => Item::End,
        }
    }
}

impl Source for Tapped {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let item = self.both.next(wait)?;
        Ok(item.map(|item| if item.port() == Some(1) { Self::from_program(item) } else { item }))
    }

    fn ports(&self) -> &[PortInfo] {
        self.both.ports().get(..1).unwrap_or_default()
    }

    fn sides(&self) -> Option<[String; 2]> {
        Some(["board".into(), "prog".into()])
    }

    fn closing(&mut self) -> Vec<String> {
        let mut lines = self.both.closing();
        lines.push(match (self.delays.within(50), self.delays.within(99)) {
            (Some(half), Some(most)) => {
                let worst = self.delays.worst();
                let time = |ns| lines::time(Duration::from_nanos(ns));
                let (half, most, worst, count) = (time(half), time(most), time(worst), self.delays.count());
                let text = format!(
                    "{half} median, {most} for 99 %, {worst} worst ({count} pieces), each from the end of the read to the \
                     end of the write. The time that the system takes to wake this program comes on top."
                );
                lines::wrap("Delay added in passing on: ", &text)
            }
            _ => "Nothing was passed on.".into(),
        });
        lines
    }
}
