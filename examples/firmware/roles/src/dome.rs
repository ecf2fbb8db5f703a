//! The dome: rotation behind a dead-man, shutter, rain stop.

use bellwire::{
    io::Line,
    link::{Event, Outcome, OwnNumber, State, Ticket},
    port::Port,
    setpoint::{DeadMan, Motion, RearmError, Reason, Stop},
    time::{Duration, Instant, after, elapsed},
};
use bellwire_examples::messages::{Alarm, DomeMotion, Message, ShutterMove};
use parts::Text;

use crate::{
    agreement::{identity, log_line, open, read},
    log::log,
};

/// How long a rate drives the motor after its arrival.
const FRESH: Duration = Duration::from_millis(500);
/// Pause between two reports, and before an alarm is raised again that may not have arrived. An alarm is safe to repeat.
const PAUSE: Duration = Duration::from_millis(1_000);
/// How fast an errand turns the dome, 0.01 °/s.
const FASTEST: i32 = 300;

/// What the dome's inputs show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sensors {
    /// Where it points, 0.01° from north through east.
    pub azimuth: u16,
    /// The limit switch at the low end is closed.
    pub low_limit: bool,
    /// The limit switch at the high end is closed.
    pub high_limit: bool,
    /// How far the shutter is open, %.
    pub shutter: u8,
    /// It rains on the dome.
    pub rain: bool,
    /// Octets that the line has lost since the start.
    pub lost: u32,
}

/// What the dome's outputs shall do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drive {
    /// 0.01 °/s; positive is clockwise seen from above.
    pub rate: i16,
    /// What a rate of zero means for the motor.
    pub stop: Stop,
    /// What the shutter does.
    pub shutter: ShutterMove,
}

/// The dome board. The motor gets its rate through the dead-man and in no other way; rain and limit switches are handled here, link or not.
///
/// # Caution
/// This is a functional stop and no emergency stop: see the README of the firmware before it drives anything.
#[derive(Debug)]
pub struct Dome<L: Line> {
    port: Port<L>,
    control: Control,
}

#[derive(Debug)]
struct Control {
    rate: DeadMan<i16>,
    /// When the newest rate arrived.
    newest: Option<Instant>,
    /// Where an errand sends the dome, 0.01°.
    target: Option<u16>,
    shutter: ShutterMove,
    sensors: Sensors,
    /// When the state was last reported; `None`: it is to be reported now.
    reported_at: Option<Instant>,
    reported: DomeMotion,
    alarms: Alarms,
    /// Lost octets that have been told.
    lost_told: u32,
    /// What the operator asked for and does not get.
    refused: Option<&'static str>,
}

/// Alarms that are not delivered yet: one under way at a time.
#[derive(Debug, Default)]
struct Alarms {
    waiting: [bool; 3],
    under_way: Option<(Ticket, Alarm)>,
    again_at: Option<Instant>,
}

impl<L: Line> Dome<L> {
    /// The board at its start: held, whatever was before.
    pub fn new(line: L, own: OwnNumber, now: Instant) -> Self {
        Self { port: open(line, identity::DOME, own, now), control: Control::new() }
    }

    /// One turn of the control loop: serves the line, then says what the outputs shall do. Call it every few milliseconds, and do at once what it says.
    ///
    /// # Errors
    /// The line's. Switch the outputs off then.
    pub fn turn(&mut self, now: Instant, sensors: Sensors) -> Result<Drive, L::Error> {
        self.control.sensors = sensors;
        while let Some(event) = self.port.service(now)? {
            self.control.handle(now, &event);
        }
        let drive = self.control.drive(now);
        if self.port.state() != State::Down {
            self.control.tell(now, &mut self.port, drive.rate);
        }
        Ok(drive)
    }

    /// What the dead-man of the rotation does.
    #[must_use]
    pub const fn motion(&self) -> Motion {
        self.control.rate.motion()
    }

    /// When the newest rate arrived that the dead-man was given.
    #[must_use]
    pub const fn newest(&self) -> Option<Instant> {
        self.control.newest
    }

    /// The line.
    pub const fn line(&self) -> &L {
        self.port.line()
    }

    /// The line.
    pub const fn line_mut(&mut self) -> &mut L {
        self.port.line_mut()
    }
}

impl Control {
    const fn new() -> Self {
        Self {
            rate: DeadMan::new(0, FRESH, Stop::Brake),
            newest: None,
            target: None,
            shutter: ShutterMove::Stop,
            sensors: Sensors {
                azimuth: 0,
                low_limit: false,
                high_limit: false,
                shutter: 0,
                rain: false,
                lost: 0,
            },
            reported_at: None,
            reported: DomeMotion::Held,
            alarms: Alarms { waiting: [false; 3], under_way: None, again_at: None },
            lost_told: 0,
            refused: None,
        }
    }

    fn handle(&mut self, now: Instant, event: &Event<'_>) {
        log!("{}", event);
        self.rate.handle_event(event);
        match event {
            Event::Opened(_) => {
                self.reported_at = None;
                // Whoever opens has not heard of what was lost before.
                self.lost_told = 0;
            }
            Event::Ended(_) => self.target = None,
            Event::Message(message) => match read(message) {
                Some(Message::DomeRate { rate }) => {
                    self.rate.handle_set_point(rate, message.arrived);
                    self.newest = Some(message.arrived);
                }
                Some(errand) => self.run(now, errand),
                None => self.refused = Some("not in the agreement"),
            },
            Event::Outcome { ticket, outcome } => self.alarms.settle(now, *ticket, *outcome),
            _ => {}
        }
    }

    /// Does what the operator asks for, if it may be done now.
    fn run(&mut self, now: Instant, errand: Message) {
        match errand {
            Message::Rearm => self.refused = self.rate.rearm(now).err().map(missing),
            Message::Shutter(ShutterMove::Open) if self.sensors.rain => {
                self.refused = Some("shutter stays closed: it rains");
            }
            Message::Shutter(order) => self.shutter = order,
            Message::DomeGoto { azimuth } if self.rate.motion() == Motion::Running => {
                self.target = Some(azimuth)
            }
            Message::DomeGoto { .. } => self.refused = Some("goto: only while running at rate 0"),
            _ => self.refused = Some("not for the dome"),
        }
    }

    /// What the outputs shall do now.
    fn drive(&mut self, now: Instant) -> Drive {
        let is_open = self.sensors.shutter > 0 || self.shutter == ShutterMove::Open;
        if self.sensors.rain && is_open && self.shutter != ShutterMove::Close {
            self.shutter = ShutterMove::Close;
            self.alarms.raise(Alarm::Rain);
        }
        let wanted = self.wanted(now);
        let blocked = wanted < 0 && self.sensors.low_limit || wanted > 0 && self.sensors.high_limit;
        if blocked {
            // The operator must let go first: a way back may be long.
            self.rate.hold();
            self.target = None;
            self.alarms.raise(Alarm::Limit);
        }
        if self.rate.check(now) == Some(Reason::NoNews) {
            self.alarms.raise(Alarm::NoNews);
        }
        match (self.shutter, self.sensors.shutter) {
            (ShutterMove::Open, 100) | (ShutterMove::Close, 0) => self.shutter = ShutterMove::Stop,
            _ => {}
        }
        let rate = if blocked { 0 } else { wanted };
        Drive { rate, stop: self.rate.stop(), shutter: self.shutter }
    }

    /// The rate that drives the motor, 0.01 °/s. A target is approached only while fresh rates say stop: any other rate, and a trip, ends it.
    fn wanted(&mut self, now: Instant) -> i16 {
        let rate = self.rate.output(now);
        if rate != 0 || self.rate.motion() != Motion::Running {
            self.target = None;
        }
        let Some(target) = self.target else { return rate };
        let way = i32::from(target).saturating_sub(i32::from(self.sensors.azimuth));
        if way == 0 {
            self.target = None;
            self.reported_at = None;
        }
        // Slower over the last 0.6°, so that it comes to rest there.
        i16::try_from(way.saturating_mul(5).clamp(-FASTEST, FASTEST)).unwrap_or(0)
    }

    /// Tells the desk what it should know.
    fn tell<L: Line>(&mut self, now: Instant, port: &mut Port<L>, rate: i16) {
        self.alarms.send(now, port);
        let lost = self.sensors.lost;
        if lost != self.lost_told {
            let line = Text::new().word("overrun: octets lost so far: ").count(lost);
            if log_line(port, now, &line).is_ok() {
                self.lost_told = lost;
            }
        }
        if let Some(words) = self.refused.take() {
            log!("refused: {=str}", words);
            let _ = log_line(port, now, &Text::new().word(words));
        }
        let motion = name(self.rate.motion());
        let is_due = self.reported_at.is_none_or(|at| elapsed(now, at) >= PAUSE);
        if motion != self.reported {
            log!("motion: {}", self.rate.motion());
        }
        if is_due || motion != self.reported {
            let Sensors { azimuth, shutter, .. } = self.sensors;
            // Where the queue is full the next report will tell more.
            let _ = port.report(now, &Message::DomeState { azimuth, rate, shutter, motion });
            self.reported_at = Some(now);
            self.reported = motion;
        }
    }
}

/// What is missing before the dome may move, short enough for one line.
const fn missing(error: RearmError) -> &'static str {
    match error {
        RearmError::Mismatch => "not re-armed: the agreements differ",
        RearmError::NoNews => "not re-armed: no fresh rate",
        RearmError::NotAtStop => "not re-armed: let go first",
    }
}

/// A motion in the words of the agreement.
const fn name(motion: Motion) -> DomeMotion {
    match motion {
        Motion::Held(_) => DomeMotion::Held,
        Motion::Running => DomeMotion::Running,
        Motion::Stale(_) => DomeMotion::Stale,
        Motion::MustRearm(_) => DomeMotion::Rearm,
    }
}

impl Alarms {
    const ALL: [Alarm; 3] = [Alarm::NoNews, Alarm::Rain, Alarm::Limit];

    fn set(&mut self, alarm: Alarm, waits: bool) {
        if let Some(waiting) = self.waiting.get_mut(alarm as usize) {
            *waiting = waits;
        }
    }

    fn raise(&mut self, alarm: Alarm) {
        self.set(alarm, true);
    }

    /// What became of the alarm under way: until it is delivered it waits again.
    fn settle(&mut self, now: Instant, ticket: Ticket, outcome: Outcome) {
        if let Some((_, alarm)) = self.under_way.take_if(|(of, _)| *of == ticket)
            && outcome != Outcome::Delivered
        {
            self.set(alarm, true);
            self.again_at = Some(after(now, PAUSE));
        }
    }

    fn send<L: Line>(&mut self, now: Instant, port: &mut Port<L>) {
        if self.under_way.is_some() || self.again_at.is_some_and(|at| elapsed(at, now).as_ticks() > 0) {
            return;
        }
        self.again_at = None;
        let Some(alarm) =
            Self::ALL.into_iter().zip(self.waiting).find_map(|(alarm, waits)| waits.then_some(alarm))
        else {
            return;
        };
        if let Ok(ticket) = port.errand(now, &Message::DomeAlarm(alarm)) {
            self.under_way = Some((ticket, alarm));
            self.set(alarm, false);
        }
    }
}
