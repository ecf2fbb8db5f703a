//! A hub drives a dome by radio and dies while the motor turns: the leaf stops by itself, and nobody's return starts it.
//!
//! Caution: a freshness limit is a functional stop, not an emergency stop. An emergency stop is a hardware circuit that removes power. Frames on a radio are
//! not sealed: anyone in range can forge or replay them. Guard what moves, and try with the motor disconnected.

use std::convert::Infallible;

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Datagram,
    io::{Datagram as _, Medium, Whole},
    link::{Config, Event, OwnNumber},
    port::Port,
    setpoint::{DeadMan, Gate, Moves, Stop, Way},
    star::{Addressed, Hub, HubConfig, Speaks},
    time::Duration,
    typed,
};
use bellwire_examples::{
    bench::{Bench, Halt, Plan, show},
    messages::{DomeMotion, Message},
};

/// The address of the dome on the desk's radio.
const DOME: u8 = 1;
/// Octets per second of the radio, and how long a copy of a datagram may live.
const AIR: (u32, Duration) = (1000, Duration::from_millis(200));
/// The time between two rates: a tenth of the air, and four of them within the freshness limit.
const PERIOD: Duration = Duration::from_millis(250);
/// How long a rate drives. Three in a row may be lost.
const LIMIT: Duration = Duration::from_millis(1000);

/// The desk: a hub with room for four leaves, which sends the rate of the lever again and again.
fn desk(bench: &Bench, start: u32, lever: impl Fn(u64) -> i16) -> Result<Infallible, Halt> {
    let clock = bench.clock(0);
    if start > 0 {
        // It boots.
        clock.sleep(Duration::from_secs(2));
        bench.say(0, "desk: is back");
    }
    let config = HubConfig::datagram(AIR.0, AIR.1, 0x5EED_0001 + start);
    let mut hub = Hub::<Datagram, Fcs16, 4, 8, 64>::new(Datagram, config, clock.tick());
    hub.admit(clock.tick(), DOME, Speaks::Hub);
    let (mut radio, mut frame, mut due, mut payload) = (bench.air(0), [0; 64], clock.tick(), [0; 8]);
    loop {
        let now = clock.tick();
        hub.handle_timeout(now);
        if now.as_ticks().wrapping_sub(due.as_ticks()).cast_signed() >= 0 {
            due = bellwire::time::after(now, PERIOD);
            let rate = Message::DomeRate { rate: lever(clock.at().as_secs()) };
            // Refused while there is no session: the next one is due soon.
            let _ = typed::write(&rate, &mut payload).map(|rate| hub.send(now, DOME, Class::SetPoint, rate));
        }
        while let Some(received) = radio.receive(now, &mut frame)? {
            let _ = hub.handle_octets(received.arrived, &frame[..received.octets]);
            while let Some(told) = hub.poll_event() {
                if let Event::Message(message) = told.event
                    && let Ok(Message::DomeState { motion, .. }) = typed::read(message.payload)
                {
                    bench.say(0, &format!("desk: the dome reports: {motion:?}"));
                }
            }
        }
        if radio.medium() == Medium::Free
            && let Some(transmit) = hub.poll_transmit(now, &mut frame)
        {
            radio.send(&frame[..transmit.len])?;
        }
        clock.sleep(Duration::from_millis(5));
    }
}

/// The dome: a leaf. What drives the motor has passed the gate and the dead-man.
fn dome(bench: &Bench, mut gate: Gate, presses: &[u32]) -> Result<Infallible, Halt> {
    let clock = bench.clock(1);
    let framing = Addressed { framing: Datagram, own: DOME, peer: 0 };
    let config = Config::datagram(AIR.0, AIR.1, OwnNumber::Random(0x5EED_8001));
    let radio = Whole::new(bench.air(1));
    let mut port: Port<_, _> = Port::new(radio, framing, config, clock.tick());
    let mut rate = DeadMan::new(0_i16, LIMIT, Stop::Brake);
    let (mut presses, mut told) = (presses.iter().peekable(), None);
    let mut motor = show::motor(|what| bench.say(1, &format!("dome: {what}")));
    port.open(clock.tick());
    loop {
        while let Some(event) = port.service(clock.tick())? {
            rate.handle_event(&event);
            if let Event::Message(message) = event
                && let Ok(Message::DomeRate { rate: wanted }) = typed::read(message.payload)
            {
                match gate.pass(message.class, Moves::Something) {
                    Ok(()) => rate.handle_set_point(wanted, message.arrived),
                    Err(why) if gate.held_back() == 1 => bench.say(1, &format!("dome: obeys no rate: {why}")),
                    Err(_) => {}
                }
            }
        }
        if let Some(reason) = rate.check(clock.tick()) {
            bench.say(1, &format!("dome: trips: {reason}"));
        }
        if presses.next_if(|&&press| clock.is_past(press)).is_some() {
            match rate.rearm(clock.tick()) {
                Ok(()) => bench.say(1, "dome: the button re-arms"),
                Err(missing) => bench.say(1, &format!("dome: the button does nothing: {missing}")),
            }
        }
        let drive = rate.output(clock.tick());
        motor(drive, rate.stop());
        let motion = motion(&rate);
        let report = Message::DomeState { azimuth: 0, rate: drive, shutter: 0, motion };
        if told != Some(motion) && port.report(clock.tick(), &report).is_ok() {
            told = Some(motion);
        }
        clock.sleep(Duration::from_millis(1));
    }
}

fn motion(rate: &DeadMan<i16>) -> DomeMotion {
    match rate.motion() {
        bellwire::setpoint::Motion::Held(_) => DomeMotion::Held,
        bellwire::setpoint::Motion::Running => DomeMotion::Running,
        bellwire::setpoint::Motion::Stale(_) => DomeMotion::Stale,
        bellwire::setpoint::Motion::MustRearm(_) => DomeMotion::Rearm,
    }
}

fn main() {
    println!("Nothing is attached. A desk and a dome with radios; each fifth datagram is lost.\n");
    println!("As it is: the lever is pushed from 1 s.");
    let bench = Bench::new(Plan { end: 3000, lose_each: 5, ..Plan::default() });
    let lever = |second| if second >= 1 { 200 } else { 0 };
    bench.run(|start| desk(&bench, start, lever), |_| dome(&bench, Gate::new(Way::Open), &[]));

    println!(
        "\nOpened by hand, for a dome that can hurt nobody. The desk is reset at 4.000 s, the lever let go from 9 s to 11 s."
    );
    let bench = Bench::new(Plan { end: 13_000, lose_each: 5, resets: [Some(4000), None], ..Plan::default() });
    let lever = |second| if matches!(second, 2..=8 | 11..) { 200 } else { 0 };
    let gate = Gate::new(Way::Open).opted_in();
    bench.run(|start| desk(&bench, start, lever), |_| dome(&bench, gate, &[1500, 8000, 10_500]));
    println!(
        "The dome stopped one second after the last news that it had, without anybody's help. The desk's return moved nothing,"
    );
    println!(
        "and neither did the button while the lever was pushed: first the stop value, then the button, then a new rate."
    );
}
