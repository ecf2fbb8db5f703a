//! The part of an agreement that one board needs, so that a small one is spared the rest.

use super::Agreement;
use crate::{
    exit::Exit,
    fail::Fail,
    messages::{MessageKind, nearest},
};

impl Agreement {
    /// Only the messages that `board` sends or takes; all of them for the hub. The fingerprint stays that of the whole.
    ///
    /// # Errors
    /// If there is no such board.
    pub fn of_board(self, board: &str) -> Result<Self, Fail> {
        if board == self.hub {
            return Ok(self);
        }
        let known: Vec<_> =
            self.boards.iter().map(|known| known.name.clone()).chain([self.hub.clone()]).collect();
        if !known.iter().any(|name| name == board) {
            return Err(stranger("board", board, &known));
        }
        Ok(self.part(|message| message.boards.is_empty() || message.boards.iter().any(|name| name == board)))
    }

    /// Only the messages of these names. The fingerprint stays that of the whole.
    ///
    /// # Errors
    /// The first name that no message has.
    pub fn of_messages(self, names: &[String]) -> Result<Self, Fail> {
        let known: Vec<_> = self.table.messages().iter().map(|message| message.name.clone()).collect();
        if let Some(name) = names.iter().find(|name| !known.contains(name)) {
            return Err(stranger("message", name, &known));
        }
        Ok(self.part(|message| names.contains(&message.name)))
    }

    fn part(mut self, keeps: impl Fn(&MessageKind) -> bool) -> Self {
        self.table = self.table.part(keeps);
        let names: Vec<_> = self.table.messages().iter().map(|message| message.name.as_str()).collect();
        let part = format!("Only a part of its messages: {}.", names.join(", "));
        self.text = if self.text.is_empty() { part } else { format!("{}\n\n{part}", self.text) };
        self
    }
}

fn stranger(what: &str, name: &str, known: &[String]) -> Fail {
    let near = nearest(name, known.iter().map(String::as_str));
    let meant = near.map_or_else(String::new, |near| format!(", did you mean '{near}'?"));
    Fail::new(Exit::Usage, format!("the agreement has no {what} `{name}`{meant}"))
        .next(format!("it has: {}", known.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn observatory() -> Agreement {
        Agreement::read(include_str!("../../../examples/observatory/agreement.toml")).unwrap()
    }

    fn numbers(agreement: &Agreement) -> Vec<u16> {
        agreement.table.messages().iter().map(|message| message.number).collect()
    }

    #[test]
    fn a_board_gets_its_messages_and_the_fingerprint_of_the_whole() {
        let whole = observatory();
        assert_eq!(whole.clone().of_board("desk").unwrap(), whole);
        let focuser = whole.clone().of_board("focuser").unwrap();
        assert_eq!(numbers(&focuser), [6, 7, 10, 11, 12, 15]);
        assert_eq!(focuser.table.fingerprint(), whole.table.fingerprint());
        assert!(
            focuser.text.ends_with("focuser-goto, focuser-state, log-line, focuser-rate, dew-heater, site.")
        );
        let two = whole.of_messages(&["lamp".into(), "door".into()]).unwrap();
        assert_eq!(numbers(&two), [9, 16]);
        assert!(two.table.get(3).is_none());
    }

    #[test]
    fn strangers_are_told_with_what_there_is() {
        let error = observatory().of_board("domes").unwrap_err().to_string();
        assert!(error.contains("did you mean 'dome'?") && error.contains("porch"), "{error}");
        let error = observatory().of_messages(&["lamp".into(), "doom-rate".into()]).unwrap_err().to_string();
        assert!(error.contains("no message `doom-rate`, did you mean 'dome-rate'?"), "{error}");
    }
}
