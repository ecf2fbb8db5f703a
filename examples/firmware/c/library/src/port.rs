//! A port on a UART.

use bellwire::{
    frame,
    link::When,
    port,
    time::{elapsed, Instant},
};

use crate::{
    event::Event,
    handle::{self, get, give, octets, with, Marked},
    line::{Line, Wire},
    settings::Settings,
    status::Status,
    words::{self, State},
};

type UartPort = port::Port<Wire>;

impl Marked for UartPort {
    const MARK: u32 = 0x9027_BE11;
}

/// What a port takes whatever the width of a pointer, in units of eight octets.
pub const PORT_UNITS: usize = 128;
/// What it takes in the width of a pointer.
pub const PORT_POINTERS: usize = 16;

/// Memory for a port. Its insides are the library's.
#[derive(Debug)]
#[repr(C)]
pub struct PortMemory {
    /// The library's.
    pub units: [u64; PORT_UNITS],
    /// The library's.
    pub pointers: [usize; PORT_POINTERS],
}

/// Makes a port with COBS, a 16-bit FCS, payloads up to 48 octets, one confirmed message under way and a queue of four. `size` is `sizeof *port`.
/// It is closed until opened. Line and settings are copied. A port that was there before is forgotten.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_make(
    port: *mut PortMemory,
    size: usize,
    line: *const Line,
    settings: *const Settings,
    now: u32,
) -> Status {
    let make = || {
        // SAFETY: the caller's word for each pointer.
        let (line, settings) = unsafe { (get(line)?, get(settings)?) };
        let made = UartPort::uart(Wire::new(line)?, settings.config()?, Instant::from_ticks(now));
        // SAFETY: the caller's word.
        unsafe { handle::make(port, size, made) }
    };
    make().into()
}

/// Opens the link, and keeps it open from now on: after an end it opens again by itself.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_open(port: *mut PortMemory, now: u32) -> Status {
    // SAFETY: the caller's word.
    unsafe { act(port, |port| port.open(Instant::from_ticks(now))) }
}

/// Ends the session, if there is one, and stays closed.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_close(port: *mut PortMemory, now: u32) -> Status {
    // SAFETY: the caller's word.
    unsafe { act(port, |port| port.close(Instant::from_ticks(now))) }
}

/// Moves octets both ways without waiting, runs the timers, and gives the next event to `event`. Call it until it gives BELLWIRE_HAPPENING_NONE,
/// then do your own work, then wait for an octet or `bellwire_port_wake`. An error leaves `event` as it was.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_service(port: *mut PortMemory, now: u32, event: *mut Event) -> Status {
    let service = || {
        // Before an event is taken that there is no place for.
        handle::check(event)?;
        // SAFETY: the caller's word.
        let happened = unsafe {
            with(port, |port: &mut UartPort| {
                let Ok(event) = port.service(Instant::from_ticks(now));
                Ok(Event::from(event))
            })
        }?;
        // SAFETY: the caller's word.
        unsafe { give(event, happened) }
    };
    service().into()
}

/// Sets a named value at the other board: a set-point, `length` octets, message number first. The newest wins; the library never repeats it: call
/// this again and again, several times in each freshness limit.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_set(
    port: *mut PortMemory,
    now: u32,
    payload: *const u8,
    length: usize,
) -> Status {
    // SAFETY: the caller's word.
    unsafe { send(port, now, frame::Class::SetPoint, payload, length) }.map(|_| ()).into()
}

/// Sends a message of any class (a `bellwire_class`), message number first. An errand or report ends in an outcome with the ticket that is given
/// to `ticket`, which may be null.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_send(
    port: *mut PortMemory,
    now: u32,
    message_class: u8,
    payload: *const u8,
    length: usize,
    ticket: *mut u16,
) -> Status {
    let accept = || {
        if !ticket.is_null() {
            handle::check(ticket)?;
        }
        // SAFETY: the caller's word.
        let given = unsafe { send(port, now, words::class(message_class)?, payload, length) }?;
        if ticket.is_null() {
            return Ok(());
        }
        // SAFETY: the caller's word.
        unsafe { give(ticket, given) }
    };
    accept().into()
}

/// # Safety
/// As for all: `port` is null or points to a whole `PortMemory`.
unsafe fn act(port: *mut PortMemory, what: impl FnOnce(&mut UartPort)) -> Status {
    let all = |port: &mut UartPort| {
        what(port);
        Ok(())
    };
    // SAFETY: the caller's word.
    unsafe { with(port, all) }.into()
}

/// # Safety
/// As for the two functions above.
unsafe fn send(
    port: *mut PortMemory,
    now: u32,
    class: frame::Class,
    payload: *const u8,
    length: usize,
) -> Result<u16, Status> {
    // SAFETY: the caller's word.
    let payload = unsafe { octets(payload, length) }?;
    // SAFETY: the caller's word.
    unsafe {
        with(port, |port: &mut UartPort| {
            port.send(Instant::from_ticks(now), class, payload)
                .map(|ticket| ticket.get())
                .map_err(Status::from)
        })
    }
}

/// Gives the state of the link (a `bellwire_state`) to `state`.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_state(port: *mut PortMemory, state: *mut u8) -> Status {
    let look = || {
        // SAFETY: the caller's word.
        let found = unsafe { with(port, |port: &mut UartPort| Ok(State::from(port.state()))) }?;
        // SAFETY: the caller's word.
        unsafe { give(state, found as u8) }
    };
    look().into()
}

/// Gives to `wait` how many µs may pass until the port must be served if nothing comes before: 0 at once, UINT32_MAX any time. A board that
/// drives something must look at its dead-man too.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_port_wake(port: *mut PortMemory, now: u32, wait: *mut u32) -> Status {
    let look = || {
        // SAFETY: the caller's word.
        let when = unsafe { with(port, |port: &mut UartPort| Ok(port.poll_wake().when)) }?;
        let left = match when {
            When::Now => 0,
            When::At(at) => elapsed(at, Instant::from_ticks(now)).as_ticks(),
            When::Idle => u32::MAX,
        };
        // SAFETY: the caller's word.
        unsafe { give(wait, left) }
    };
    look().into()
}
