//! The core's hub with what stands on it - roster, sleepers, relay, reports of leaves without storage - behind one type, whatever its framing and FCS.

use std::{collections::VecDeque, sync::Arc};

use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::{Read, Reader},
    framing::{Cobs, ControlMap, Datagram, Framing, Lead, OctetStuffing, RadioBoard, Slip},
    link::Wake,
    star::{
        Arrival, Arrivals, Hub, HubConfig, NotArrived, NotSeated, Registrar, Relay, Roster, RosterEvent,
        Seated, Seconds, Sleepers, Speaks,
    },
    time::{Duration, Instant},
};

use crate::{
    endpoint::{FcsName, FramingName, Wiring},
    messages::Table,
};

/// Octets of the receive buffer, and of each message that waits: payloads up to 256 octets.
const FRAME: usize = 272;
/// The same with what a radio board puts around it.
const AROUND: usize = FRAME + 12;
const LEAVES: usize = 250;
/// Messages that wait or are under way, for all leaves.
const POOL: usize = 128;
/// Messages from leaf to leaf that are under way.
const RELAYED: usize = 32;
/// A leaf that was not heard for so long gives its address up.
const EXPIRY: Seconds = 24 * 3600;
/// From the first to the last sending of one report of a leaf without storage, at most.
const ARRIVING: Duration = Duration::from_secs(60);

/// A hub and what stands on it.
pub(super) trait Star: Send {
    /// Takes octets that arrived; on a datagram line one datagram. What is to be remarked goes to `remarks`.
    fn hear(&mut self, arrived: Instant, octets: &[u8], today: Seconds, remarks: &mut Vec<String>);
    /// Does what is due.
    fn expire(&mut self, now: Instant, today: Seconds, remarks: &mut Vec<String>);
    /// The next frame into `out`; gives its length.
    fn transmit(&mut self, now: Instant, today: Seconds, out: &mut [u8]) -> Option<usize>;
    /// So many octets of what was given are still in the system.
    fn handle_unsent(&mut self, now: Instant, octets: usize);
    /// When it must be served next.
    fn poll_wake(&self) -> Wake;
    /// The octets that one frame may take.
    fn max_transmit(&self) -> usize;
}

/// A star with this wiring. The leaves that the table knows by address are admitted from the start; others ask for one.
#[must_use]
pub(super) fn star(wiring: Wiring, config: HubConfig, table: &Arc<Table>, now: Instant) -> Box<dyn Star> {
    match wiring.fcs {
        FcsName::Bits16 => framed::<Fcs16>(wiring, config, table, now),
        FcsName::Bits32 => framed::<Fcs32>(wiring, config, table, now),
    }
}

fn framed<C: Fcs + Send + 'static>(
    wiring: Wiring,
    config: HubConfig,
    table: &Arc<Table>,
    now: Instant,
) -> Box<dyn Star> {
    match wiring.framing {
        FramingName::Cobs => Box::new(Whole::<_, C, FRAME>::new(Cobs, config, table, now)),
        FramingName::OctetStuffing => {
            let framing = OctetStuffing::new(ControlMap(wiring.map));
            Box::new(Whole::<_, C, FRAME>::new(framing, config, table, now))
        }
        FramingName::Slip => Box::new(Whole::<_, C, FRAME>::new(Slip, config, table, now)),
        FramingName::Datagram => Box::new(Whole::<_, C, FRAME>::new(Datagram, config, table, now)),
        FramingName::RadioBoard => Box::new(Whole::<_, C, AROUND>::new(RadioBoard, config, table, now)),
    }
}

struct Whole<F: Framing, C: Fcs, const FRAME: usize> {
    framing: F,
    hub: Hub<F, C, LEAVES, POOL, FRAME>,
    registrar: Registrar<LEAVES>,
    sleepers: Sleepers<LEAVES, 1, 1>,
    relay: Relay<RELAYED, FRAME>,
    arrivals: Arrivals<LEAVES>,
    /// Finds the frames that are no business of the hub.
    reader: Reader<F, C, FRAME>,
    /// Answers to such frames.
    answers: VecDeque<Vec<u8>>,
    table: Arc<Table>,
    dropped: u32,
}

impl<F: Framing, C: Fcs, const FRAME: usize> Whole<F, C, FRAME> {
    fn new(framing: F, config: HubConfig, table: &Arc<Table>, now: Instant) -> Self {
        let mut hub = Hub::new(framing.clone(), config, now);
        for (leaf, _) in table.leaves() {
            hub.admit(now, *leaf, Speaks::Leaf);
        }
        Self {
            reader: Reader::new(framing.clone()),
            framing,
            hub,
            registrar: Registrar::new(Roster::new(EXPIRY)),
            sleepers: Sleepers::new(),
            relay: Relay::new(),
            arrivals: Arrivals::new(config.fingerprint, ARRIVING, config.lifetime),
            answers: VecDeque::new(),
            table: Arc::clone(table),
            dropped: 0,
        }
    }

    /// Drains the events of the hub and of what stands on it.
    fn drain(&mut self, now: Instant, today: Seconds, remarks: &mut Vec<String>) {
        loop {
            let mut any = false;
            while let Some(told) = self.hub.poll_event() {
                any = true;
                let _ = self.relay.handle_event(&told);
                let _ = self.sleepers.handle_event(&told);
            }
            while let Some(event) = self.registrar.poll(&mut self.hub, now, today) {
                any = true;
                self.seat(event, now);
                remarks.push(self.remark(&event));
            }
            while self.sleepers.poll(&mut self.hub, now, today).is_some() {
                any = true;
            }
            self.relay.poll(&mut self.hub, now);
            if !any && !self.hub.has_event() {
                break;
            }
        }
        let more = self.relay.dropped() - core::mem::replace(&mut self.dropped, self.relay.dropped());
        if more > 0 {
            remarks.push(format!("{more} messages from leaf to leaf not relayed: {RELAYED} are under way"));
        }
    }

    /// Who sleeps is known to the sleepers.
    fn seat(&mut self, event: RosterEvent, now: Instant) {
        match event {
            RosterEvent::Joined { seated, awake, .. } => {
                if let Seated::Moved { from, .. } = seated {
                    self.leave(from);
                }
                let leaf = seated.address();
                if awake > 0 {
                    self.sleepers.admit(&mut self.hub, now, leaf, Duration::from_millis(awake.into()));
                } else {
                    self.sleepers.dismiss(leaf);
                }
            }
            RosterEvent::Expired { leaf, .. } => self.leave(leaf),
            RosterEvent::Clash(_) | RosterEvent::Refused { .. } | RosterEvent::Unseated { .. } => {}
        }
    }

    fn leave(&mut self, leaf: u8) {
        self.sleepers.dismiss(leaf);
        self.arrivals.forget(leaf);
    }

    fn remark(&self, event: &RosterEvent) -> String {
        let who = |leaf| match self.table.who(leaf) {
            name if name.starts_with("leaf ") => name,
            name => format!("{name}, leaf {leaf}"),
        };
        match *event {
            RosterEvent::Joined { seated, identity, awake } => {
                let sleeps = match awake {
                    0 => String::new(),
                    awake => format!("; it sleeps, and listens for {awake} ms after each of its frames"),
                };
                let how = match seated {
                    Seated::New(_) => "is on the roster".to_owned(),
                    Seated::Again(_) => "is on the roster as before".to_owned(),
                    Seated::Moved { from, .. } => format!("is on the roster; it was leaf {from}"),
                };
                format!("board {identity:016x} {how}: {}{sleeps}", who(seated.address()))
            }
            RosterEvent::Clash(clash) => clash.to_string(),
            RosterEvent::Refused { identity, why } => {
                let why = match why {
                    NotSeated::Full => "every address is in use".to_owned(),
                    NotSeated::Held(clash) => clash.to_string(),
                    NotSeated::NoIdentity => "it has no identity".to_owned(),
                    NotSeated::NoSuchAddress => "a hub has leaves 1 to 250".to_owned(),
                };
                format!("board {identity:016x} is not on the roster: {why}")
            }
            RosterEvent::Expired { leaf, seat } => {
                let hours = EXPIRY / 3600;
                format!(
                    "{} was not heard for {hours} h: board {:016x} is off the roster",
                    who(leaf),
                    seat.identity
                )
            }
            RosterEvent::Unseated { leaf } => {
                format!("{} speaks and is not on the roster: it is asked to open", who(leaf))
            }
        }
    }

    /// Reports of leaves that keep nothing (W-69), which the hub skips.
    fn arrivals(&mut self, octets: &[u8], today: Seconds, remarks: &mut Vec<String>) {
        let mut rest = octets;
        while !rest.is_empty() {
            let (done, read) = self.reader.feed(rest);
            let Some(Read::Refused {
                octets: &[0xF0, 0, leaf @ 1..=250, Arrival::CODE, ref body @ ..], ..
            }) = read
            else {
                rest = rest.get(done.max(1)..).unwrap_or_default();
                continue;
            };
            rest = rest.get(done.max(1)..).unwrap_or_default();
            let Some(arrival) = Arrival::parse(body) else { continue };
            let handled = self.arrivals.handle(leaf, &arrival, today);
            if let Err(why @ (NotArrived::Mismatch { .. } | NotArrived::NoRoom)) = handled {
                remarks.push(format!("{}: {why}", self.table.who(leaf)));
            }
            if let Some(answer) = Arrivals::<LEAVES>::answer(&arrival, &handled, false) {
                let mut out = vec![0; Hub::<F, C, LEAVES, POOL, FRAME>::max_transmit()];
                let len = answer.write::<F, C>(&self.framing, leaf, Lead::Delimiter, &mut out);
                out.truncate(len);
                self.answers.push_back(out);
            }
        }
    }
}

impl<F, C, const FRAME: usize> Star for Whole<F, C, FRAME>
where
    F: Framing + Send,
    C: Fcs + Send,
    F::State: Send,
{
    fn hear(&mut self, arrived: Instant, octets: &[u8], today: Seconds, remarks: &mut Vec<String>) {
        self.arrivals(octets, today, remarks);
        let mut rest = octets;
        while !rest.is_empty() {
            let done = self.registrar.handle_octets(&mut self.hub, arrived, rest, today);
            rest = rest.get(done..).unwrap_or_default();
            let told = self.hub.has_event();
            self.drain(arrived, today, remarks);
            // The law says that a hub with no event left takes octets. Should it not, the rest is lost rather than the program stuck.
            if done == 0 && !told {
                break;
            }
        }
    }

    fn expire(&mut self, now: Instant, today: Seconds, remarks: &mut Vec<String>) {
        self.hub.handle_timeout(now);
        self.drain(now, today, remarks);
    }

    fn transmit(&mut self, now: Instant, today: Seconds, out: &mut [u8]) -> Option<usize> {
        if let Some(answer) = self.answers.pop_front() {
            let room = out.get_mut(..answer.len())?;
            room.copy_from_slice(&answer);
            return Some(answer.len());
        }
        let sent = self.hub.poll_transmit(now, out)?;
        self.drain(now, today, &mut Vec::new());
        Some(sent.len)
    }

    fn handle_unsent(&mut self, now: Instant, octets: usize) {
        self.hub.handle_unsent(now, octets);
    }

    fn poll_wake(&self) -> Wake {
        self.hub.poll_wake()
    }

    fn max_transmit(&self) -> usize {
        Hub::<F, C, LEAVES, POOL, FRAME>::max_transmit()
    }
}
