//! Pages for people: the agreement to pin above the bench, and a label for each board.
//!
//! The pages have every message, field and unit of the agreement. HTML stands alone: its style is inside, it has no script and asks for nothing
//! from anywhere. All texts of the agreement are escaped, so that none of them can become markup.

mod cells;
mod html;
mod labels;
mod legend;
mod markdown;
mod markup;
mod side;

pub use html::page as html;
pub use labels::page as labels;
pub use markdown::page as markdown;

use crate::agreement::Agreement;

/// Where the pages come from, at the foot of each.
const ORIGIN: &str = "Written by bellwire generate from the agreement: change that, not this page.";

/// The caution for whoever works at the machine.
const CAUTION: &str = "Moving parts can hurt. The freshness limit of a set-point is a functional stop, not an emergency stop, and claims no \
    conformity with any safety standard. An emergency stop is a hardware circuit that removes power and does not pass through this software. \
    Pull resistors must hold drivers off through reset and boot. Guard moving parts; try with motors disconnected first. Heaters can burn: \
    fuse and limit them.";

/// Whether some message may move something.
fn moves(agreement: &Agreement) -> bool {
    agreement.table.messages().iter().any(|message| message.moves)
}
