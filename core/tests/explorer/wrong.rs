//! What must be found: the variants of `WRONG.md`.

use super::{Case, Property, Run, WrongWorld, cases::L};

/// A wrong variant, and a case in which it shows.
#[derive(Debug, Clone, Copy)]
pub struct Variant {
    /// Its place in the second table of `WRONG.md`, if it stands there.
    pub place: &'static str,
    /// The switch of `core/src/rules.rs`; 0: the world is wrong.
    pub switch: u8,
    pub words: &'static str,
    pub breaks: Property,
    pub run: Run,
}

const fn variant(
    place: &'static str,
    switch: u8,
    words: &'static str,
    breaks: Property,
    run: Run,
) -> Variant {
    Variant { place, switch, words, breaks, run }
}

/// Worlds around the right links that are wrong; needs no switch.
pub fn worlds() -> Vec<Variant> {
    use Property::{DeadMan, NewestWins, OwnSession};
    let case = Case::new("");
    vec![
        variant(
            "4b",
            0,
            "messages that come too early are kept and handed in later",
            OwnSession,
            Run::wire(1, case.items(1, 0).restarts(1, 1).wrong(WrongWorld::KeepsEarlyFrames)),
        ),
        variant(
            "",
            0,
            "the dead-man is not told that the session ended",
            DeadMan,
            Run::wire(1, case.set_points(2).ends(1).wrong(WrongWorld::DeafDeadMan)),
        ),
        variant(
            "",
            0,
            "set-points are stamped when they are handed out",
            DeadMan,
            Run::wire(1, case.set_points(2).notices(1, 0).cut_ends(1).wrong(WrongWorld::LateStamp)),
        ),
        variant(
            "",
            0,
            "copies live three times as long as stated: set-points",
            NewestWins,
            Run::radio(1, case.set_points(2).lifetime(L).wrong(WrongWorld::LongLivedCopies)),
        ),
        variant(
            "",
            0,
            "copies live three times as long as stated: errands",
            Property::Once,
            Run::radio(1, case.items(1, 0).streams(5).lifetime(L).wrong(WrongWorld::LongLivedCopies)),
        ),
    ]
}

/// Links with a rule switched off.
pub fn links() -> Vec<Variant> {
    let mut all = sessions();
    all.extend(later_sessions());
    all.extend(confirmed());
    all.extend(others());
    all
}

fn sessions() -> Vec<Variant> {
    use Property::{Heals, LiveSession, OwnSession};
    let case = Case::new("");
    let opening = case.restarts(1, 1);
    let dome = case.items(1, 0).restarts(0, 1);
    let stranger = case.items(1, 0).restarts(1, 0);
    vec![
        variant("1", 120, "the first OPEN heard opens", LiveSession, Run::wire(1, case)),
        variant("1", 120, "the first OPEN heard opens", Heals, Run::radio(1, stranger)),
        variant(
            "3",
            122,
            "silence sets numbers back in the same session",
            Property::Delivered,
            Run::wire(1, case.items(2, 0).silences(1)),
        ),
        variant("4", 27, "messages are taken before the opening", OwnSession, Run::wire(1, dome)),
        variant("9", 35, "every answer asks", Heals, Run::wire(1, case)),
        variant("10", 28, "an open side does not answer", Heals, Run::wire(1, case)),
        variant(
            "12",
            22,
            "the own number stays when a session ends",
            OwnSession,
            Run::wire(1, case.items(1, 0).ends(1)),
        ),
        variant("13", 125, "an opening side renews its number", Heals, Run::wire(1, opening)),
        variant("14", 26, "any echo will do", LiveSession, Run::wire(1, opening)),
    ]
}

fn later_sessions() -> Vec<Variant> {
    use Property::{Heals, LiveSession, OwnSession};
    let case = Case::new("");
    let dome = case.items(1, 0).restarts(0, 1);
    let stranger = case.items(1, 0).restarts(1, 0);
    let numberless = dome.numberless(false, true).lifetime(L);
    vec![
        variant("15", 36, "a numberless board does not keep quiet", OwnSession, Run::wire(1, numberless)),
        variant(
            "15b",
            126,
            "a numberless board keeps quiet for one lifetime",
            OwnSession,
            Run::wire(1, numberless),
        ),
        variant(
            "16",
            103,
            "a stranger's opening ends the session",
            LiveSession,
            Run::radio(1, case.restarts(1, 0)),
        ),
        variant(
            "17",
            104,
            "a challenge is answered by a challenge",
            LiveSession,
            Run::radio(1, case.restarts(1, 0)),
        ),
        variant("18", 22, "the challenge carries the current number", OwnSession, Run::radio(1, stranger)),
        variant("19", 129, "the tag is not compared", OwnSession, Run::radio(1, stranger)),
        variant(
            "20",
            128,
            "a wire goes by the table for radios",
            OwnSession,
            Run::wire(1, stranger.step(15)),
        ),
        variant(
            "21",
            29,
            "an open side ignores an unknown opening",
            Heals,
            Run::wire(1, case.restarts(1, 0)),
        ),
        variant(
            "26",
            131,
            "a numberless board on a radio counts up",
            OwnSession,
            Run::radio(1, numberless.ends(1).calm()),
        ),
        variant("", 101, "a stale copy of an opening ends the session", LiveSession, Run::radio(1, case)),
        variant(
            "",
            102,
            "the answer to the challenge is not taken",
            Heals,
            Run::radio(1, case.restarts(1, 0)),
        ),
        variant(
            "",
            23,
            "no common session number",
            Property::EnoughTries,
            Run::radio(1, case.items(1, 0).punctual(2)),
        ),
        variant("", 32, "messages of another session are taken", OwnSession, Run::radio(1, stranger)),
    ]
}

fn confirmed() -> Vec<Variant> {
    use Property::{Delivered, EnoughTries, Heals, InOrder, Memory, NotSent, Once, OwnSession, WakeUp};
    let case = Case::new("");
    let two = case.items(2, 0);
    vec![
        variant(
            "2",
            121,
            "an acknowledgement of another session counts",
            Delivered,
            Run::radio(1, two.restarts(1, 0)),
        ),
        variant("5", 41, "items are carried over", OwnSession, Run::wire(1, case.items(1, 0).restarts(0, 1))),
        variant("6", 40, "a bit confirms an errand", Delivered, Run::wire(2, two)),
        variant("7", 123, "a given-up number is used again", Delivered, Run::wire(2, two)),
        variant("8", 124, "a given-up number is skipped", WakeUp, Run::wire(2, two)),
        variant(
            "23",
            42,
            "numbers come round within a lifetime",
            Once,
            Run::radio(1, case.items(1, 0).streams(5).lifetime(L)),
        ),
        variant("", 137, "a repeat is not acknowledged again", Heals, Run::wire(1, two)),
        variant("", 38, "repeats are handed out", Once, Run::wire(1, case.items(1, 0))),
        variant("", 39, "errands are handed out as they come", InOrder, Run::wire(2, two)),
        variant(
            "",
            132,
            "an item that was sent is called not sent",
            NotSent,
            Run::wire(1, case.items(1, 0).restarts(0, 1)),
        ),
        variant("", 133, "gives up one try early", EnoughTries, Run::wire(1, case.items(1, 0).punctual(3))),
        variant(
            "",
            134,
            "the wake-up leaves out the time-out of items",
            WakeUp,
            Run::wire(1, case.items(1, 0)),
        ),
        variant(
            "",
            135,
            "a full queue drops its oldest errand in silence",
            Memory,
            Run::wire(1, case.items(5, 0)),
        ),
    ]
}

fn others() -> Vec<Variant> {
    use Property::{FreshTaken, NewestWins};
    let case = Case::new("");
    vec![
        variant(
            "11",
            44,
            "set-points are compared by number on a wire",
            FreshTaken,
            Run::wire(1, case.set_points(2).outages(1)),
        ),
        variant(
            "24",
            45,
            "any other set-point counts as newer",
            NewestWins,
            Run::radio(1, case.set_points(2).lifetime(L)),
        ),
        variant(
            "25",
            130,
            "set-point numbers are kept into the next session",
            FreshTaken,
            Run::radio(1, case.set_points(2).restarts(1, 0).lifetime(L)),
        ),
    ]
}
