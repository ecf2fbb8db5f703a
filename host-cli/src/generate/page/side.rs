//! What one board sends and takes.

use crate::{
    agreement::{Agreement, Link},
    messages::{MessageKind, Way},
};

/// A board with its messages.
#[derive(Debug)]
pub(super) struct Side<'a> {
    /// Its name, or `any leaf`.
    pub(super) name: &'a str,
    /// What it is, for people.
    pub(super) text: &'a str,
    /// The links that it hangs on, as far as the agreement says.
    pub(super) links: Vec<&'a Link>,
    /// What it sends.
    pub(super) sends: Vec<&'a MessageKind>,
    /// What it takes.
    pub(super) takes: Vec<&'a MessageKind>,
}

impl<'a> Side<'a> {
    /// Every board, the hub first. Where the agreement names no leaf, one stands for all.
    #[must_use]
    pub(super) fn all(agreement: &'a Agreement) -> Vec<Self> {
        let messages = agreement.table.messages();
        let going = |way: Way, leaf: Option<&str>| -> Vec<&'a MessageKind> {
            let is_of = |message: &&MessageKind| {
                leaf.is_none_or(|leaf| {
                    message.boards.is_empty() || message.boards.iter().any(|name| name == leaf)
                })
            };
            messages
                .iter()
                .filter(|message| [way, Way::Either].contains(&message.way))
                .filter(is_of)
                .collect()
        };
        let mut sides = vec![Self {
            name: &agreement.hub,
            text: "The hub: the board in the middle.",
            links: agreement.links.iter().collect(),
            sends: going(Way::ToLeaf, None),
            takes: going(Way::ToHub, None),
        }];
        for board in &agreement.boards {
            sides.push(Self {
                name: &board.name,
                text: &board.text,
                links: agreement.link_of(&board.name).into_iter().collect(),
                sends: going(Way::ToHub, Some(&board.name)),
                takes: going(Way::ToLeaf, Some(&board.name)),
            });
        }
        if agreement.boards.is_empty() {
            let (sends, takes) = (going(Way::ToHub, None), going(Way::ToLeaf, None));
            sides.push(Self { name: "any leaf", text: "", links: Vec::new(), sends, takes });
        }
        sides
    }
}

/// A link in words, with its rate where the agreement's text says it.
#[must_use]
pub(super) fn told(link: &Link) -> String {
    let text = link.text.trim().trim_end_matches('.');
    let lead = if text.is_empty() { String::new() } else { format!("{text}; ") };
    format!("{lead}payload up to {} octets.", link.payload)
}

/// Names with their numbers.
#[must_use]
pub(super) fn listed(messages: &[&MessageKind]) -> Vec<String> {
    messages.iter().map(|message| format!("{} {}", message.number, message.name)).collect()
}
