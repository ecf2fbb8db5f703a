//! Names: of messages, fields, words of choices, boards and links.

use super::{
    fault::{Faults, Span},
    section::shown,
};
use std::collections::BTreeMap;

/// Most letters of a name.
const LONGEST: usize = 32;

/// Whether it is a name: lower-case letters, digits and single hyphens, a letter first.
fn is_name(text: &str) -> bool {
    let letters = |c: u8| c.is_ascii_lowercase() || c.is_ascii_digit() || c == b'-';
    text.len() <= LONGEST
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.bytes().all(letters)
        && !text.contains("--")
        && !text.ends_with('-')
}

/// Takes a name; a fault if it is none.
pub(super) fn name(what: &str, text: &str, at: &Span, faults: &mut Faults) -> String {
    if is_name(text) {
        return text.to_owned();
    }
    let mut near = String::new();
    for c in text.chars().take(LONGEST) {
        match c {
            'A'..='Z' => near.push(c.to_ascii_lowercase()),
            'a'..='z' | '0'..='9' => near.push(c),
            _ if !near.is_empty() && !near.ends_with('-') => near.push('-'),
            _ => {}
        }
    }
    let near = near.trim_end_matches('-');
    let instead = if text.len() > LONGEST {
        format!("write at most {LONGEST} letters")
    } else if is_name(near) {
        format!("write \"{near}\"")
    } else {
        "write lower-case letters, digits and single hyphens, a letter first".to_owned()
    };
    faults.add(at, format!("'{}' is no name of a {what}", shown(text)), instead);
    String::new()
}

/// Names or numbers seen so far, to find what is used twice.
#[derive(Debug)]
pub(super) struct Seen<K> {
    what: &'static str,
    first: BTreeMap<K, Span>,
}

impl<K: Ord + std::fmt::Display> Seen<K> {
    pub(super) const fn new(what: &'static str) -> Self {
        Self { what, first: BTreeMap::new() }
    }

    /// Notes a name or number; a fault at the second place where it is used.
    pub(super) fn add(&mut self, key: K, at: &Span, source: &str, faults: &mut Faults) {
        let Some(first) = self.first.get(&key) else {
            self.first.insert(key, at.clone());
            return;
        };
        let line = source.get(..first.start).map_or(1, |before| before.matches('\n').count() + 1);
        faults.add(
            at,
            format!("the {} {key} is used twice", self.what),
            format!("line {line} has it already; take another"),
        );
    }
}
