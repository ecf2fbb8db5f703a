//! The desk: a board that decides, with a UART to each of three others.

use core::convert::Infallible;

use bellwire::{
    framing::{Framing, RadioBoard},
    io::Line,
    link::{Event, OwnNumber, State},
    port::{Port, PostError},
    time::{Duration, Instant, elapsed},
};
use bellwire_examples::messages::Message;

use crate::{
    agreement::{identity, open, read},
    log::log,
    mast::radio,
};

/// Pause between two set-points: four of five may be lost before the dome stops.
const PERIOD: Duration = Duration::from_millis(100);

/// What the desk sees of a board: the last message of each, and how many came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Seen {
    /// Whether a session is open.
    pub up: bool,
    /// The last message.
    pub last: Option<Message>,
    /// How many messages came.
    pub count: u32,
}

/// What the desk sees of all boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct View {
    /// The dome.
    pub dome: Seen,
    /// The focuser.
    pub focuser: Seen,
    /// The mast, through the radio.
    pub mast: Seen,
}

/// The desk: a port for each UART. The radio board on the third carries the datagrams of the mast, and is itself no peer.
///
/// One hub for many boards on one medium needs turns (`bellwire::star`); boards on wires of their own do not.
#[derive(Debug)]
pub struct Desk<L: Line> {
    dome: Port<L>,
    focuser: Port<L>,
    mast: Port<L, RadioBoard>,
    view: View,
    /// When a set-point was last sent.
    sent: Option<Instant>,
    /// 0.01 °/s.
    rate: i16,
}

impl<L: Line<Error = Infallible>> Desk<L> {
    /// The desk at its start. The numbers of its three sessions differ, but all come from `own`.
    pub fn new(dome: L, focuser: L, radio_line: L, own: OwnNumber, now: Instant) -> Self {
        let mut mast = Port::new(radio_line, RadioBoard, radio(identity::DESK, own), now);
        mast.open(now);
        Self {
            dome: open(dome, identity::DESK, own, now),
            focuser: open(focuser, identity::DESK, own, now),
            mast,
            view: View::default(),
            sent: None,
            rate: 0,
        }
    }

    /// The operator wants the dome to turn at this rate, 0.01 °/s, from now on: zero is letting go. With the link down it is not kept for later.
    pub fn drive(&mut self, rate: i16) {
        self.rate = if self.dome.state() == State::Down { 0 } else { rate };
    }

    /// The operator gives an errand, to the board that it is for.
    ///
    /// # Errors
    /// Why it was not sent, for certain.
    pub fn order(&mut self, now: Instant, errand: Message) -> Result<(), PostError> {
        let port = match errand {
            Message::FocuserGoto { .. } => &mut self.focuser,
            _ => &mut self.dome,
        };
        port.errand(now, &errand).map(|_| ())
    }

    /// Serves all lines; gives what the desk sees.
    pub fn turn(&mut self, now: Instant) -> View {
        if self.sent.is_none_or(|at| elapsed(now, at) >= PERIOD) {
            let _ = self.dome.set(now, &Message::DomeRate { rate: self.rate });
            self.sent = Some(now);
        }
        serve(&mut self.dome, now, &mut self.view.dome);
        serve(&mut self.focuser, now, &mut self.view.focuser);
        serve(&mut self.mast, now, &mut self.view.mast);
        if !self.view.dome.up {
            // The session ended: the operator must push the lever anew.
            self.rate = 0;
        }
        self.view
    }
}

/// Serves one line.
fn serve<L: Line<Error = Infallible>, F: Framing>(port: &mut Port<L, F>, now: Instant, seen: &mut Seen) {
    while let Ok(Some(event)) = port.service(now) {
        log!("{}", event);
        if let Event::Message(message) = event {
            seen.last = read(&message);
            seen.count = seen.count.saturating_add(1);
        }
    }
    seen.up = port.state() != State::Down;
}
