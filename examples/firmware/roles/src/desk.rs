//! The desk: a board that decides, with a UART to each of three others.

use core::convert::Infallible;

use bellwire::{
    framing,
    io::{Line, Whole},
    link::{Event, OwnNumber, State},
    port::{Port, PostError},
    time::{Duration, Instant, elapsed},
};
use bellwire_examples::messages::Message;

use crate::{
    agreement::{identity, open, read},
    log::log,
    mast::radio,
    radio::{AirPort, Carrier, open_air},
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
    /// Datagrams, either way, that did not get past the desk: another came before they were read, or the radio was not there.
    pub dropped: u32,
}

/// The desk: a port for each UART, and a fourth for the mast, whose datagrams the radio board carries.
///
/// One hub for many boards on one medium needs turns (`bellwire::star`); boards on wires of their own do not.
#[derive(Debug)]
pub struct Desk<L: Line> {
    dome: Port<L>,
    focuser: Port<L>,
    radio: AirPort<L>,
    mast: Port<Whole<Carrier>, framing::Datagram>,
    view: View,
    /// When a set-point was last sent.
    sent: Option<Instant>,
    /// 0.01 °/s.
    rate: i16,
}

impl<L: Line<Error = Infallible>> Desk<L> {
    /// The desk at its start. The numbers of its four sessions differ, but all come from `own`.
    pub fn new(dome: L, focuser: L, radio_line: L, own: OwnNumber, now: Instant) -> Self {
        let mut mast = Port::datagram(Carrier::new(), radio(identity::DESK, own), now);
        mast.open(now);
        Self {
            dome: open(dome, identity::DESK, own, now),
            focuser: open(focuser, identity::DESK, own, now),
            radio: open_air(radio_line, identity::DESK, own, now),
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
        while let Ok(Some(event)) = self.radio.service(now) {
            if let Event::Message(message) = event {
                self.mast.line_mut().radio_mut().handle(&message);
                serve(&mut self.mast, now, &mut self.view.mast);
            }
        }
        serve(&mut self.mast, now, &mut self.view.mast);
        let carrier = self.mast.line_mut().radio_mut();
        carrier.carry(now, &mut self.radio);
        self.view.dropped = carrier.dropped();
        if !self.view.dome.up {
            // The session ended: the operator must push the lever anew.
            self.rate = 0;
        }
        self.view
    }
}

/// Serves one line.
fn serve<L: Line<Error = Infallible>, F: bellwire::framing::Framing>(
    port: &mut Port<L, F>,
    now: Instant,
    seen: &mut Seen,
) {
    while let Ok(Some(event)) = port.service(now) {
        log!("{}", event);
        if let Event::Message(message) = event {
            seen.last = read(&message);
            seen.count = seen.count.saturating_add(1);
        }
    }
    seen.up = port.state() != State::Down;
}
