//! Names of an agreement as names of a language: every one once, and none a word that the language keeps for itself.

use std::collections::BTreeSet;

/// `dome-rate` as `dome_rate`.
#[must_use]
pub fn snake(name: &str) -> String {
    name.replace('-', "_")
}

/// `dome-rate` as `DOME_RATE`.
#[must_use]
pub fn capitals(name: &str) -> String {
    snake(name).to_ascii_uppercase()
}

/// `dome-rate` as `DomeRate`.
#[must_use]
pub fn camel(name: &str) -> String {
    let word = |word: &str| {
        let mut letters = word.chars();
        letters.next().map(|first| first.to_ascii_uppercase().to_string() + letters.as_str())
    };
    name.split('-').filter_map(word).collect()
}

/// The names that are taken in one scope.
#[derive(Debug, Clone)]
pub struct Names(BTreeSet<String>);

impl Names {
    /// A scope where these words cannot be used.
    #[must_use]
    pub fn without(kept: &[&str]) -> Self {
        Self(kept.iter().map(|&word| word.to_owned()).collect())
    }

    /// `wanted`, with as many of `more` behind it as make it new here.
    pub fn pick(&mut self, wanted: &str, more: &str) -> String {
        let mut name = wanted.to_owned();
        while !self.0.insert(name.clone()) {
            name.push_str(more);
        }
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_new_and_no_words_of_the_language() {
        assert_eq!(
            (snake("re-arm"), capitals("re-arm"), camel("re-arm-2")),
            ("re_arm".into(), "RE_ARM".into(), "ReArm2".into())
        );
        let mut names = Names::without(&["move"]);
        assert_eq!(
            [names.pick("move", "_"), names.pick("move", "_"), names.pick("rate", "_")],
            ["move_", "move__", "rate"]
        );
    }
}
