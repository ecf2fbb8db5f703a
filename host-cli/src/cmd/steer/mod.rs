//! The command `steer`: set-points from the keyboard.
//!
//! The program can only ask; what stops the motor when it falls silent is the dead-man on the board. So every doubt ends in silence, and
//! arming takes a stop value first and then an act of the operator.

mod course;
mod helm;
mod keys;
mod screen;

use std::{
    io::{self, IsTerminal, Write},
    sync::Arc,
    time::{Duration, Instant},
};

use bellwire::{
    frame::Class,
    link::{Outcome, State, Ticket},
};

use course::Course;
use helm::{Arming, Helm, Key, Order, Settings};
use keys::{Keys, Terminal};
use screen::{Mode, Screen};

use crate::{
    args::{agreed::AgreedArgs, steer::SteerArgs},
    caution,
    endpoint::Loss,
    exit::Exit,
    fail::Fail,
    lines,
    messages::Table,
    report,
    shell::{Shell, Stop},
    talk::{Happening, Talk, Teller, what_became, wiring_of},
};

/// The longest wait, so that a key is seen soon.
const NAP: Duration = Duration::from_millis(10);

const KEYS: &str = "left, right    turn: one step toward lower, higher azimuth (latched)
up, down       faster, slower the same way
space          stop, as does every key that is not named here
a              arm: sends the stop value, then asks the board to re-arm
q, Esc         stop and leave";

/// Runs `steer`.
///
/// # Errors
/// If there is no terminal, an option makes no sense, or the endpoint is lost for good.
pub fn run(args: &SteerArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let settings = settings(args)?;
    caution::open_way("no steering", wiring_of(&args.endpoint, &args.line).framing, args.open_way)?;
    let table = args.agreed.table()?;
    let course = Course::new(args, settings.limit, &table)?;
    soon_enough(args, &course)?;
    Terminal::check()?;
    let mut ourselves = args.agreed.ourselves(&args.ourselves, &table);
    ourselves.between = AgreedArgs::with_leaf(args.to.as_deref(), &table)?;
    let talk = Talk::open(&args.endpoint, &args.line, &ourselves, Loss::Wait)?;
    shell.line(lines::wrap("", caution::MOVING))?;
    shell.line("")?;
    shell.line(KEYS)?;
    shell.line("")?;
    let teller = Teller::new(report::Format::Text, &table, talk.identity());
    let mut keys = Terminal::take()?;
    let mode = if io::stdout().is_terminal() { Mode::Terminal } else { Mode::Lines };
    let screen = Screen::new(shell.out, mode);
    let helm = Helm::new(settings);
    let mut desk = Desk {
        talk,
        teller,
        helm,
        screen,
        stop: shell.stop.clone(),
        course,
        table,
        rearm: None,
        state: Default::default(),
        reported: Instant::now(),
    };
    let result = desk.drive(args, &mut keys);
    let sent = desk.fall_silent();
    let _ = desk.screen.leave();
    let (words, exit) = leaving(sent, desk.talk.state(), desk.helm.was_armed());
    let _ = writeln!(desk.screen, "{words}");
    result.map(|()| exit)
}

/// What leaving amounts to. `sent`: the stop value was handed over; `armed`: something may have been moved before.
fn leaving(sent: bool, state: State, armed: bool) -> (&'static str, Exit) {
    match (sent, armed) {
        (true, true) if state == State::Quiet => (
            "left: the stop value was handed over, but the board is not heard. It stops by its own freshness limit",
            Exit::NotGood,
        ),
        (true, _) => ("stopped: the stop value is sent, and nothing after it", Exit::Good),
        (false, true) => (
            "left: nobody is there, and NO stop value could be sent. The board stops by its own freshness limit",
            Exit::NotGood,
        ),
        (false, false) => ("left: nothing was sent that moves anything", Exit::Good),
    }
}

fn settings(args: &SteerArgs) -> Result<Settings, Fail> {
    let hundredths = |name: &str, rate: f64| {
        let value = (rate * 100.0).round();
        if (1.0..=f64::from(i16::MAX)).contains(&value) {
            #[expect(clippy::cast_possible_truncation, reason = "the range is checked")]
            Ok(value as i16)
        } else {
            Err(Fail::new(Exit::Usage, format!("--{name} must be from 0.01 to 327.67 °/s")))
        }
    };
    let ramp = (args.ramp * 100.0 * args.period.as_secs_f64()).max(1.0) / 100.0;
    Ok(Settings {
        step: hundredths("step", args.step)?,
        limit: hundredths("limit", args.limit)?,
        ramp: hundredths("ramp", ramp)?,
        period: args.period,
    })
}

/// One or two set-points may be lost before the value is stale.
fn soon_enough(args: &SteerArgs, course: &Course) -> Result<(), Fail> {
    let (name, fresh) = (&args.message, course.fresh_ms());
    let longest = Duration::from_millis(u64::from(fresh) * 2 / 5);
    if args.period <= longest {
        return Ok(());
    }
    let what = format!("--period is too long: a {name} is fresh for {fresh} ms and one or two may be lost");
    Err(Fail::new(Exit::Usage, what).next(format!("use {} ms or less", longest.as_millis())))
}

/// Everything that steering holds together.
struct Desk<'a> {
    talk: Talk,
    teller: Teller,
    helm: Helm,
    screen: Screen<'a>,
    stop: Stop,
    course: Course,
    rearm: Option<Ticket>,
    /// What the board reports, with names and without.
    state: [String; 2],
    /// When it did.
    reported: Instant,
    table: Arc<Table>,
}

impl Desk<'_> {
    fn drive(&mut self, args: &SteerArgs, keys: &mut dyn Keys) -> Result<(), Fail> {
        let start = Instant::now();
        let mut last = start;
        let mut arm_at_once = args.arm;
        while !self.stop.is_set() && args.for_time.is_none_or(|time| start.elapsed() < time) {
            while let Some(key) = keys.next()? {
                self.helm.key(key);
                match key {
                    Key::Leave => return Ok(()),
                    Key::Suspend => {
                        self.fall_silent();
                        self.screen.leave().map_err(|e| Fail::output(&e))?;
                        keys.suspend()?;
                    }
                    _ => {}
                }
            }
            let now = Instant::now();
            if now - last >= args.period {
                let was = self.helm.arming();
                let order = self.helm.tick(now - last);
                if was != Arming::Silent && self.helm.arming() == Arming::Silent {
                    let pause = lines::time(now - last);
                    self.say(
                        "silent",
                        format!("this program stood still for {pause}: it must be armed anew"),
                    )?;
                }
                self.act(order)?;
                // No catching up: a late tick moves the next one.
                last = if now - last < args.period * 2 { last + args.period } else { now };
            }
            self.show().map_err(|e| Fail::output(&e))?;
            let left = (last + args.period).saturating_duration_since(Instant::now());
            if let Some(happening) = self.talk.next(left.min(NAP))? {
                if matches!(happening, Happening::Opened(_)) && std::mem::take(&mut arm_at_once) {
                    self.helm.key(Key::Arm);
                }
                self.take(&happening)?;
            }
        }
        Ok(())
    }

    fn act(&mut self, order: Order) -> Result<(), Fail> {
        match order {
            Order::Silence => return Ok(()),
            Order::Rate(rate) => {
                self.rate(rate);
            }
            Order::StopThenRearm => {
                self.rate(0);
                self.talk.flush()?;
                match self.talk.send(Class::Errand, self.course.rearm()) {
                    Ok(ticket) => self.rearm = Some(ticket),
                    Err(error) => {
                        self.helm.silence();
                        self.say("not-sent", format!("re-arm: {error}"))?;
                    }
                }
            }
        }
        self.talk.flush()
    }

    /// Gives whether it was sent.
    fn rate(&mut self, rate: i16) -> bool {
        let payload = if rate == 0 { self.course.stop() } else { self.course.payload(rate) };
        let sent = payload.map(|payload| self.talk.send(Class::SetPoint, &payload));
        let is_sent = matches!(sent, Some(Ok(_)));
        if !is_sent {
            self.helm.silence();
        }
        is_sent
    }

    /// Sends the stop value once more, as a best effort, and nothing after it. Gives whether it was handed over.
    fn fall_silent(&mut self) -> bool {
        let may_move = self.helm.arming() != Arming::Silent || self.talk.state() != State::Down;
        self.helm.silence();
        may_move && self.rate(0) && self.talk.flush().is_ok() && self.talk.is_present()
    }

    fn take(&mut self, happening: &Happening) -> Result<(), Fail> {
        match happening {
            Happening::Outcome { ticket, outcome } if self.rearm == Some(*ticket) => {
                self.rearm = None;
                self.helm.rearmed(*outcome == Outcome::Delivered);
                let (word, reason) = what_became(*outcome);
                return self.say(word, format!("re-arm: {reason}"));
            }
            Happening::Ended(_) | Happening::Quiet | Happening::Gap(_) | Happening::Mismatch { .. } => {
                self.helm.silence()
            }
            Happening::End => self.stop.set(),
            Happening::Message(message) => {
                // The board has something to say, for instance that it has stopped by itself: what the arrows had set is over.
                if message.class == Class::Errand {
                    self.helm.silence();
                }
                if let Some(state) = self.course.state(&self.table, message.class, &message.payload) {
                    self.state = state;
                    self.reported = Instant::now();
                    return Ok(());
                }
            }
            _ => {}
        }
        let mut err = io::sink();
        let mut shell = Shell { out: &mut self.screen, err: &mut err, stop: self.stop.clone() };
        self.teller.happening(happening, &mut shell)
    }

    fn say(&mut self, word: &'static str, text: String) -> Result<(), Fail> {
        let mut err = io::sink();
        let mut shell = Shell { out: &mut self.screen, err: &mut err, stop: self.stop.clone() };
        self.teller.own(word, text, &mut shell)
    }

    fn show(&mut self) -> io::Result<()> {
        let link = match self.talk.state() {
            State::Up => "link up",
            State::Quiet => "link quiet",
            State::Down => "link down",
        };
        let hand = match self.helm.arming() {
            Arming::Silent => "silent: press a to arm".to_owned(),
            Arming::StopFirst | Arming::Asked => "arming: stop value sent".to_owned(),
            Arming::Armed => format!(
                "armed: {:+.2} toward {:+.2} {}",
                f64::from(self.helm.rate()) / 100.0,
                f64::from(self.helm.wanted()) / 100.0,
                self.course.unit()
            ),
        };
        let old = if self.talk.state() == State::Up || self.state[0].is_empty() {
            String::new()
        } else {
            format!("{} s ago: ", self.reported.elapsed().as_secs())
        };
        let line = |state: &str| {
            let state = format!("{old}{state}");
            let parts = [link, &hand, &state].into_iter().filter(|part| !part.is_empty());
            parts.collect::<Vec<_>>().join(" | ")
        };
        let [named, short] = self.state.each_ref().map(|state| line(state));
        let whole = if named.chars().count() < 80 { named } else { short };
        self.screen.stand(&lines::fit(&whole, 79))
    }
}
