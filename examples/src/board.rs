//! The short start for a bare board: the generic functions made for one concrete line, so that the compiler builds them whole.
//!
//! On your board the line is your UART driver in one of the adapters of [`bellwire::io`].

use core::convert::Infallible;

use bellwire::{
    io::{Datagram, Medium, Memory, Received},
    link::Event,
    setpoint::Stop,
    time::Instant,
};

use crate::{messages::Message, short_start};

/// The desk.
///
/// # Errors
/// None: this line never fails.
pub fn desk(
    uart: &mut Memory<256>,
    random: u32,
    tick: fn() -> Instant,
    wait: fn(),
    lever: fn() -> i16,
    show: fn(Event<'_>),
) -> Result<Infallible, Infallible> {
    short_start::desk(uart, random, tick, wait, lever, show)
}

/// The dome.
///
/// # Errors
/// None: this line never fails.
pub fn dome(
    uart: &mut Memory<256>,
    random: u32,
    tick: fn() -> Instant,
    button: fn() -> bool,
    motor: fn(i16, Stop),
) -> Result<Infallible, Infallible> {
    short_start::dome(uart, random, tick, button, motor)
}

/// A radio that hears nothing.
#[derive(Debug)]
pub struct Deaf;

impl Datagram for Deaf {
    type Error = Infallible;

    fn send(&mut self, _datagram: &[u8]) -> Result<Medium, Infallible> {
        Ok(Medium::Free)
    }

    fn receive(&mut self, _now: Instant, _into: &mut [u8]) -> Result<Option<Received>, Infallible> {
        Ok(None)
    }
}

/// The mast.
///
/// # Errors
/// None: this radio never fails.
pub fn mast(
    radio: Deaf,
    random: u32,
    tick: fn() -> Instant,
    sleep: fn(),
    weather: fn() -> Message,
) -> Result<Infallible, Infallible> {
    short_start::mast(radio, random, tick, sleep, weather)
}
