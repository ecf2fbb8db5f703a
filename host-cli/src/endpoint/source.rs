//! What every endpoint can do: be listened to, and talked to.

use std::time::Duration;

use super::{Item, PortInfo};
use crate::fail::Fail;

/// A listening endpoint: files, standard input, devices, the demo.
pub trait Source: Send {
    /// Waits at most `wait` for the next item; `None` if nothing came. After [`Item::End`] it gives `End` again.
    ///
    /// # Errors
    /// A [`Fail`] ends the source: the endpoint is lost for good, or its data are bad.
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail>;

    /// The ports of this source, by index: one for a live endpoint, as many as it holds for a capture (the list
    /// may grow while it is read; a port is here before its first chunk).
    fn ports(&self) -> &[PortInfo];

    /// Whether its times pass as ours do, so that silence means something: false for a recording.
    fn is_live(&self) -> bool {
        true
    }

    /// What frames that go [`super::Direction::In`] and [`super::Direction::Out`] are called, if not `in` and `out`: at most 5 letters each.
    fn sides(&self) -> Option<[String; 2]> {
        None
    }

    /// Lines for people to show before the first item, each at most 80 columns: what this source is, if that needs saying.
    fn preamble(&self) -> Vec<String> {
        Vec::new()
    }

    /// Lines for people to show after the last item and the sum, whatever ended the run.
    fn closing(&mut self) -> Vec<String> {
        Vec::new()
    }
}

/// A talking endpoint.
pub trait Endpoint: Source {
    /// Hands octets to the system, all or none: waits while its queue is full, at most some seconds.
    /// On a datagram endpoint each call is one datagram. While the device is away octets are dropped, as a cut wire would.
    ///
    /// # Errors
    /// A [`Fail`] if the endpoint is lost for good.
    fn write(&mut self, octets: &[u8]) -> Result<(), Fail>;

    /// Octets handed over that the system has not sent yet, as far as it tells (0 where it does not).
    fn unsent(&self) -> usize;

    /// Whether the other side is there now: false while a device is unplugged or nobody is connected.
    fn present(&self) -> bool;
}
