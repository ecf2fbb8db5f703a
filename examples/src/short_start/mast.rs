//! A sensor node: measures, reports, sleeps.

use core::convert::Infallible;

use bellwire::{
    io::Datagram,
    link::{Config, Event, OwnNumber},
    port::Port,
    time::{Duration, Instant},
};

use crate::messages::Message;

/// Reports the weather over a radio, waits for the outcome for at most three seconds, and sleeps.
///
/// The radio sends 1000 octets per second, and no copy of a datagram lives longer than 200 ms. There is no keep-alive: between two reports the
/// node is silent, and says so when it opens.
///
/// # What it does underneath
/// `serve_until` calls `service` again and again, which resends as often as it takes, at most five times; the event that it waits for ends it.
/// `report` is [`Link::send`](bellwire::link::Link::send) with the class report, and gives the ticket by which the outcome is known. While the
/// desk is not there a report is refused with `NotOpen`; the three seconds are then spent on opening the link.
///
/// # Errors
/// The radio's: it ends only when its radio fails.
pub fn mast<R: Datagram>(
    radio: R,
    random: u32,
    tick: impl Fn() -> Instant,
    sleep: impl Fn(),
    mut weather: impl FnMut() -> Message,
) -> Result<Infallible, R::Error> {
    let usual = Config::datagram(1000, Duration::from_millis(200), OwnNumber::Random(random));
    let mut port = Port::datagram(radio, Config { keep_alive: Duration::from_millis(0), ..usual }, tick());
    port.open(tick());
    port.serve_until(&tick, Duration::from_secs(3), |event| matches!(event, Event::Opened(_)))?;
    loop {
        let report = port.report(tick(), &weather()).ok();
        port.serve_until(&tick, Duration::from_secs(3), |event| match event {
            Event::Outcome { ticket, .. } => Some(*ticket) == report,
            _ => false,
        })?;
        sleep();
    }
}
