//! The focuser: errands that move it.

use bellwire::{
    io::Line,
    link::{Event, OwnNumber, State},
    port::Port,
    time::{Duration, Instant, after, elapsed},
};
use bellwire_examples::messages::Message;
use parts::Text;

use crate::{
    agreement::{identity, log_line, open, read},
    log::log,
};

/// How far it goes, µm: an errand beyond is refused.
const FARTHEST: u32 = 50_000;
/// Time for one µm.
const STEP: Duration = Duration::from_millis(2);
/// Pause between two reports.
const PAUSE: Duration = Duration::from_millis(1_000);

/// The focuser board: it steps towards where the newest errand sends it, and stops where it is when the session ends.
#[derive(Debug)]
pub struct Focuser<L: Line> {
    port: Port<L>,
    control: Control,
}

#[derive(Debug)]
struct Control {
    /// µm.
    position: u32,
    target: u32,
    /// When the last step was made.
    stepped: Instant,
    /// When the state was last reported; `None`: it is to be reported now.
    reported_at: Option<Instant>,
    is_refused: bool,
    lost_told: u32,
}

impl<L: Line> Focuser<L> {
    /// The board at its start, at rest at `position`, µm: from its storage, or from a switch at the end of its way.
    pub fn new(line: L, own: OwnNumber, position: u32, now: Instant) -> Self {
        let control = Control {
            position,
            target: position,
            stepped: now,
            reported_at: None,
            is_refused: false,
            lost_told: 0,
        };
        Self { port: open(line, identity::FOCUSER, own, now), control }
    }

    /// One turn of the control loop: serves the line, and gives where the stepper shall be now, µm. `temperature` is in 0.01 °C, `lost` counts
    /// the octets that the line has lost since the start.
    ///
    /// # Errors
    /// The line's.
    pub fn turn(&mut self, now: Instant, temperature: i16, lost: u32) -> Result<u32, L::Error> {
        while let Some(event) = self.port.service(now)? {
            self.control.handle(&event);
        }
        self.control.step(now);
        if self.port.state() != State::Down {
            self.control.tell(now, &mut self.port, temperature, lost);
        }
        Ok(self.control.position)
    }

    /// Where it is sent, µm.
    #[must_use]
    pub const fn target(&self) -> u32 {
        self.control.target
    }

    /// The line.
    pub const fn line(&self) -> &L {
        self.port.line()
    }

    /// The line.
    pub const fn line_mut(&mut self) -> &mut L {
        self.port.line_mut()
    }

    /// The port, for a loop that waits on it.
    pub const fn port(&self) -> &Port<L> {
        &self.port
    }
}

impl Control {
    fn handle(&mut self, event: &Event<'_>) {
        log!("{}", event);
        match event {
            Event::Opened(_) => self.reported_at = None,
            Event::Ended(_) => self.target = self.position,
            Event::Message(message) => match read(message) {
                Some(Message::FocuserGoto { position }) if position <= FARTHEST => self.target = position,
                _ => self.is_refused = true,
            },
            _ => {}
        }
    }

    /// Makes the steps that are due, at most one for each step of time.
    fn step(&mut self, now: Instant) {
        while elapsed(now, self.stepped) >= STEP {
            if self.position == self.target {
                self.stepped = now;
                return;
            }
            let there = self.position < self.target;
            self.position =
                if there { self.position.saturating_add(1) } else { self.position.saturating_sub(1) };
            self.stepped = after(self.stepped, STEP);
            if self.position == self.target {
                self.reported_at = None;
            }
        }
    }

    fn tell<L: Line>(&mut self, now: Instant, port: &mut Port<L>, temperature: i16, lost: u32) {
        if lost != self.lost_told {
            let line = Text::new().word("overrun: octets lost so far: ").count(lost);
            if log_line(port, now, &line).is_ok() {
                self.lost_told = lost;
            }
        }
        if core::mem::take(&mut self.is_refused) {
            let _ = log_line(port, now, &Text::new().word("only focuser-goto, 0 to 50000"));
        }
        if self.reported_at.is_none_or(|at| elapsed(now, at) >= PAUSE) {
            let _ = port.report(now, &Message::FocuserState { position: self.position, temperature });
            self.reported_at = Some(now);
        }
    }
}
