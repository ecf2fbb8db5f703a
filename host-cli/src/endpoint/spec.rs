//! Endpoints by name: `/dev/ttyUSB0@115200`, `twin:PATH`, `tcp:HOST:PORT` and so on. Parsing touches nothing.

use core::fmt;
use core::str::FromStr;
use std::path::PathBuf;

use super::LineSettings;

/// An endpoint by name.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum EndpointSpec {
    /// `PATH` or `PATH@RATE,FORMAT`: a serial device, or a capture file. Which it is shows when it is opened.
    Path {
        /// Where it is.
        path: PathBuf,
        /// Rate and format, if named: then it is a device.
        line: Option<LineSettings>,
    },
    /// `twin:PATH`: a pseudo-terminal that we make; PATH becomes a link to its other side.
    Twin {
        /// Where the link is put.
        path: PathBuf,
    },
    /// `tcp:HOST:PORT`: a connection that we open.
    Tcp {
        /// Name or number of the other computer; an IPv6 number in brackets.
        host: String,
        /// Its port.
        port: u16,
    },
    /// `await:PORT` or `await:HOST:PORT`: a connection that the other side opens, one at a time.
    Await {
        /// The address of ours to listen on.
        host: String,
        /// The port to listen on.
        port: u16,
    },
    /// `udp:HOST:PORT` or `udp:HOST:PORT@LOCAL`: datagrams to and from one other computer.
    Udp {
        /// Name or number of the other computer.
        host: String,
        /// Its port.
        port: u16,
        /// The port of ours; the system chooses if none is named.
        local: Option<u16>,
    },
    /// `-`: standard input, raw octets.
    Stdin,
    /// `demo:` or `demo:SETTINGS`: the machine in this program.
    Demo {
        /// What stands behind the colon; the demo reads it.
        settings: String,
    },
}

impl EndpointSpec {
    /// Whether each read is one whole datagram, so that frames travel without stuffing.
    #[must_use]
    pub const fn is_datagram(&self) -> bool {
        matches!(self, EndpointSpec::Udp { .. })
    }
}

impl fmt::Display for EndpointSpec {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EndpointSpec::Path { path, line: None } => write!(f, "{}", path.display()),
            EndpointSpec::Path { path, line: Some(line) } => write!(f, "{}@{line}", path.display()),
            EndpointSpec::Twin { path } => write!(f, "twin:{}", path.display()),
            EndpointSpec::Tcp { host, port } => write!(f, "tcp:{host}:{port}"),
            EndpointSpec::Await { host, port } => write!(f, "await:{host}:{port}"),
            EndpointSpec::Udp { host, port, local: None } => write!(f, "udp:{host}:{port}"),
            EndpointSpec::Udp { host, port, local: Some(local) } => write!(f, "udp:{host}:{port}@{local}"),
            EndpointSpec::Stdin => f.write_str("-"),
            EndpointSpec::Demo { settings } => write!(f, "demo:{settings}"),
        }
    }
}

const LOOPBACK: &str = "127.0.0.1";

impl FromStr for EndpointSpec {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text.is_empty() {
            return Err(format!("an endpoint is missing: {FORMS}"));
        }
        if text == "-" {
            return Ok(EndpointSpec::Stdin);
        }
        if let Some((scheme, rest)) = text.split_once(':')
            && !scheme.contains(['/', '.', '@'])
        {
            return with_scheme(scheme, rest, text);
        }
        path(text)
    }
}

/// One line that names all forms of an endpoint.
pub const FORMS: &str =
    "use a device path, twin:PATH, tcp:HOST:PORT, await:PORT, udp:HOST:PORT, - or demo:, or a capture file";

fn with_scheme(scheme: &str, rest: &str, text: &str) -> Result<EndpointSpec, String> {
    match scheme {
        "twin" if rest.is_empty() => Err("`twin:` needs a path, as in twin:/tmp/dome".to_string()),
        "twin" => Ok(EndpointSpec::Twin { path: rest.into() }),
        "tcp" => host_and_port(rest, text).map(|(host, port)| EndpointSpec::Tcp { host, port }),
        "await" if !rest.contains(':') => {
            Ok(EndpointSpec::Await { host: LOOPBACK.into(), port: port_number(rest, text)? })
        }
        "await" => host_and_port(rest, text).map(|(host, port)| EndpointSpec::Await { host, port }),
        "udp" => {
            let (remote, local) = match rest.rsplit_once('@') {
                Some((remote, local)) => (remote, Some(port_number(local, text)?)),
                None => (rest, None),
            };
            host_and_port(remote, text).map(|(host, port)| EndpointSpec::Udp { host, port, local })
        }
        "demo" => Ok(EndpointSpec::Demo { settings: rest.into() }),
        _ => Err(format!("`{scheme}:` is no kind of endpoint: {FORMS} (a file of that name: ./{text})")),
    }
}

fn host_and_port(rest: &str, text: &str) -> Result<(String, u16), String> {
    let (host, port) = rest
        .rsplit_once(':')
        .ok_or_else(|| format!("`{text}` lacks a port: write HOST:PORT, as in desk:7000"))?;
    if host.is_empty() {
        return Err(format!("`{text}` lacks a host: write HOST:PORT, as in desk:7000"));
    }
    let bracketed = host.starts_with('[') && host.ends_with(']');
    if host.contains(':') && !bracketed {
        return Err(format!("`{text}`: put an IPv6 number in brackets, as in [::1]:7000"));
    }
    Ok((host.into(), port_number(port, text)?))
}

fn port_number(port: &str, text: &str) -> Result<u16, String> {
    match port.parse::<u16>() {
        Ok(port @ 1..) => Ok(port),
        _ => Err(format!("`{text}`: `{port}` is no port number: write 1 to 65535")),
    }
}

/// `PATH` or `PATH@RATE,FORMAT`: an `@` counts only when a digit follows and no `/` does.
fn path(text: &str) -> Result<EndpointSpec, String> {
    if let Some((path, line)) = text.rsplit_once('@')
        && !path.is_empty()
        && !line.contains('/')
        && line.starts_with(|c: char| c.is_ascii_digit())
    {
        let line = line.parse().map_err(|error| format!("`{text}`: {error}"))?;
        return Ok(EndpointSpec::Path { path: path.into(), line: Some(line) });
    }
    Ok(EndpointSpec::Path { path: text.into(), line: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_reads_back_as_written() {
        let forms = [
            "/dev/ttyUSB0",
            "/dev/ttyUSB0@115200,8N1",
            "/dev/serial/by-id/usb-Dome_board_0007-if00",
            "twin:/tmp/dome",
            "tcp:desk:7000",
            "tcp:[::1]:7000",
            "await:127.0.0.1:7000",
            "await:0.0.0.0:1",
            "udp:192.0.2.7:65535",
            "udp:mast:7000@7001",
            "-",
            "demo:",
            "demo:seed=7",
            "night.pcapng",
            "./odd:name",
            "night@dome.pcapng",
            "at@1/night.pcapng",
        ];
        for text in forms {
            let spec: EndpointSpec = text.parse().unwrap();
            assert_eq!(spec.to_string(), text);
            assert_eq!(spec.to_string().parse::<EndpointSpec>().unwrap(), spec);
        }
    }

    #[test]
    fn short_forms_take_their_defaults() {
        let spec = |text: &str| text.parse::<EndpointSpec>().unwrap().to_string();
        assert_eq!(spec("await:7000"), "await:127.0.0.1:7000");
        assert_eq!(spec("/dev/ttyS0@9600"), "/dev/ttyS0@9600,8N1");
        assert_eq!(spec("/dev/ttyS0@9600,7e2"), "/dev/ttyS0@9600,7E2");
    }

    #[test]
    fn wrong_names_are_refused_with_the_way_out() {
        let table = [
            ("", "an endpoint is missing"),
            ("twin:", "needs a path"),
            ("tcp:desk", "lacks a port"),
            ("tcp::7000", "lacks a host"),
            ("tcp:desk:0", "no port number"),
            ("tcp:desk:65536", "no port number"),
            ("tcp:::1:7000", "in brackets"),
            ("await:", "no port number"),
            ("await:-1", "no port number"),
            ("udp:mast:7000@", "no port number"),
            ("usb:0", "no kind of endpoint"),
            ("/dev/ttyS0@9600,9N1", "no line format"),
            ("/dev/ttyS0@0", "no line rate"),
        ];
        for (text, part) in table {
            let error = text.parse::<EndpointSpec>().unwrap_err();
            assert!(error.contains(part), "{text}: {error}");
        }
    }
}
