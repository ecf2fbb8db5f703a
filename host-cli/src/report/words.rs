//! The sentences that text, JSON and CSV share.

use super::{Frame, Hint, What};
use crate::{
    endpoint::Direction,
    messages::{Table, told},
};
use bellwire::{
    frame::{Class, Kind, MessageNumber},
    radio::Hearing,
};

/// What the two directions of a port are called: frames that come in, frames that go out.
pub(super) const SIDES: [&str; 2] = ["in", "out"];

/// Message numbers that the wire text reserves (W-68, W-66); what is behind them is told, where something is.
const RELAYED: u16 = 16_382;
const HEARING: u16 = 16_383;

/// The message number at the start of a payload, if there is one.
pub(crate) fn message_number(payload: &[u8]) -> Option<u16> {
    let message = told(payload);
    // A hearing alone has no message behind it.
    let message = if message.is_empty() { payload } else { message };
    MessageNumber::split(message).ok().map(|(number, _)| number.get())
}

/// What the sender of a report or notice tells of what it hears, if it does (W-66).
pub(super) fn hearing(frame: &Frame<'_>) -> Option<Hearing> {
    let tells = matches!(frame.header.kind, Kind::Report | Kind::Notice);
    if tells { Hearing::split(&frame.payload).ok().and_then(|(hearing, _)| hearing) } else { None }
}

/// A hearing in words.
pub(super) fn hearing_text(hearing: &Hearing) -> String {
    let Hearing { sent, heard, age, strength } = hearing;
    let mut text = format!("it sent {sent}, heard {heard}");
    match age {
        None => {}
        Some(254) => text.push_str(", last 254 s ago or more"),
        Some(age) => text.push_str(&format!(", last {age} s ago")),
    }
    if let Some(dbm) = strength {
        text.push_str(&format!(" at {dbm} dBm"));
    }
    text
}

/// The field `event` of the JSON form.
pub(super) const fn event_word(what: &What) -> &'static str {
    match what {
        What::Opened { .. } => "opened",
        What::Restarted { .. } => "restarted",
        What::Ended => "ended",
        What::Differs { .. } => "differs",
        What::SessionUnseen { .. } => "session-unseen",
        What::OtherSession { .. } => "other-session",
        What::Delivered { .. } => "delivered",
        What::Missing { .. } => "missing",
        What::GivenUp { .. } => "given-up",
        What::ProbeAnswered { .. } => "probe-answered",
        What::Silent { .. } => "silent",
        What::Own { word, .. } => word,
    }
}

/// The class of missing frames; errands and reports share their numbers.
pub(super) const fn missing_class(class: Class) -> &'static str {
    if class.is_confirmed() { "confirmed" } else { class.name() }
}

/// What a piece of foreign text looks like.
pub(super) const fn hint(hint: Hint) -> &'static str {
    match hint {
        Hint::Login => "login prompt",
        Hint::Prompt => "prompt of a shell or interpreter",
        Hint::Crash => "crash message",
    }
}

/// What to make of such text.
pub(super) const fn advice(hint: Hint) -> &'static str {
    match hint {
        Hint::Login => "a login prompt: another program serves this line",
        Hint::Prompt => "a prompt: a shell or an interpreter sits on this line",
        Hint::Crash => "a crash: the program on the board stopped here",
    }
}

/// Nanoseconds as milliseconds.
pub(super) fn milliseconds(ns: u64) -> String {
    format!("{}.{:01} ms", ns / 1_000_000, ns / 100_000 % 10)
}

/// The name of a message, or its number.
pub(super) fn message(number: Option<u16>, table: &Table) -> String {
    match number {
        Some(RELAYED) => "an outcome of a relayed message".to_owned(),
        Some(HEARING) => "a hearing".to_owned(),
        Some(number) => {
            table.get(number).map_or_else(|| format!("message {number}"), |kind| kind.name.clone())
        }
        None => "message not seen".to_owned(),
    }
}

fn times(sendings: u8) -> String {
    match sendings {
        0 => "sent unseen".to_owned(),
        1 => "sent once".to_owned(),
        2 => "sent twice".to_owned(),
        more => format!("sent {more} times"),
    }
}

fn numbers(first: u8, count: u8) -> String {
    if count == 1 {
        format!("number {first}")
    } else {
        format!("numbers {first} to {}", first.wrapping_add(count.wrapping_sub(1)))
    }
}

/// Which side holds the older version of the same agreement, if both are known here.
fn older(inward: u32, outward: u32, table: &Table) -> Option<Direction> {
    let (inward, outward) = (table.of(inward)?, table.of(outward)?);
    match inward.version().cmp(&outward.version()) {
        _ if inward.name() != outward.name() => None,
        std::cmp::Ordering::Less => Some(Direction::In),
        std::cmp::Ordering::Equal => None,
        std::cmp::Ordering::Greater => Some(Direction::Out),
    }
}

/// An event as a sentence without its first word; `sides` are the names of both directions.
pub(super) fn event(what: &What, table: &Table, sides: [&str; 2]) -> String {
    match what {
        What::Opened { session, window, max_payload, .. } => {
            format!("link open: session {session:05x}, window {window}, payload up to {max_payload} octets")
        }
        What::Restarted { cause } => {
            format!("this board started anew ({}); unconfirmed items are unknown", cause.reason())
        }
        What::Ended => "the session was ended; unconfirmed items are unknown".to_owned(),
        What::Differs { fingerprint_in, fingerprint_out, version_in, version_out } => {
            let [a, b] = sides;
            if version_in == version_out {
                let older = match older(*fingerprint_in, *fingerprint_out, table) {
                    Some(Direction::In) => format!("{a} holds the OLDER one; "),
                    Some(Direction::Out) => format!("{b} holds the OLDER one; "),
                    None => String::new(),
                };
                let (of_a, of_b) = (table.called(*fingerprint_in), table.called(*fingerprint_out));
                format!(
                    "the agreements differ: {a} {of_a}, {b} {of_b}; {older}set-points and errands are held back, nothing is delivered"
                )
            } else {
                format!("the wire versions differ: {a} {version_in}, {b} {version_out}; nothing is delivered")
            }
        }
        What::SessionUnseen { session } => {
            format!("session bits are now {session}, its opening was not seen; counting starts anew")
        }
        What::OtherSession { session } => {
            format!("the next frame is of another session (bits {session}): its receiver drops it (W-32)")
        }
        What::Delivered { class, number, message: of, sendings, after } => {
            // Seen beside its receiver, a message and its acknowledgement have one time.
            let after = after.filter(|&ns| ns >= 50_000);
            let after = after.map(|ns| format!(" after {}", milliseconds(ns))).unwrap_or_default();
            format!("{} {number} {}{after}, {}", class.name(), message(*of, table), times(*sendings))
        }
        What::Missing { class, first, count } => {
            let (class, plural) = (missing_class(*class), if *count == 1 { "" } else { "s" });
            let class = if class == "confirmed" { "confirmed frame" } else { class };
            format!("{count} {class}{plural} missing: {}", numbers(*first, *count))
        }
        What::GivenUp { number, message: of } => {
            format!("{number} {}: its sender stopped trying, the outcome is unknown", message(*of, table))
        }
        What::ProbeAnswered { id, after } => {
            let after = after.map(|ns| format!(" after {}", milliseconds(ns))).unwrap_or_default();
            format!("probe {id} answered{after}")
        }
        What::Silent { lasted } => {
            format!("nothing for {}, longer than this side promised", milliseconds(*lasted))
        }
        What::Own { text, .. } => text.clone(),
    }
}

/// The name of a direction.
pub(super) const fn side(direction: Direction, sides: [&str; 2]) -> &str {
    let [inward, outward] = sides;
    match direction {
        Direction::In => inward,
        Direction::Out => outward,
    }
}
