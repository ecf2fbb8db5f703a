//! Board A: the computer that decides.

use core::convert::Infallible;

use bellwire::{
    io::Line,
    link::{Config, Event, OwnNumber},
    port::Port,
    time::Instant,
};

use crate::messages::Message;

/// Streams the rate at which the dome shall turn, as `lever` stands, and hands every event to `show`.
///
/// `wait` is the pause between two values, about a fifth of the receiver's freshness limit or less. `random` must differ at every start.
///
/// # What it does underneath
/// `set` is [`Link::send`](bellwire::link::Link::send) with the class set-point: the link keeps the newest value of each message number and is told
/// nothing else. It answers `NotOpen` until the dome is there, and there is nothing to do about that but to go on: values are never
/// saved up. `service` takes what the UART has and feeds it to `handle_octets`, calls `handle_timeout`, puts out what `poll_transmit`
/// gives, and hands on what `poll_event` gives, one event a call.
///
/// # Caution
/// What it sends turns a dome. Guard moving parts, and try with the motor disconnected.
///
/// # Errors
/// The line's: it ends only when its line fails.
pub fn desk<U: Line>(
    uart: U,
    random: u32,
    tick: impl Fn() -> Instant,
    wait: impl Fn(),
    lever: impl Fn() -> i16,
    mut show: impl FnMut(Event<'_>),
) -> Result<Infallible, U::Error> {
    let mut port = Port::uart(uart, Config::uart(115_200, OwnNumber::Random(random)), tick());
    port.open(tick());
    loop {
        let _ = port.set(tick(), &Message::DomeRate { rate: lever() });
        while let Some(event) = port.service(tick())? {
            show(event);
        }
        wait();
    }
}
