//! Board B: the board that moves something.

use core::convert::Infallible;

use bellwire::{
    io::Line,
    link::{Config, OwnNumber},
    port::Port,
    setpoint::{DeadMan, Stop},
    time::{Duration, Instant},
};

use crate::messages::Message;

/// Turns the dome as the desk says, while news of it is fresh; `button` is the re-arm button beside the dome.
///
/// # What it does underneath
/// `service` gives one event a call, see [`desk`](super::desk()). `handle_typed` looks at each: the end of a session or a mismatch holds the
/// motor, and a set-point that decodes as a rate is news, with the time its octets arrived ([`DeadMan::handle_event`],
/// [`DeadMan::handle_set_point`]). `output` gives the newest rate while it is younger than half a second, and zero from then on, until a rate of
/// zero has come *and* the button is pressed. The motor is told in every turn of the loop, whether events came or not: this is what stops it when
/// news stops.
///
/// # Caution
/// This is a functional stop and no emergency stop. Pull resistors must hold the driver off through reset and boot; the chip's
/// independent watchdog must be fed in this loop and nowhere else; an emergency stop cuts the power without any software. Try with the motor
/// disconnected.
///
/// # Errors
/// The line's: it ends only when its line fails. Switch the motor off then.
pub fn dome<U: Line>(
    uart: U,
    random: u32,
    tick: impl Fn() -> Instant,
    button: impl Fn() -> bool,
    mut motor: impl FnMut(i16, Stop),
) -> Result<Infallible, U::Error> {
    let mut port = Port::uart(uart, Config::uart(115_200, OwnNumber::Random(random)), tick());
    let mut rate = DeadMan::new(0_i16, Duration::from_millis(500), Stop::Brake);
    port.open(tick());
    loop {
        while let Some(event) = port.service(tick())? {
            rate.handle_typed(&event, |message| match message {
                Message::DomeRate { rate } => Some(rate),
                _ => None,
            });
        }
        if button() {
            let _ = rate.rearm(tick());
        }
        motor(rate.output(tick()), rate.stop());
    }
}
