//! A message from the words of the command line.

use bellwire::frame::{Class, MessageNumber};

use crate::{
    exit::Exit,
    fail::Fail,
    messages::{Table, nearest},
};

/// A message to send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// Its class.
    pub class: Class,
    /// Message number first.
    pub payload: Vec<u8>,
    /// How it is called on the screen.
    pub name: String,
    /// Whether it may move something.
    pub motion: Motion,
    /// What to send at the end so that nothing keeps moving.
    pub stop: Option<Vec<u8>>,
}

/// Whether a message may move something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Motion {
    /// Known to move nothing.
    None,
    /// Known to move something.
    Moves,
    /// Not in the table: nobody here knows.
    NotKnown,
}

/// Makes a message of `lamp level=40`, or of `errand 9` and the octets after the message number.
///
/// # Errors
/// What is wrong with the words, and which words there are.
pub fn message(words: &[String], payload: Option<&[u8]>, table: &Table) -> Result<Message, Fail> {
    let (first, rest) = words.split_first().ok_or_else(|| wrong("no message is named"))?;
    match Class::ALL.into_iter().find(|class| class.name() == first) {
        Some(class) => by_number(class, rest, payload, table),
        None if payload.is_some() => Err(wrong("--payload goes with a class and a message number")
            .next("write for instance: errand 9 --payload 28")),
        None => by_name(first, rest, table),
    }
}

fn wrong(what: impl Into<String>) -> Fail {
    Fail::new(Exit::Usage, what)
}

fn by_number(class: Class, rest: &[String], payload: Option<&[u8]>, table: &Table) -> Result<Message, Fail> {
    let word = class.name();
    let [number] = rest else {
        return Err(
            wrong(format!("{word} needs one message number")).next(format!("write for instance: {word} 9"))
        );
    };
    let number = number.parse().ok().and_then(MessageNumber::new).ok_or_else(|| {
        wrong(format!("`{number}` is no message number"))
            .next("give a number from 0 to 16383, after the class")
    })?;
    let (low, high) = number.octets();
    let payload = [low].into_iter().chain(high).chain(payload.unwrap_or_default().iter().copied()).collect();
    let known = table.get(number.get()).filter(|known| known.class == class);
    let motion = match (class, known) {
        (Class::Report | Class::Notice, _) => Motion::None,
        (_, Some(known)) if known.moves => Motion::Moves,
        (_, Some(_)) => Motion::None,
        (_, None) => Motion::NotKnown,
    };
    let stop = known.and_then(|known| known.stop.clone());
    Ok(Message { class, payload, name: format!("{word} {}", number.get()), motion, stop })
}

fn by_name(name: &str, rest: &[String], table: &Table) -> Result<Message, Fail> {
    let known = table.messages().iter().find(|known| known.name == *name).ok_or_else(|| {
        let names: Vec<_> = table.messages().iter().map(|known| known.name.as_str()).collect();
        let known = table.messages().iter().map(|known| known.name.as_str());
        let near = nearest(name, known.chain(Class::ALL.map(Class::name)));
        let meant = near.map_or_else(String::new, |near| format!(", did you mean '{near}'?"));
        wrong(format!("`{name}` is neither a class nor a message of {}{meant}", table.title()))
            .next(format!("messages: {}", names.join(", ")))
            .next("or a class (set-point, errand, report, notice) and a message number")
    })?;
    let mut values = Vec::new();
    for word in rest {
        let Some((field, value)) = word.split_once('=') else {
            return Err(wrong(format!("`{word}` is no value")).next(format!("write {}", usage(known))));
        };
        values.push((field, value));
    }
    let payload =
        known.write(&values).map_err(|e| wrong(e.to_string()).next(format!("write {}", usage(known))))?;
    let motion = if known.moves { Motion::Moves } else { Motion::None };
    Ok(Message { class: known.class, payload, name: name.to_owned(), motion, stop: known.stop.clone() })
}

fn usage(known: &crate::messages::MessageKind) -> String {
    let fields: String =
        known.fields.iter().map(|field| format!(" {}=({})", field.name, field.takes())).collect();
    format!("{}{fields}", known.name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observatory;

    fn made(line: &str, payload: Option<&[u8]>) -> Result<Message, String> {
        let words: Vec<_> = line.split_whitespace().map(str::to_owned).collect();
        message(&words, payload, &observatory::table()).map_err(|fail| fail.to_string())
    }

    #[test]
    fn a_name_and_a_number_make_the_same_octets() {
        let goto = made("dome-goto azimuth=123.40", None).unwrap();
        assert_eq!((goto.class, goto.motion), (Class::Errand, Motion::Moves));
        assert_eq!(goto.payload, observatory::Message::DomeGoto { azimuth: 12_340 }.payload());
        let lamp = made("lamp level=40", None).unwrap();
        assert_eq!(lamp.payload, made("errand 9", Some(&[40])).unwrap().payload);
        assert_eq!(lamp.motion, Motion::None);
        assert_eq!(made("errand 300", Some(&[1])).unwrap().payload, [0xAC, 0x02, 1]);
        assert_eq!(made("dome-rate rate=1.5", None).unwrap().stop, Some(vec![0, 0]));
    }

    #[test]
    fn what_may_move_something_is_known_or_doubted() {
        assert_eq!(made("errand 1", None).unwrap().motion, Motion::Moves);
        assert_eq!(made("errand 77", None).unwrap().motion, Motion::NotKnown);
        assert_eq!(made("set-point 77", None).unwrap().motion, Motion::NotKnown);
        assert_eq!(made("report 1", None).unwrap().motion, Motion::None);
    }

    #[test]
    fn wrong_words_are_answered_with_the_right_ones() {
        for (line, payload, part) in [
            ("", None, "no message"),
            ("errand", None, "errand 9"),
            ("errand nine", None, "0 to 16383"),
            ("errand 16384", None, "0 to 16383"),
            ("lamb level=40", None, "lamp"),
            ("lamp 40", None, "level="),
            ("lamp", None, "'level' is missing"),
            ("lamp level=500", None, "500"),
            ("lamp brightness=5", None, "level"),
            ("lamp level=4", Some(&[4][..]), "--payload goes with a class"),
        ] {
            let error = made(line, payload).unwrap_err();
            assert!(error.contains(part), "{line}: {error}");
        }
    }
}
