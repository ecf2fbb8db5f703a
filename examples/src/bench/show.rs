//! Events and motions in words.

use std::cell::Cell;

use bellwire::{
    frame::Class,
    link::{EndReason, Event, Outcome},
    setpoint::Stop,
};

/// An event in words; `None` for those that a lesson does not tell.
#[must_use]
pub fn words(event: &Event<'_>) -> Option<String> {
    Some(match event {
        Event::Opened(_) => "the link is open".to_owned(),
        Event::Quiet => "the peer is quiet".to_owned(),
        Event::Resumed => "the peer is heard again".to_owned(),
        Event::Ended(EndReason::PeerRestarted(cause)) => {
            format!("the session has ended: the peer restarted ({})", cause.reason())
        }
        Event::Ended(EndReason::Silence) => "the session has ended: silence".to_owned(),
        Event::Ended(EndReason::Mismatch) => "the session has ended: the agreements differ".to_owned(),
        Event::Ended(EndReason::Closed) => "the session has ended: closed".to_owned(),
        Event::Mismatch { ours, theirs } => format!(
            "agreements differ: ours {:08X}, theirs {:08X}; nothing is sent",
            ours.fingerprint, theirs.fingerprint
        ),
        Event::Message(message) => {
            let article = if message.class == Class::Errand { "an" } else { "a" };
            format!("{article} {} comes, message number {}", message.class.name(), message.message.get())
        }
        Event::Outcome { outcome, .. } => match outcome {
            Outcome::Delivered => "the outcome: delivered".to_owned(),
            Outcome::NotSent(_) => "the outcome: not sent".to_owned(),
            Outcome::Unknown => "the outcome: unknown (it may have arrived)".to_owned(),
        },
        Event::Resent { tries, .. } => format!("sent again, sending number {tries}"),
        Event::Text(text) => format!("text on the wire: {:?}", String::from_utf8_lossy(text)),
        Event::Refused(reject) => format!("refused: {}", reject.reason()),
        _ => return None,
    })
}

/// Hands an event in words to `tell`, if a lesson tells it.
pub fn event(event: &Event<'_>, tell: impl FnOnce(&str)) {
    if let Some(words) = words(event) {
        tell(&words);
    }
}

/// A motor that tells when its drive changes.
pub fn motor(mut tell: impl FnMut(String)) -> impl FnMut(i16, Stop) {
    let last = Cell::new(0);
    move |rate, stop| {
        if last.replace(rate) == rate {
            return;
        }
        match rate {
            0 => tell(format!("the motor stops ({})", stop.name())),
            _ => tell(format!("the motor turns at {:.2} °/s", f32::from(rate) / 100.0)),
        }
    }
}
