//! What all boards of the observatory have agreed on: the lessons' messages, their classes, and the long names of the boards.

use bellwire::{
    frame::Class,
    io::Line,
    link::{self, Config, OwnNumber, SendError},
    port::Port,
    time::Instant,
    typed,
};
use bellwire_examples::messages::Message;
use parts::Text;

use crate::log::log;

pub use bellwire_examples::messages::FINGERPRINT;

/// The long names of the boards.
pub mod identity {
    /// The computer or board that decides.
    pub const DESK: u64 = 0x0B5E_0000_0000_DE5C;
    /// The dome.
    pub const DOME: u64 = 0x0B5E_0000_0000_D03E;
    /// The focuser.
    pub const FOCUSER: u64 = 0x0B5E_0000_0000_F0C5;
    /// The weather mast.
    pub const MAST: u64 = 0x0B5E_0000_0000_3A57;
}

/// A port on a UART with the defaults for two boards, opening.
pub(crate) fn open<L: Line>(line: L, identity: u64, own: OwnNumber, now: Instant) -> Port<L> {
    let config = Config { identity, fingerprint: FINGERPRINT, ..Config::uart(115_200, own) };
    log!("opens as {=u64:#018x}", identity);
    let mut port = Port::uart(line, config, now);
    port.open(now);
    port
}

/// The class in which a message travels.
const fn class(message: &Message) -> Class {
    match message {
        Message::DomeRate { .. } => Class::SetPoint,
        Message::DomeState { .. } | Message::FocuserState { .. } | Message::Weather { .. } => Class::Report,
        Message::DomeGoto { .. }
        | Message::Shutter(_)
        | Message::DomeAlarm(_)
        | Message::Rearm
        | Message::FocuserGoto { .. } => Class::Errand,
    }
}

/// Reads what has come; `None` if it is not in the agreement, or came in another class than agreed.
#[must_use]
pub fn read(message: &link::Message<'_>) -> Option<Message> {
    typed::read::<Message>(message.payload).ok().filter(|known| class(known) == message.class)
}

/// The message number of a line of text for people.
const LOG_LINE: u8 = 10;

/// Sends a line of text for people, as a notice: it may get lost, so nothing hangs on it. What is longer than a payload is cut.
///
/// # Errors
/// The link's: it was not sent.
pub fn log_line<L: Line>(port: &mut Port<L>, now: Instant, line: &Text<40>) -> Result<(), SendError> {
    let text = line.octets();
    let mut payload = [0; 42];
    let [number, len, octets @ ..] = &mut payload;
    (*number, *len) = (LOG_LINE, text.len().to_le_bytes()[0]);
    for (cell, octet) in octets.iter_mut().zip(text) {
        *cell = *octet;
    }
    let whole = payload.get(..text.len().saturating_add(2)).unwrap_or_default();
    port.send(now, Class::Notice, whole).map(|_| ())
}
