//! A recording of a role at work: a desk, a bad wire, restarts, and what the role answered to every octet on this computer.

use bellwire::{
    io::Memory,
    link::{Config, OwnNumber, State},
    port::Port,
    time::Instant,
};
use bellwire_examples::messages::{Message, ShutterMove};
use parts::Channel;
use rand::Rng as _;
use roles::mirror::{Mirror, OUTPUTS, Reflected, Step};

use crate::seed::Rng;

/// Octets of a UART in a millisecond.
const PACE: u8 = 11;
/// How much a recording takes of the role's time, ms.
const SPAN: u32 = 40_000;

/// One step, in the octets that a board is told, and what the role here answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// The time, µs of the role.
    pub at: u32,
    /// What the board is told.
    pub octets: Vec<u8>,
    /// What it must answer: a zero, or how many octets left, these, and what the outputs do.
    pub answer: Vec<u8>,
}

/// What has been on the wire.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Wire {
    /// Octets that came to the role.
    pub heard: u32,
    /// Octets that the role sent.
    pub sent: u32,
    /// Octets that were turned, lost, doubled or made up.
    pub damaged: u32,
    /// Cuts.
    pub cuts: u32,
    /// Starts of the role, the first one too.
    pub starts: u32,
}

/// A recording.
#[derive(Debug, Clone, Default)]
pub struct Recording {
    /// The steps, in order.
    pub steps: Vec<Told>,
    /// What has been on the wire.
    pub wire: Wire,
}

struct Recorder<R> {
    rng: Rng,
    channel: &'static Channel,
    role: Mirror<R>,
    desk: Port<Memory<1024>>,
    rate: i16,
    /// The wire is cut until then, ms.
    cut_until: u32,
    kept: Recording,
}

/// Records a role with a desk that does what an operator may do, and some of what none should.
#[must_use]
pub fn record<R: Reflected>(mut rng: Rng) -> Recording {
    // A role's line lives as long as the program: so few are recorded that it may.
    let channel: &'static Channel = Box::leak(Box::new(Channel::new()));
    let role = Mirror::new(channel, at(0), 0);
    let desk = desk(&mut rng, 0);
    let mut it =
        Recorder::<R> { rng, channel, role, desk, rate: 0, cut_until: 0, kept: Recording::default() };
    it.restart(0);
    let (mut turned, mut due) = (0, 0);
    for now in 0..SPAN {
        it.mishaps(now);
        it.operate(now);
        it.carry_to_role(now);
        if now >= due {
            it.turn(now, now - turned);
            turned = now;
            // Now and then the loop stands still, once in a while for longer than news is fresh.
            due = now + if it.odds(300) { it.rng.random_range(100..900) } else { it.rng.random_range(1..9) };
        }
    }
    it.kept
}

/// A time in ms, shortly before the clock wraps.
fn at(millis: u32) -> Instant {
    Instant::from_ticks((millis * 1_000).wrapping_sub(20_000_000))
}

fn desk(rng: &mut Rng, now: u32) -> Port<Memory<1024>> {
    let own = OwnNumber::Random(rng.random());
    let identity = roles::identity::DESK;
    let config = Config { identity, fingerprint: roles::FINGERPRINT, ..Config::uart(115_200, own) };
    let mut port = Port::uart(Memory::new(), config, at(now));
    port.open(at(now));
    port
}

impl<R: Reflected> Recorder<R> {
    /// One chance in so many.
    fn odds(&mut self, of: u32) -> bool {
        self.rng.random_range(0..of) == 0
    }

    fn keep(&mut self, now: u32, step: Step, more: &[u8], answer: Vec<u8>) {
        let octets = [&step.head(at(now))[..], more].concat();
        self.kept.steps.push(Told { at: at(now).as_ticks(), octets, answer });
    }

    fn restart(&mut self, now: u32) {
        let own = self.rng.random();
        self.role = Mirror::new(self.channel, at(now), own);
        self.kept.wire.starts += 1;
        self.keep(now, Step::Restart(own), &[], vec![0]);
    }

    fn mishaps(&mut self, now: u32) {
        if self.odds(8_000) {
            self.restart(now);
        }
        if self.odds(10_000) {
            self.desk = desk(&mut self.rng, now);
        }
        if now >= self.cut_until && self.odds(4_000) {
            self.cut_until = now + self.rng.random_range(20..1_500);
            self.kept.wire.cuts += 1;
        }
    }

    /// What the operator does: lets go, re-arms, pushes the lever, and gives errands.
    fn operate(&mut self, now: u32) {
        let (phase, time) = (now % 3_000, at(now));
        if phase == 0 {
            self.rate = 0;
        } else if phase == 1_000 {
            self.rate = self.rng.random_range(-300..300);
        }
        if now.is_multiple_of(50) && self.desk.state() != State::Down {
            let _ = self.desk.set(time, &Message::DomeRate { rate: self.rate });
        }
        if phase == 400 || phase == 700 {
            let _ = self.desk.errand(time, &Message::Rearm);
        }
        if self.odds(250) {
            let errand = self.errand();
            let _ = self.desk.errand(time, &errand);
        }
    }

    fn errand(&mut self) -> Message {
        match self.rng.random_range(0..6) {
            0 => Message::Shutter(ShutterMove::Open),
            1 => Message::Shutter(ShutterMove::Close),
            2 => Message::DomeGoto { azimuth: self.rng.random_range(0..36_000) },
            // The farthest that there is, and one beyond.
            3 => Message::FocuserGoto { position: self.rng.random_range(50_000..=50_001) },
            _ => Message::FocuserGoto { position: self.rng.random_range(0..50_000) },
        }
    }

    /// What the desk sends in a millisecond.
    fn carry_to_role(&mut self, now: u32) {
        while self.desk.service(at(now)).expect("memory").is_some() {}
        let sent: Vec<u8> = (0..PACE).map_while(|_| self.desk.line_mut().depart()).collect();
        let octets = self.damage(now, sent);
        if octets.is_empty() {
            return;
        }
        octets.iter().for_each(|&octet| self.role.arrive(at(now), octet));
        self.kept.wire.heard += u32::try_from(octets.len()).expect("few");
        let count = u8::try_from(octets.len()).expect("few");
        self.keep(now, Step::Arrive(count), &octets, vec![0]);
    }

    fn turn(&mut self, now: u32, since: u32) {
        let rain = now % 9_000 > 7_500;
        let leave = u8::try_from(since.saturating_mul(PACE.into()).min(128)).expect("at most 128");
        let outputs: [u8; OUTPUTS] = self.role.turn(at(now), rain);
        let left: Vec<u8> = (0..leave).map_while(|_| self.role.depart()).collect();
        let count = u8::try_from(left.len()).expect("at most 128");
        self.kept.wire.sent += u32::from(count);
        let answer = [&[count][..], &left, &outputs].concat();
        self.keep(now, Step::Turn { rain, leave }, &[], answer);
        let octets = self.damage(now, left);
        let _ = self.desk.line_mut().arrive(at(now), &octets);
    }

    /// What the wire makes of octets.
    fn damage(&mut self, now: u32, octets: Vec<u8>) -> Vec<u8> {
        if now < self.cut_until {
            return Vec::new();
        }
        let mut come = Vec::new();
        for octet in octets {
            match self.rng.random_range(0..1_600_u32) {
                0 => {}
                1 => come.extend([octet, octet]),
                2..5 => come.push(octet ^ 1 << self.rng.random_range(0..8)),
                _ => {
                    come.push(octet);
                    continue;
                }
            }
            self.kept.wire.damaged += 1;
        }
        if self.odds(2_500) {
            let noise: Vec<u8> = (0..self.rng.random_range(1..60)).map(|_| self.rng.random()).collect();
            self.kept.wire.damaged += u32::try_from(noise.len()).expect("few");
            come.extend(noise);
        }
        come
    }
}
