//! A dead-man for whole numbers.

use bellwire::{
    setpoint,
    time::{Duration, Instant},
};

use crate::{
    event::Event,
    handle::{self, get, give, with, Marked},
    status::Status,
    words::{self, Motion, Reason},
};

type WholeDeadMan = setpoint::DeadMan<i32>;

impl Marked for WholeDeadMan {
    const MARK: u32 = 0xDEAD_3A11;
}

/// What a dead-man takes, in units of eight octets.
pub const DEAD_MAN_UNITS: usize = 4;

/// Memory for a dead-man. Its insides are the library's.
#[derive(Debug)]
#[repr(C)]
pub struct DeadManMemory {
    /// The library's.
    pub units: [u64; DEAD_MAN_UNITS],
}

/// Makes a dead-man, held since boot. `size` is `sizeof *dead_man`. `stop_value` is what it gives when stopped, `limit` how long a set-point
/// drives after its arrival, µs (at most 1 073 741 823; 0: it never moves), `stop` (a `bellwire_stop`) what stopping means.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_make(
    dead_man: *mut DeadManMemory,
    size: usize,
    stop_value: i32,
    limit: u32,
    stop: u8,
) -> Status {
    let make = || {
        let made = WholeDeadMan::new(stop_value, Duration::from_ticks(limit), words::stop(stop)?);
        // SAFETY: the caller's word.
        unsafe { handle::make(dead_man, size, made) }
    };
    make().into()
}

/// Hands over an event of the port, each one: the end of a session and a mismatch stop it. Set-points go in by the next function.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_event(
    dead_man: *mut DeadManMemory,
    event: *const Event,
) -> Status {
    let hand = || {
        // SAFETY: the caller's word; every pattern of bits is an event.
        let event = unsafe { get(event) }?.to_dead_man()?;
        // SAFETY: the caller's word.
        unsafe {
            with(dead_man, |dead_man: &mut WholeDeadMan| {
                if let Some(event) = event {
                    dead_man.handle_event(&event);
                }
                Ok(())
            })
        }
    };
    hand().into()
}

/// A new valid set-point, and when it arrived (`arrived` of the event, not "now"). Feed it only what came as a set-point and was read without
/// error.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_set_point(
    dead_man: *mut DeadManMemory,
    value: i32,
    arrived: u32,
) -> Status {
    // SAFETY: the caller's word.
    unsafe {
        with(dead_man, |dead_man: &mut WholeDeadMan| {
            dead_man.handle_set_point(value, Instant::from_ticks(arrived));
            Ok(())
        })
    }
    .into()
}

/// Gives to `value` what drives the actuator now: the newest set-point while running, else the stop value. Call it in each turn of the loop, and do
/// at once what it says. With any other status than OK `value` is as it was: stop then.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_output(
    dead_man: *mut DeadManMemory,
    now: u32,
    value: *mut i32,
) -> Status {
    let drive = || {
        // SAFETY: the caller's word.
        let output = unsafe {
            with(dead_man, |dead_man: &mut WholeDeadMan| Ok(dead_man.output(Instant::from_ticks(now))))
        }?;
        // SAFETY: the caller's word.
        unsafe { give(value, output) }
    };
    drive().into()
}

/// Stops if it is time, and tells each stop out of motion once: gives its reason (a `bellwire_reason`) to `reason`.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_check(
    dead_man: *mut DeadManMemory,
    now: u32,
    reason: *mut u8,
) -> Status {
    let look = || {
        // Before a stop is told to nobody.
        handle::check(reason)?;
        // SAFETY: the caller's word.
        let why = unsafe {
            with(dead_man, |dead_man: &mut WholeDeadMan| Ok(dead_man.check(Instant::from_ticks(now))))
        }?;
        // SAFETY: the caller's word.
        unsafe { give(reason, Reason::from(why) as u8) }
    };
    look().into()
}

/// Stops at once and holds: an operator's act, or a danger on the board itself.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_hold(dead_man: *mut DeadManMemory) -> Status {
    // SAFETY: the caller's word.
    unsafe {
        with(dead_man, |dead_man: &mut WholeDeadMan| {
            dead_man.hold();
            Ok(())
        })
    }
    .into()
}

/// Lets set-points drive again: by an operator's act only, never by the program's own. The status says what is missing.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_rearm(dead_man: *mut DeadManMemory, now: u32) -> Status {
    // SAFETY: the caller's word.
    unsafe {
        with(dead_man, |dead_man: &mut WholeDeadMan| {
            dead_man.rearm(Instant::from_ticks(now)).map_err(Status::from)
        })
    }
    .into()
}

/// Gives to `motion` what it did when last asked (a `bellwire_motion`), and to `reason`, which may be null, why it is stopped (a
/// `bellwire_reason`).
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_dead_man_motion(
    dead_man: *mut DeadManMemory,
    motion: *mut u8,
    reason: *mut u8,
) -> Status {
    let look = || {
        // SAFETY: the caller's word.
        let found = unsafe { with(dead_man, |dead_man: &mut WholeDeadMan| Ok(dead_man.motion())) }?;
        // SAFETY: the caller's word.
        unsafe { give(motion, Motion::from(found) as u8) }?;
        if reason.is_null() {
            return Ok(());
        }
        // SAFETY: the caller's word.
        unsafe { give(reason, Reason::from(found.reason()) as u8) }
    };
    look().into()
}
