//! The desk: the tool's own link over a device, in this process, sending what a scenario says.

use std::{
    path::Path,
    time::{Duration, Instant},
};

use bellwire::{
    frame::Class,
    link::{Config, Outcome, OwnNumber},
    time::Duration as Ticks,
};
use bellwire_cli::{
    args::{line::LineArgs, peer::SelfArgs},
    endpoint::{self, EndpointSpec, FramingName, LineFormat, LineSettings, Loss, OpenOptions, Wiring},
    observatory::{Message, Motion},
    talk::{Happening, Talk, random32},
};

use super::board::HANGS;

/// Time between two set-points.
pub const PERIOD: Duration = Duration::from_millis(50);

/// A desk that talks to one board.
pub struct Desk {
    talk: Talk,
    /// The rate that is sent again and again, 0.01 °/s.
    rate: Option<i16>,
    due: Instant,
    /// All that has happened.
    pub heard: Vec<Happening>,
}

impl Desk {
    /// A desk on this device.
    ///
    /// # Panics
    /// If the device cannot be opened.
    #[must_use]
    pub fn on(device: &Path) -> Self {
        let spec = EndpointSpec::Path { path: device.to_path_buf(), line: None };
        let line = LineArgs { rate: 115_200, format: LineFormat::default(), frame: Default::default() };
        let ourselves = SelfArgs { identity: Some(0xDE5C), ..SelfArgs::default() };
        let talk = Talk::open(&spec, &line, &ourselves, Loss::Wait).expect("the device opens");
        Self { talk, rate: None, due: Instant::now(), heard: Vec::new() }
    }

    /// A desk that reaches a board in the field through a radio board on this device. As that board sleeps, both may be silent for as long as they like (W-61).
    ///
    /// # Panics
    /// If the device cannot be opened.
    #[must_use]
    pub fn in_the_field(device: &Path) -> Self {
        let spec = EndpointSpec::Path { path: device.to_path_buf(), line: None };
        let wiring = Wiring { framing: FramingName::RadioBoard, ..Wiring::default() };
        let line = LineSettings { rate: 115_200, format: LineFormat::default() };
        let options = OpenOptions { line, loss: Loss::Wait, wiring: Some(wiring) };
        let endpoint = endpoint::open(&spec, &options).expect("the device opens");
        let millis = Ticks::from_millis;
        let own = OwnNumber::Random(random32().expect("the system has randomness"));
        let config =
            Config { identity: 0xDE5C, keep_alive: millis(0), ..Config::datagram(1_000, millis(200), own) };
        Self {
            talk: Talk::over(endpoint, wiring, config, None),
            rate: None,
            due: Instant::now(),
            heard: Vec::new(),
        }
    }

    /// A desk on this device, with a session.
    #[must_use]
    pub fn opened(device: &Path) -> Self {
        let mut desk = Self::on(device);
        desk.until("a session", |happening| matches!(happening, Happening::Opened(_)));
        desk
    }

    /// What to send every 50 ms from now on.
    pub fn steer(&mut self, rate: Option<i16>) {
        self.rate = rate;
        self.due = Instant::now();
    }

    fn turn(&mut self, wait: Duration) -> Option<Happening> {
        if let Some(rate) = self.rate
            && Instant::now() >= self.due
        {
            // Without a session there is nobody to send to.
            let _ = self.talk.send(Class::SetPoint, &Message::DomeRate { rate }.payload());
            self.talk.flush().expect("the device stays");
            self.due = Instant::now() + PERIOD;
        }
        let left = self.due.saturating_duration_since(Instant::now()).max(Duration::from_millis(1));
        let happening = self.talk.next(wait.min(if self.rate.is_some() { left } else { PERIOD }));
        let happening = happening.expect("the device stays");
        self.heard.extend(happening.clone());
        happening
    }

    /// Goes on until this happens.
    ///
    /// # Panics
    /// If it never does.
    pub fn until(&mut self, what: &str, mut is: impl FnMut(&Happening) -> bool) -> Happening {
        let end = Instant::now() + HANGS;
        loop {
            match self.turn(PERIOD) {
                Some(happening) if is(&happening) => return happening,
                _ => assert!(Instant::now() < end, "{what} never came, but {:#?}", self.heard),
            }
        }
    }

    /// Goes on for so long.
    pub fn serve(&mut self, span: Duration) {
        let end = Instant::now() + span;
        while Instant::now() < end {
            self.turn(end.saturating_duration_since(Instant::now()));
        }
    }

    /// Goes on until `done` says so.
    ///
    /// # Panics
    /// If it never does.
    pub fn serve_until(&mut self, what: &str, mut done: impl FnMut() -> bool) {
        let end = Instant::now() + HANGS;
        while !done() {
            self.turn(Duration::from_millis(5));
            assert!(Instant::now() < end, "{what} never came");
        }
    }

    /// Sends an errand and goes on until its outcome is known.
    ///
    /// # Panics
    /// If the link takes none.
    pub fn errand(&mut self, message: &Message) -> Outcome {
        let sent = self.talk.send(Class::Errand, &message.payload()).expect("the link takes it");
        self.talk.flush().expect("the device stays");
        let of = |happening: &Happening| match happening {
            Happening::Outcome { ticket, outcome } if *ticket == sent => Some(*outcome),
            _ => None,
        };
        let happening = self.until("an outcome", |happening| of(happening).is_some());
        of(&happening).expect("just seen")
    }

    /// Waits for a report that says so.
    pub fn until_motion(&mut self, wanted: Motion) {
        self.until("a report", |happening| {
            matches!(message(happening), Some(Message::DomeState { motion, .. }) if motion == wanted)
        });
    }

    /// Stop value, re-arming by the operator, and then this rate until the board reports that it turns.
    ///
    /// # Panics
    /// If the board is armed before the operator has acted.
    pub fn drive(&mut self, wanted: i16) {
        self.steer(Some(0));
        self.until("a report", |happening| match message(happening) {
            Some(Message::DomeState { motion, .. }) => {
                assert_ne!(motion, Motion::Running, "it is armed without an operator's act");
                motion == Motion::ReArm
            }
            _ => false,
        });
        assert_eq!(self.errand(&Message::ReArm), Outcome::Delivered);
        self.until_motion(Motion::Running);
        self.steer(Some(wanted));
        self.until(
            "a report of the rate",
            |happening| matches!(message(happening), Some(Message::DomeState { rate, .. }) if rate == wanted),
        );
    }
}

/// The observatory's message in a happening.
#[must_use]
pub fn message(happening: &Happening) -> Option<Message> {
    match happening {
        Happening::Message(received) => Message::from_payload(&received.payload),
        _ => None,
    }
}
