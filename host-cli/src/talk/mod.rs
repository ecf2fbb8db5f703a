//! Taking part ourselves: the core's link over an endpoint, in real time.
//!
//! [`Talk`] keeps the law of the core's loop: after any input or command it drains the events, then the frames to send, then sleeps until
//! the wake-up. Its users see only [`Happening`]s.

mod codec;
mod happening;
mod hub;
mod overheard;
mod own_number;
mod repeats;
mod star;
mod taking_part;
mod teller;

use std::{
    collections::VecDeque,
    time::{Duration, Instant},
};

use bellwire::{
    frame::Class,
    link::{Config, OwnNumber, Peer, SendError, State, Ticket, When},
    time::{LONGEST, elapsed},
};

pub use codec::{Codec, codec};
pub use happening::{Happening, Received};
pub use hub::BeingHub;
pub use own_number::{OwnNumberFile, random32, random64};
pub use repeats::Repeats;
pub use taking_part::TakingPart;
pub use teller::{Teller, mismatched, what_became, why_ended};

use crate::{
    args::{line::LineArgs, peer::SelfArgs},
    clock,
    endpoint::{self, Chunk, Direction, Endpoint, EndpointSpec, Item, Loss, OpenOptions, Wiring},
    exit::Exit,
    fail::Fail,
    machine::{Machine, machine, machine_between},
};

/// The longest sleep, so that a change of the endpoint or a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(100);
/// How long the system may take to send what is left at the end.
const DRAIN: Duration = Duration::from_secs(5);
/// How long the reader of a pseudo-terminal has to fetch the last octets.
const READER: Duration = Duration::from_millis(200);

/// A link of ours over an endpoint.
pub struct Talk {
    endpoint: Box<dyn Endpoint>,
    machine: Box<dyn Machine>,
    number_file: Option<OwnNumberFile>,
    waiting: VecDeque<Happening>,
    frame: Vec<u8>,
    at_end: bool,
    identity: u64,
}

/// The wiring that options and endpoint call for: datagrams are not stuffed.
#[must_use]
pub fn wiring_of(spec: &EndpointSpec, line: &LineArgs) -> Wiring {
    let framing =
        if spec.is_datagram() { endpoint::FramingName::Datagram } else { endpoint::FramingName::Cobs };
    line.frame.wiring(Wiring { framing, ..Wiring::default() })
}

/// Opens an endpoint for talking, with the settings of the line.
///
/// # Errors
/// As [`endpoint::open`].
pub fn open_endpoint(spec: &EndpointSpec, line: &LineArgs, loss: Loss) -> Result<Box<dyn Endpoint>, Fail> {
    endpoint::open(spec, &OpenOptions { line: line.settings(), loss, wiring: Some(wiring_of(spec, line)) })
}

/// Octets per second of a serial line; 0: faster than matters.
fn octet_rate(spec: &EndpointSpec, line: &LineArgs) -> u32 {
    match spec {
        EndpointSpec::Path { line: Some(own_line), .. } => own_line.octet_rate(),
        EndpointSpec::Path { line: None, .. } => line.settings().octet_rate(),
        _ => 0,
    }
}

fn lifetime(stated: Duration) -> Result<bellwire::time::Duration, Fail> {
    match u32::try_from(stated.as_micros()) {
        Ok(micros @ 0..=600_000_000) => Ok(bellwire::time::Duration::from_ticks(micros)),
        _ => Err(Fail::new(Exit::Usage, "--lifetime is longer than 10 minutes")),
    }
}

/// Waits until the system has sent what it was given, at most some seconds. A pseudo-terminal may forget what its reader has not fetched
/// when either side is closed, and does not tell how much that is: its reader gets a moment more.
///
/// # Errors
/// If the endpoint is lost for good.
pub fn linger(endpoint: &mut dyn Endpoint, spec: &EndpointSpec) -> Result<(), Fail> {
    let start = Instant::now();
    while endpoint.unsent() > 0 && start.elapsed() < DRAIN {
        if let Some(Item::End) = endpoint.next(Duration::from_millis(5))? {
            return Ok(());
        }
    }
    if matches!(spec, EndpointSpec::Twin { .. } | EndpointSpec::Path { .. }) {
        let until = Instant::now() + READER;
        while Instant::now() < until && endpoint.present() {
            endpoint.next(until.saturating_duration_since(Instant::now()))?;
        }
    }
    Ok(())
}

impl Talk {
    /// Opens the endpoint and begins to open a session.
    ///
    /// # Errors
    /// If the endpoint cannot be opened, or the file of the own number is no good.
    pub fn open(
        spec: &EndpointSpec,
        line: &LineArgs,
        ourselves: &SelfArgs,
        loss: Loss,
    ) -> Result<Self, Fail> {
        Self::open_with(spec, line, ourselves, loss, |endpoint| endpoint)
    }

    /// As [`Talk::open`], with something put around the endpoint.
    pub(crate) fn open_with(
        spec: &EndpointSpec,
        line: &LineArgs,
        ourselves: &SelfArgs,
        loss: Loss,
        around: impl FnOnce(Box<dyn Endpoint>) -> Box<dyn Endpoint>,
    ) -> Result<Self, Fail> {
        let number_file = ourselves.own_number_file.as_deref().map(OwnNumberFile::open).transpose()?;
        let own = match &number_file {
            Some(file) => OwnNumber::Stored(file.number()),
            None => OwnNumber::Random(random32()?),
        };
        let identity = ourselves.identity.map_or_else(random64, Ok)?;
        let octet_rate = octet_rate(spec, line);
        let base = if wiring_of(spec, line).framing.is_unordered() {
            Config::datagram(octet_rate, lifetime(ourselves.lifetime)?, own)
        } else {
            Config { octet_rate, ..Config::stream(own) }
        };
        let config = Config {
            identity,
            fingerprint: ourselves.fingerprint.unwrap_or(0),
            jitter_seed: random32()? | 1,
            ..base
        };
        let endpoint = around(open_endpoint(spec, line, loss)?);
        let machine = machine_between(
            wiring_of(spec, line),
            ourselves.between,
            config,
            clock::on_the_link(clock::now()),
        );
        Ok(Self::with(endpoint, machine, config.identity, number_file))
    }

    /// A link over an endpoint that is open already.
    #[must_use]
    pub fn over(
        endpoint: Box<dyn Endpoint>,
        wiring: Wiring,
        config: Config,
        number_file: Option<OwnNumberFile>,
    ) -> Self {
        let machine = machine(wiring, config, clock::on_the_link(clock::now()));
        Self::with(endpoint, machine, config.identity, number_file)
    }

    fn with(
        endpoint: Box<dyn Endpoint>,
        machine: Box<dyn Machine>,
        identity: u64,
        number_file: Option<OwnNumberFile>,
    ) -> Self {
        let frame = vec![0; machine.max_transmit()];
        Self { endpoint, machine, number_file, waiting: VecDeque::new(), frame, at_end: false, identity }
    }

    /// The next happening, or `None` when `wait` is over. It serves the link meanwhile.
    ///
    /// # Errors
    /// If the endpoint is lost for good.
    pub fn next(&mut self, wait: Duration) -> Result<Option<Happening>, Fail> {
        let until = Instant::now() + wait;
        loop {
            self.serve()?;
            if let Some(happening) = self.waiting.pop_front() {
                return Ok(Some(happening));
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(None);
            }
            let nap = left.min(NAP).min(self.until_wake());
            if self.at_end {
                std::thread::sleep(nap);
            } else if let Some(item) = self.endpoint.next(nap)? {
                self.take(item)?;
            }
            self.machine.handle_timeout(clock::on_the_link(clock::now()));
        }
    }

    /// Hands a message to the link; its outcome comes as a happening, if its class has one.
    ///
    /// # Errors
    /// Why it was not accepted.
    pub fn send(&mut self, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        self.machine.send(clock::on_the_link(clock::now()), class, payload)
    }

    /// Sends what is due now, without waiting.
    ///
    /// # Errors
    /// If the endpoint is lost for good.
    pub fn flush(&mut self) -> Result<(), Fail> {
        self.serve()
    }

    /// Ends the session.
    pub fn close(&mut self) {
        self.machine.close(clock::on_the_link(clock::now()));
    }

    /// Our identity.
    #[must_use]
    pub const fn identity(&self) -> u64 {
        self.identity
    }

    /// State of the link.
    #[must_use]
    pub fn state(&self) -> State {
        self.machine.state()
    }

    /// Whether the other end of the line is there as far as can be seen: plugged in, opened, connected.
    #[must_use]
    pub fn is_present(&self) -> bool {
        self.endpoint.present()
    }

    /// The other board, while a session is open.
    #[must_use]
    pub fn peer(&self) -> Option<Peer> {
        self.machine.peer()
    }

    /// Drains the events, then sends what is due.
    fn serve(&mut self) -> Result<(), Fail> {
        self.drain()?;
        loop {
            let now = clock::on_the_link(clock::now());
            self.machine.handle_unsent(now, self.endpoint.unsent());
            let Some(len) = self.machine.poll_transmit(now, &mut self.frame) else { break };
            if let Some(octets) = self.frame.get(..len).filter(|octets| !octets.is_empty()) {
                self.endpoint.write(octets)?;
            }
        }
        self.drain()
    }

    fn drain(&mut self) -> Result<(), Fail> {
        while let Some(event) = self.machine.poll_event() {
            let happening = Happening::of(event);
            if let (Some(Happening::Ended(_)), Some(file)) = (&happening, &mut self.number_file) {
                file.used()?;
            }
            self.waiting.extend(happening);
        }
        Ok(())
    }

    fn take(&mut self, item: Item) -> Result<(), Fail> {
        match item {
            Item::Chunk(chunk) if chunk.direction == Direction::In => self.feed(&chunk)?,
            Item::Chunk(_) => {}
            Item::Gap(gap) => self.waiting.push_back(Happening::Gap(gap)),
            Item::Note(note) => self.waiting.push_back(Happening::Note(note.text)),
            Item::End => {
                self.at_end = true;
                self.waiting.push_back(Happening::End);
            }
        }
        Ok(())
    }

    fn feed(&mut self, chunk: &Chunk) -> Result<(), Fail> {
        let arrived = clock::on_the_link(chunk.at);
        let mut rest = chunk.octets.as_slice();
        while !rest.is_empty() {
            let told = self.waiting.len();
            let consumed = self.machine.handle_octets(arrived, rest).min(rest.len());
            rest = rest.get(consumed..).unwrap_or_default();
            self.serve()?;
            // The law says that a link with no event left takes octets. Should it not, the rest is lost rather than the program stuck.
            if consumed == 0 && self.waiting.len() == told {
                break;
            }
        }
        Ok(())
    }

    fn until_wake(&self) -> Duration {
        match self.machine.poll_wake().when {
            When::Now => Duration::ZERO,
            When::Idle => NAP,
            When::At(at) => {
                // `elapsed` takes a wake-up in the past as no time at all.
                let span = elapsed(at, clock::on_the_link(clock::now())).min(LONGEST);
                Duration::from_micros(span.as_ticks().into())
            }
        }
    }
}
