//! The dome board: rotation behind a dead-man, shutter, rain stop.

use super::{Act, Axis, Role, Send, Shutter, earlier, is_due, ms};
use crate::observatory::{Alarm, Message, Motion, ShutterMove};
use bellwire::{
    link::{EndReason, Event, Outcome, Ticket},
    setpoint::{self, DeadMan, Stop},
    time::{Duration, Instant, after},
};

/// How long a rate drives the motor after its arrival.
const FRESH: Duration = ms(500);
/// Pause between two reports.
const REPORT: Duration = ms(1_000);
/// Period of the control loop while something moves.
const LOOP: Duration = ms(50);
/// How fast an errand turns the dome, 0.01 °/s.
const FASTEST: i32 = 300;
/// Pause before an alarm that may not have arrived is raised again. An alarm is safe to repeat.
const AGAIN: Duration = ms(1_000);

/// The dome board. The motor gets its rate through a [`DeadMan`] and in no other way; rain and limit switches are handled here, with or
/// without a link.
#[derive(Debug, Clone)]
pub struct Dome {
    rate: DeadMan<i16>,
    /// Where an errand sends the dome, 0.01°.
    target: Option<u16>,
    axis: Axis,
    shutter: Shutter,
    rain: bool,
    up: bool,
    report_at: Instant,
    loop_at: Instant,
    reported: Motion,
    alarms: Vec<Raised>,
    /// What to tell the desk in words.
    lines: Vec<String>,
    told: Vec<String>,
    now: Instant,
}

/// An alarm until it is delivered.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Raised {
    reason: Alarm,
    at: Instant,
    ticket: Option<Ticket>,
}

impl Dome {
    /// The board at its start: held, whatever was before. Mechanics stay where they are.
    #[must_use]
    pub fn new(axis: Axis, shutter: Shutter, now: Instant) -> Self {
        Self {
            rate: DeadMan::new(0, FRESH, Stop::Brake),
            target: None,
            axis,
            shutter,
            rain: false,
            up: false,
            report_at: now,
            loop_at: now,
            reported: Motion::Held,
            alarms: Vec::new(),
            lines: Vec::new(),
            told: Vec::new(),
            now,
        }
    }

    /// What the rotation is doing.
    #[must_use]
    pub const fn motion(&self) -> Motion {
        match self.rate.motion() {
            setpoint::Motion::Held(_) => Motion::Held,
            setpoint::Motion::Running => Motion::Running,
            setpoint::Motion::Stale(_) => Motion::Stale,
            setpoint::Motion::MustRearm(_) => Motion::ReArm,
        }
    }

    /// The rotation.
    #[must_use]
    pub const fn axis(&self) -> &Axis {
        &self.axis
    }

    /// Where an errand sends the dome, 0.01°, until it is there.
    #[must_use]
    pub const fn target(&self) -> Option<u16> {
        self.target
    }

    /// The shutter.
    #[must_use]
    pub const fn shutter(&self) -> &Shutter {
        &self.shutter
    }

    fn message(&mut self, message: Message, arrived: Instant, now: Instant) {
        match message {
            Message::DomeRate { rate } => self.rate.handle_set_point(rate, arrived),
            Message::ReArm => match self.rate.rearm(now) {
                Ok(()) => self.told.push("re-armed by the operator: it may move again".to_owned()),
                Err(error) => self.lines.push(format!("not re-armed: {error}")),
            },
            Message::Shutter { action: ShutterMove::Open } if self.rain => {
                self.lines.push("shutter stays closed: it rains".to_owned());
            }
            Message::Shutter { action } => self.shutter.order(action, now),
            Message::DomeGoto { azimuth } if self.motion() == Motion::Running => {
                self.target = Some(azimuth.clamp(Axis::LIMITS[0], Axis::LIMITS[1]));
            }
            Message::DomeGoto { .. } => {
                self.lines.push("dome-goto: only while re-armed and fed with dome-rate".to_owned());
            }
            _ => self.lines.push("not a message for the dome".to_owned()),
        }
    }

    fn raise(&mut self, reason: Alarm, now: Instant) {
        if !self.alarms.iter().any(|raised| raised.reason == reason) {
            self.alarms.push(Raised { reason, at: now, ticket: None });
        }
    }

    /// The rate that drives the motor now, 0.01 °/s. A target is approached only while fresh set-points say stop: any other rate, and a
    /// trip, ends it.
    fn wanted(&mut self, now: Instant) -> i16 {
        let rate = self.rate.output(now);
        if rate != 0 || self.motion() != Motion::Running {
            self.target = None;
        }
        let Some(target) = self.target else { return rate };
        let way = i32::from(target) - i32::from(self.axis.azimuth());
        if way == 0 {
            self.target = None;
            self.report_at = now;
        }
        // Slower over the last 0.6°, so that it comes to rest there.
        i16::try_from((way * 5).clamp(-FASTEST, FASTEST)).unwrap_or(0)
    }

    /// Motor, shutter and dead-man.
    fn control(&mut self, now: Instant) {
        let rate = self.wanted(now);
        if self.axis.drive(rate, now) {
            self.told.push("stopped by a limit switch".to_owned());
            self.raise(Alarm::Limit, now);
        }
        if self.shutter.advance(now) {
            self.report_at = now;
        }
        match self.rate.check(now) {
            Some(setpoint::Reason::NoNews) => {
                self.told.push("STOPPED: no news of the rate for 500 ms".to_owned());
                self.raise(Alarm::NoNews, now);
            }
            Some(reason) => self.told.push(format!("STOPPED: {reason}")),
            None => {}
        }
        if is_due(self.loop_at, now) {
            self.loop_at = after(now, LOOP);
        }
    }

    fn moves(&self) -> bool {
        self.axis.rate() != 0 || self.shutter.is_moving()
    }
}

impl Role for Dome {
    fn name(&self) -> &'static str {
        "dome"
    }

    fn identity(&self) -> u64 {
        0x0B5E_0000_0000_D03E
    }

    fn event(&mut self, now: Instant, event: &Event<'_>) {
        self.rate.handle_event(event);
        match event {
            Event::Opened(_) => {
                self.up = true;
                self.report_at = now;
            }
            Event::Ended(reason) => {
                self.up = false;
                if matches!(reason, EndReason::PeerRestarted(_)) {
                    self.lines.clear();
                }
            }
            Event::Message(message) => {
                if let Some(known) =
                    Message::from_payload(message.payload).filter(|it| it.class() == message.class)
                {
                    self.message(known, message.arrived, now);
                }
            }
            Event::Outcome { ticket, outcome } => {
                if *outcome == Outcome::Delivered {
                    self.alarms.retain(|raised| raised.ticket != Some(*ticket));
                }
                for raised in self.alarms.iter_mut().filter(|raised| raised.ticket == Some(*ticket)) {
                    raised.ticket = None;
                    raised.at = after(now, AGAIN);
                    self.told.push("the alarm may not have arrived: it is raised again".to_owned());
                }
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Instant, send: &mut Send<'_>) {
        self.now = now;
        self.control(now);
        if !self.up {
            return;
        }
        for raised in &mut self.alarms {
            if raised.ticket.is_none() && is_due(raised.at, now) {
                raised.ticket = send(&Message::DomeAlarm { reason: raised.reason }).ok();
                raised.at = after(now, AGAIN);
            }
        }
        for text in self.lines.drain(..) {
            // A notice: it may be lost, so nothing hangs on it.
            let _ = send(&Message::LogLine { text });
        }
        let motion = self.motion();
        if is_due(self.report_at, now) || motion != self.reported {
            let (azimuth, rate, shutter) = (self.axis.azimuth(), self.axis.rate(), self.shutter.open());
            // Where the queue is full the next report will tell more.
            let _ = send(&Message::DomeState { azimuth, rate, shutter, motion });
            self.report_at = after(now, REPORT);
            self.reported = motion;
        }
    }

    fn poll_wake(&self) -> Option<Instant> {
        let now = self.now;
        let mut wake = earlier(now, self.rate.poll_wake(), self.moves().then_some(self.loop_at));
        if self.up {
            wake = earlier(now, wake, Some(self.report_at));
            for raised in self.alarms.iter().filter(|raised| raised.ticket.is_none()) {
                wake = earlier(now, wake, Some(raised.at));
            }
        }
        wake
    }

    fn act(&mut self, now: Instant, act: Act) {
        match act {
            Act::Rain => {
                self.rain = true;
                self.told.push("rain: the board closes the shutter by itself".to_owned());
                self.shutter.order(ShutterMove::Close, now);
                self.raise(Alarm::Rain, now);
            }
            Act::Dry => self.rain = false,
            _ => {}
        }
    }

    fn restart(&mut self, now: Instant) {
        self.axis.drive(0, now);
        self.shutter.order(ShutterMove::Stop, now);
        *self = Self { rain: self.rain, ..Self::new(self.axis.clone(), self.shutter.clone(), now) };
    }

    fn take_told(&mut self) -> Vec<String> {
        core::mem::take(&mut self.told)
    }
}
