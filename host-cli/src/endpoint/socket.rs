//! Connections over TCP, opened by us or by the other side, and datagrams over UDP.

use std::{
    io::{self, ErrorKind},
    net::{Ipv4Addr, Ipv6Addr, SocketAddr, TcpListener, TcpStream, ToSocketAddrs, UdpSocket},
    sync::Arc,
    time::Duration,
};

use rustix::event::PollFlags;

use super::{
    live::{Connection, Connector},
    pipe::{Octets, Pipe, ready},
};
use crate::{exit::Exit, fail::Fail};

/// How long a connection may take to be opened.
const OPENING: Duration = Duration::from_secs(3);

fn connection<T: Octets + 'static>(socket: T, note: Option<String>) -> Connection {
    let pipe = Pipe(Arc::new(socket));
    Connection { reading: Box::new(pipe.clone()), writing: Some(Box::new(pipe)), note }
}

/// All addresses of `HOST:PORT`; the brackets of an IPv6 number are taken off.
fn addresses(host: &str, port: u16) -> Result<Vec<SocketAddr>, Fail> {
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    match (bare, port).to_socket_addrs().map(Iterator::collect::<Vec<_>>) {
        Ok(found) if !found.is_empty() => Ok(found),
        found => {
            let why = found.err().map_or_else(|| "it has no address".into(), |error| error.to_string());
            Err(Fail::new(Exit::Unavailable, format!("cannot find {host}: {why}"))
                .next("is the name spelled right?"))
        }
    }
}

fn smooth(stream: TcpStream) -> io::Result<TcpStream> {
    stream.set_nodelay(true)?;
    stream.set_nonblocking(true)?;
    Ok(stream)
}

/// `tcp:HOST:PORT`.
pub(super) struct Dial {
    pub(super) host: String,
    pub(super) port: u16,
}

impl Connector for Dial {
    fn connect(&mut self, _wait: Duration) -> Result<Option<Connection>, Fail> {
        let Dial { host, port } = self;
        let mut last = None;
        for address in addresses(host, *port)? {
            match TcpStream::connect_timeout(&address, OPENING).and_then(smooth) {
                Ok(stream) => return Ok(Some(connection(stream, None))),
                Err(error) => last = Some(error),
            }
        }
        let (why, next) = match last {
            Some(error) if error.kind() == ErrorKind::ConnectionRefused => {
                ("nobody listens there".into(), "start the other side first, for instance with await:PORT")
            }
            Some(error) if error.kind() == ErrorKind::TimedOut => {
                ("no answer".into(), "is the other computer on?")
            }
            Some(error) => (error.to_string(), "is the network up?"),
            None => ("no address".into(), "is the name spelled right?"),
        };
        Err(Fail::new(Exit::Unavailable, format!("cannot connect to {host}:{port}: {why}")).next(next))
    }
}

/// `await:HOST:PORT`.
pub(super) struct Await {
    listener: TcpListener,
}

impl Await {
    pub(super) fn new(host: &str, port: u16) -> Result<Self, Fail> {
        let listener = addresses(host, port).and_then(|found| {
            TcpListener::bind(found.as_slice()).map_err(|error| occupied(host, port, &error))
        })?;
        listener.set_nonblocking(true).map_err(|error| Fail::io("cannot listen", &error))?;
        Ok(Await { listener })
    }
}

impl Connector for Await {
    fn connect(&mut self, wait: Duration) -> Result<Option<Connection>, Fail> {
        let _ = ready(&self.listener, PollFlags::IN, wait);
        match self.listener.accept().and_then(|(stream, from)| Ok((smooth(stream)?, from))) {
            Ok((stream, from)) => Ok(Some(connection(stream, Some(format!("{from} connected"))))),
            Err(_) => Ok(None),
        }
    }

    fn pause(&self, _tries: u32) -> Duration {
        Duration::ZERO
    }
}

fn occupied(host: &str, port: u16, error: &io::Error) -> Fail {
    let exit = if error.kind() == ErrorKind::PermissionDenied { Exit::Permission } else { Exit::Unavailable };
    let next = match error.kind() {
        ErrorKind::AddrInUse => "another program uses this port: choose another one",
        ErrorKind::PermissionDenied => "ports below 1024 are for the administrator: choose a higher one",
        _ => "is this an address of this computer?",
    };
    Fail::new(exit, format!("cannot listen on {host}:{port}: {error}")).next(next)
}

/// `udp:HOST:PORT`: datagrams of that one address only.
pub(super) struct Datagrams {
    pub(super) host: String,
    pub(super) port: u16,
    pub(super) local: Option<u16>,
}

impl Connector for Datagrams {
    fn connect(&mut self, _wait: Duration) -> Result<Option<Connection>, Fail> {
        let Datagrams { host, port, local } = self;
        let found = addresses(host, *port)?;
        let wanted = local.unwrap_or(0);
        let mut last = Fail::new(Exit::Unavailable, format!("cannot reach {host}:{port}"));
        for address in found {
            let own: SocketAddr = match address {
                SocketAddr::V4(_) => (Ipv4Addr::UNSPECIFIED, wanted).into(),
                SocketAddr::V6(_) => (Ipv6Addr::UNSPECIFIED, wanted).into(),
            };
            let made = UdpSocket::bind(own).and_then(|socket| {
                socket.connect(address)?;
                socket.set_nonblocking(true)?;
                let own = socket.local_addr()?;
                Ok((socket, own))
            });
            match made {
                Ok((socket, own)) => {
                    let note = format!("datagrams between {own} and {address}");
                    return Ok(Some(connection(socket, Some(note))));
                }
                Err(error) => last = occupied(&own.ip().to_string(), wanted, &error),
            }
        }
        Err(last)
    }
}
