//! Opening an endpoint by its name.

use std::{os::unix::fs::FileTypeExt, path::Path, time::Duration};

use super::{
    Endpoint, EndpointSpec, FramingName, LineSettings, PortInfo, Source, Wiring,
    devices::Devices,
    live::{Connection, Connector, Live, Outlet, Start},
    recording::Recording,
    relay::{Delays, Relay},
    serial::Serial,
    socket::{Await, Datagrams, Dial},
    standard::Standard,
    twin::Twin,
};
use crate::{demo, exit::Exit, fail::Fail};

/// How to open an endpoint.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OpenOptions {
    /// Rate and format for a serial device whose spec names none.
    pub line: LineSettings,
    /// What to do when the endpoint goes away.
    pub loss: Loss,
    /// How frames travel, if known: told by the port, and so recorded.
    pub wiring: Option<Wiring>,
}

/// What to do when an endpoint goes away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Loss {
    /// Wait until it comes back, and say how long it was away.
    #[default]
    Wait,
    /// Treat it as the end.
    End,
}

/// Opens an endpoint for talking.
///
/// # Errors
/// A [`Fail`] that says what to do: no such device, no permission, busy; or an endpoint that can only be read.
pub fn open(spec: &EndpointSpec, options: &OpenOptions) -> Result<Box<dyn Endpoint>, Fail> {
    if let EndpointSpec::Demo { settings } = spec {
        return demo::open(settings);
    }
    let (outlet, relay) = (Outlet::default(), None);
    Ok(Box::new(Live::start(begin(spec, options)?.start(options.loss, outlet, relay))))
}

/// Opens an endpoint for listening only.
///
/// # Errors
/// As [`open`], or a capture file that cannot be read.
pub fn listen(spec: &EndpointSpec, options: &OpenOptions) -> Result<Box<dyn Source>, Fail> {
    match spec {
        EndpointSpec::Demo { settings } => demo::listen(settings),
        EndpointSpec::Path { path, line: None } if is_plain_file(path) => {
            Ok(Box::new(Recording::open(path)?))
        }
        _ => Ok(Box::new(Live::start(begin(spec, options)?.start(options.loss, Outlet::default(), None)))),
    }
}

/// Two endpoints that pass everything on to each other.
pub struct Joined {
    /// The first: what it gives has been passed on to the second.
    pub first: Box<dyn Source>,
    /// The second: what it gives has been passed on to the first.
    pub second: Box<dyn Source>,
    /// How long passing on took, from the end of a read to the end of the write, both ways together.
    pub delays: Delays,
}

/// Opens two endpoints and passes octets on unchanged, both ways. What comes while the other side is away is dropped there, as a cut
/// wire would.
///
/// # Errors
/// As [`open`], for either.
pub fn join(first: &EndpointSpec, second: &EndpointSpec, options: &OpenOptions) -> Result<Joined, Fail> {
    let outlets = [Outlet::default(), Outlet::default()];
    let delays = Delays::default();
    let relay = |to: &Outlet, who: &EndpointSpec| {
        Some(Relay { to: to.clone(), who: who.to_string(), delays: delays.clone() })
    };
    // Both are open and can be written to before either is read, so that nothing is lost at the start.
    let (mut one, mut two) = (begin(first, options)?, begin(second, options)?);
    let [to_one, to_two] = &outlets;
    to_one.take_over(&mut one.connection);
    to_two.take_over(&mut two.connection);
    let second_live = Live::start(two.start(options.loss, to_two.clone(), relay(to_one, first)));
    let first_live = Live::start(one.start(options.loss, to_one.clone(), relay(to_two, second)));
    Ok(Joined { first: Box::new(first_live), second: Box::new(second_live), delays })
}

fn is_plain_file(path: &Path) -> bool {
    path.metadata().is_ok_and(|found| !found.file_type().is_char_device())
}

/// An endpoint with its first connection, if there is one, before its thread starts.
struct Begun {
    port: PortInfo,
    connector: Box<dyn Connector>,
    connection: Option<Connection>,
}

impl Begun {
    fn start(self, loss: Loss, outlet: Outlet, relay: Option<Relay>) -> Start {
        let Begun { port, connector, connection } = self;
        Start { port, connector, connection, loss, relay, outlet }
    }
}

fn begin(spec: &EndpointSpec, options: &OpenOptions) -> Result<Begun, Fail> {
    let mut port = PortInfo { wiring: options.wiring, ..PortInfo::named(spec.to_string()) };
    match spec {
        EndpointSpec::Path { path, line: None } if is_plain_file(path) => {
            Err(Fail::new(Exit::Usage, format!("{spec} is a file, which nobody can talk to")).next(format!(
                "`bellwire decode {spec}` reads it, `bellwire replay {spec} ENDPOINT` sends it again"
            )))
        }
        EndpointSpec::Path { path, line } => {
            let line = line.unwrap_or(options.line);
            let serial = Serial::new(path, line, Devices::default());
            port.line = Some(line);
            port.identity = serial.identity();
            let connection = Some(serial.first()?);
            Ok(Begun { port, connector: Box::new(serial), connection })
        }
        EndpointSpec::Twin { path } => in_time(port, Box::new(Twin::new(path)?)),
        EndpointSpec::Tcp { host, port: number } => {
            at_once(port, Box::new(Dial { host: host.clone(), port: *number }))
        }
        EndpointSpec::Await { host, port: number } => in_time(port, Box::new(Await::new(host, *number)?)),
        EndpointSpec::Udp { host, port: number, local } => {
            let datagrams = Wiring { framing: FramingName::Datagram, ..Wiring::default() };
            port.wiring = port.wiring.or(Some(datagrams));
            at_once(port, Box::new(Datagrams { host: host.clone(), port: *number, local: *local }))
        }
        EndpointSpec::Stdin => {
            Ok(Begun { port, connector: Box::new(Standard), connection: Some(Standard::connection()) })
        }
        EndpointSpec::Demo { .. } => Err(Fail::new(Exit::Usage, "the demo cannot be joined to anything")
            .next("watch it with `bellwire log demo:`")),
    }
}

/// The other side comes when it likes.
fn in_time(port: PortInfo, connector: Box<dyn Connector>) -> Result<Begun, Fail> {
    Ok(Begun { port, connector, connection: None })
}

/// The first connection must succeed.
fn at_once(port: PortInfo, mut connector: Box<dyn Connector>) -> Result<Begun, Fail> {
    let connection = connector.connect(Duration::ZERO)?;
    Ok(Begun { port, connector, connection })
}
