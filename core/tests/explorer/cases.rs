//! The cases: a small set for every run of the tests, and a large one.

use super::{Case, Limits, Run};

/// How long a copy lives in the cases where it dies, µs: longer than the first time-out of an item, shorter than two of them.
pub const L: u32 = 120_000;

/// Which set of cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    Small,
    /// The large set, each case cut after so many states.
    Large(usize),
}

impl Size {
    /// `BELLWIRE_EXPLORE=1500000` asks for the large set, cut after so many states a case.
    pub fn wanted() -> Self {
        let Ok(most) = std::env::var("BELLWIRE_EXPLORE") else { return Self::Small };
        most.parse()
            .map_or_else(|_| panic!("BELLWIRE_EXPLORE is a number of states, not {most:?}"), Self::Large)
    }

    pub const fn limits(self) -> Limits {
        let most = match self {
            Self::Small => 200_000,
            Self::Large(most) => most,
        };
        Limits { most, threads: 1, only: None }
    }
}

pub fn wire(size: Size) -> Vec<Run> {
    if size == Size::Small { small_wire() } else { large_wire() }
}

pub fn radio(size: Size) -> Vec<Run> {
    if size == Size::Small { small_radio() } else { large_radio() }
}

fn small_wire() -> Vec<Run> {
    let numberless = Case::new("numberless dome restarts").numberless(false, true).restarts(0, 1);
    vec![
        Run::wire(1, Case::new("either restarts").restarts(1, 1)),
        Run::wire(1, Case::new("item, desk restarts").items(1, 0).restarts(1, 0)),
        Run::wire(1, Case::new("item, dome restarts").items(1, 0).restarts(0, 1)),
        Run::wire(1, Case::new("item, a side ends the session").items(1, 0).ends(1)),
        Run::wire(1, Case::new("item each way").items(1, 1)),
        Run::wire(2, Case::new("2 items").items(2, 0)),
        Run::wire(3, Case::new("3 items, fewer losses than tries").items(3, 0).punctual(3)),
        Run::wire(1, Case::new("item and notice, damage").items(1, 0).notices(1, 0).damage()),
        Run::wire(1, Case::new("set-point, item, notice back").set_points(1).items(1, 0).notices(0, 1)),
        Run::wire(1, Case::new("2 set-points, an end cut off").set_points(2).cut_ends(1)),
        Run::wire(1, Case::new("2 set-points, outage").set_points(2).outages(1)),
        Run::wire(1, numberless.lifetime(L)),
    ]
}

fn small_radio() -> Vec<Run> {
    let numberless = Case::new("numberless dome restarts").numberless(false, true).restarts(0, 1);
    vec![
        Run::radio(1, Case::new("item").items(1, 0)),
        Run::radio(1, Case::new("desk restarts").restarts(1, 0)),
        Run::radio(2, Case::new("2 items, fewer losses than tries").items(2, 0).punctual(2)),
        Run::radio(1, Case::new("2 set-points, outage").set_points(2).outages(1).lifetime(L)),
        Run::radio(1, Case::new("item, then 255 more").items(1, 0).streams(5).lifetime(L)),
        Run::radio(3, Case::new("item, then 255 more").items(1, 0).streams(5).lifetime(L)),
        Run::radio(1, numberless.silences(1).lifetime(L)),
    ]
}

fn large_wire() -> Vec<Run> {
    let every = Case::new("set-point, item each way, notice").set_points(1).items(1, 1).notices(1, 0);
    let numberless = Case::new("both numberless, item, each restarts").numberless(true, true);
    vec![
        Run::wire(1, Case::new("each restarts twice").restarts(2, 2)),
        Run::wire(1, Case::new("item, either restarts").items(1, 0).restarts(1, 1)),
        Run::wire(2, Case::new("2 items, dome restarts").items(2, 0).restarts(0, 1)),
        Run::wire(2, Case::new("2 items and 1 back").items(2, 1)),
        Run::wire(2, Case::new("3 items").items(3, 0)),
        Run::wire(3, Case::new("3 items").items(3, 0)),
        Run::wire(3, Case::new("3 items and 1 back, fewer losses than tries").items(3, 1).punctual(3)),
        Run::wire(1, Case::new("item, silence of either").items(1, 0).silences(1)),
        Run::wire(1, every.damage()),
        Run::wire(
            1,
            Case::new("3 set-points, desk restarts, an end cut off").set_points(3).restarts(1, 0).cut_ends(1),
        ),
        Run::wire(1, numberless.items(1, 0).restarts(1, 1).lifetime(L)),
    ]
}

fn large_radio() -> Vec<Run> {
    let numberless = Case::new("numberless dome restarts, item").numberless(false, true).restarts(0, 1);
    vec![
        Run::radio(1, Case::new("either restarts").restarts(1, 1)),
        Run::radio(1, Case::new("item, desk restarts").items(1, 0).restarts(1, 0)),
        Run::radio(1, Case::new("item, dome restarts").items(1, 0).restarts(0, 1)),
        Run::radio(1, Case::new("item each way").items(1, 1)),
        Run::radio(2, Case::new("2 items").items(2, 0)),
        Run::radio(3, Case::new("3 items, fewer losses than tries").items(3, 0).punctual(3)),
        Run::radio(1, Case::new("2 set-points, desk restarts").set_points(2).restarts(1, 0).lifetime(L)),
        Run::radio(1, Case::new("3 set-points, outage").set_points(3).outages(1).lifetime(L)),
        Run::radio(2, Case::new("2 items, then 255 more").items(2, 0).streams(5).lifetime(L)),
        Run::radio(1, numberless.items(1, 0).silences(1).lifetime(L)),
    ]
}
