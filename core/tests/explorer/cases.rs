//! The cases: a small set for every run of the tests, and a large one.

use super::{Case, Limits, Run};

/// How long a copy lives in the cases where it dies, µs: longer than the first time-out of an item, shorter than two of them.
pub const L: u32 = 120_000;

/// Which set of cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    Small,
    Large,
}

impl Size {
    /// `BELLWIRE_EXPLORE=large` asks for the large set.
    pub fn wanted() -> Self {
        match std::env::var("BELLWIRE_EXPLORE").as_deref() {
            Ok("large") => Self::Large,
            Ok(other) if other != "small" => panic!("BELLWIRE_EXPLORE is small or large, not {other:?}"),
            _ => Self::Small,
        }
    }

    pub const fn limits(self) -> Limits {
        let most = if matches!(self, Self::Small) { 200_000 } else { 2_000_000 };
        Limits { most, threads: 1, only: None }
    }
}

pub fn wire(size: Size) -> Vec<Run> {
    match size {
        Size::Small => vec![
            Run::wire(1, Case::new("either restarts").restarts(1, 1)),
            Run::wire(1, Case::new("item, desk restarts").items(1, 0).restarts(1, 0)),
            Run::wire(1, Case::new("item, dome restarts").items(1, 0).restarts(0, 1)),
            Run::wire(1, Case::new("item, a side ends the session").items(1, 0).ends(1)),
            Run::wire(1, Case::new("item each way").items(1, 1)),
            Run::wire(2, Case::new("2 items").items(2, 0)),
            Run::wire(3, Case::new("3 items, fewer losses than tries").items(3, 0).punctual(3)),
            Run::wire(1, Case::new("item and notice, damage").items(1, 0).notices(1, 0).damage()),
            Run::wire(1, Case::new("2 set-points, an end cut off").set_points(2).cut_ends(1)),
            Run::wire(1, Case::new("2 set-points, outage").set_points(2).outages(1)),
            Run::wire(
                1,
                Case::new("numberless dome restarts").numberless(false, true).restarts(0, 1).lifetime(L),
            ),
        ],
        Size::Large => vec![],
    }
}

pub fn radio(size: Size) -> Vec<Run> {
    match size {
        Size::Small => vec![
            Run::radio(1, Case::new("item").items(1, 0)),
            Run::radio(1, Case::new("desk restarts").restarts(1, 0)),
            Run::radio(2, Case::new("2 items, fewer losses than tries").items(2, 0).punctual(2)),
            Run::radio(1, Case::new("2 set-points, outage").set_points(2).outages(1).lifetime(L)),
            Run::radio(1, Case::new("item, then 255 more").items(1, 0).streams(5).lifetime(L)),
            Run::radio(3, Case::new("item, then 255 more").items(1, 0).streams(5).lifetime(L)),
            Run::radio(
                1,
                Case::new("numberless dome restarts")
                    .numberless(false, true)
                    .restarts(0, 1)
                    .silences(1)
                    .lifetime(L),
            ),
        ],
        Size::Large => vec![],
    }
}
