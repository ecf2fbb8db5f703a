//! Named conditions of a line, with their numbers.
//!
//! | name | octets dropped | octets with a bit flipped | stray octets | bad spells | frames lost or copied | for |
//! |---|---|---|---|---|---|---|
//! | [`clean`](CLEAN) | 0 | 0 | 0 | none | 0 | a wire on the desk |
//! | [`bench`](BENCH) | 1 in 20 000 | 1 in 5 000 | 1 in 50 000 | none | 0 | jumper wires beside a motor |
//! | [`motor`](MOTOR) | 1 in 2 000 | 1 in 1 000 | 1 in 5 000 | 1 in 4 000 octets, 20 octets long, half of them spoilt | 0 | one cable with a motor |
//! | [`hostile`](HOSTILE) | 1 in 100 | 1 in 50 | 1 in 100 (and as many doubled) | 1 in 500 octets, 50 long, all spoilt | 1 in 10 lost | tests only |
//! | [`field`](FIELD) | - | 0 | - | 1 in 200 datagrams, 5 long, nearly all lost | 1 in 50 lost | radio across a garden |
//! | [`crowd`](CROWD) | - | 1 in 2 000 | - | none | 1 in 5 lost, 1 in 5 copied, 1 in 3 up to 200 ms late | tests only |
//!
//! The odds are round numbers chosen to show something within a minute, not measurements of any wire.

use super::fault::{Faults, Spell};
use core::time::Duration;

/// No faults.
pub const CLEAN: Faults = Faults::NONE;

/// Jumper wires on a bench.
pub const BENCH: Faults = Faults { drop: 0.000_05, flip: 0.000_2, insert: 0.000_02, ..Faults::NONE };

/// A long cable beside a motor's.
pub const MOTOR: Faults = Faults {
    drop: 0.000_5,
    flip: 0.001,
    insert: 0.000_2,
    spell: Some(Spell { begin: 0.000_25, end: 0.05, spoil: 0.5 }),
    ..Faults::NONE
};

/// Worse than any wire: for tests on octet lines.
pub const HOSTILE: Faults = Faults {
    drop: 0.01,
    flip: 0.02,
    double: 0.01,
    insert: 0.01,
    lose: 0.1,
    spell: Some(Spell { begin: 0.002, end: 0.02, spoil: 1.0 }),
    ..Faults::NONE
};

/// A radio across a garden.
pub const FIELD: Faults =
    Faults { lose: 0.02, spell: Some(Spell { begin: 0.005, end: 0.2, spoil: 0.9 }), ..Faults::NONE };

/// Worse than any radio: for tests on datagram lines. Copies live up to 200 ms longer.
pub const CROWD: Faults = Faults {
    flip: 0.000_5,
    lose: 0.2,
    copy: 0.2,
    late: 0.333,
    late_by: Duration::from_millis(200),
    ..Faults::NONE
};

/// All profiles with their names.
pub const ALL: [(&str, Faults); 6] = [
    ("clean", CLEAN),
    ("bench", BENCH),
    ("motor", MOTOR),
    ("hostile", HOSTILE),
    ("field", FIELD),
    ("crowd", CROWD),
];

/// The profile of this name, if there is one.
#[must_use]
pub fn named(name: &str) -> Option<Faults> {
    ALL.iter().find(|(known, _)| *known == name).map(|(_, faults)| *faults)
}
