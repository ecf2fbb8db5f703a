//! Rules of WIRE.md switched off one at a time, and the vectors that show what each is good for.
//!
//! Built with `RUSTFLAGS="--cfg bellwire_rule_switch"`, the core leaves out the rule that `BELLWIRE_RULE_OFF` names; see `tests/rules`.

use crate::{
    line::finds,
    session::{Script, play},
    vector::{self, Find, FramingName, Rejected, Stream},
};
use bellwire::time::Instant;

/// The environment variable that names the rule to switch off, for instance `W-29a`.
pub const VARIABLE: &str = "BELLWIRE_RULE_OFF";

/// Switches off the rule that the environment names; call it first in every test named after a rule.
pub fn apply() {
    #[cfg(bellwire_rule_switch)]
    if let Ok(name) = std::env::var(VARIABLE) {
        bellwire::rules::switch_off(number(&name));
    }
}

/// The number under which the core knows a rule: `W-29a` to `W-29d` are 101 to 104.
///
/// # Panics
/// If `name` is not that of a rule.
#[must_use]
pub fn number(name: &str) -> u8 {
    match name {
        "W-29a" => 101,
        "W-29b" => 102,
        "W-29c" => 103,
        "W-29d" => 104,
        _ => name.strip_prefix("W-").and_then(|digits| digits.parse().ok()).expect("the name of a rule"),
    }
}

/// Plays every vector that shows this rule.
///
/// # Panics
/// If one goes otherwise, or if there is none.
pub fn show(rule: &str) {
    apply();
    let mut shown = 0;
    for vector in vector::read::<Rejected>("rejects").into_iter().filter(|vector| vector.rule == rule) {
        let found = finds(vector.line, [&vector.wire.0[..]]);
        assert_eq!(found, [Find::Reject(vector.reject.clone())], "{} ({:?})", vector.name, vector.line);
        shown += 1;
    }
    for vector in vector::read::<Stream>("streams").into_iter().filter(|vector| named(&vector.rules, rule)) {
        assert_eq!(
            finds(vector.line, [&vector.wire.0[..]]),
            vector.finds,
            "{} ({:?})",
            vector.name,
            vector.line
        );
        shown += 1;
    }
    for script in vector::read::<Script>("sessions").into_iter().filter(|script| named(&script.rules, rule)) {
        play(&script, Instant::from_ticks(0)).unwrap_or_else(|fault| panic!("{fault}"));
        shown += 1;
    }
    assert!(shown > 0, "no vector shows {rule}");
    println!("{rule}: {shown} vectors");
}

fn named(rules: &[String], rule: &str) -> bool {
    rules.iter().any(|name| name == rule)
}

/// Good frames of one framing are made as in the vectors.
///
/// # Panics
/// If one is not.
pub fn make_frames_of(framing: FramingName) {
    apply();
    for vector in
        vector::read::<vector::Frame>("frames").into_iter().filter(|vector| vector.line.framing == framing)
    {
        let made = crate::line::encode(vector.line, bellwire::framing::Lead::Delimiter, &vector.frame.0);
        assert_eq!(vector::hex(&made), vector::hex(&vector.wire.0), "{}", vector.name);
        let found = finds(vector.line, [&vector.wire.0[..]]);
        assert_eq!(found, [Find::Frame(vector.frame)], "{}", vector.name);
    }
}
