//! The log of the roles: defmt frames over semihosting, to the standard output of the emulator or debugger.
//!
//! A board of your own with a UART to spare sends them there: [`State::write`] is the one place. Nothing that an interrupt does may wait for the log.

use core::cell::UnsafeCell;

use crate::{bench, fault, machine};

#[defmt::global_logger]
struct Log;

defmt::timestamp!("{=u32:us}", crate::now().as_ticks());

/// What a line under way needs.
struct State {
    encoder: defmt::Encoder,
    /// Whether interrupts were let in before the line.
    were_in: bool,
    under_way: bool,
    /// Where the octets go: `None` until the first line.
    file: Option<usize>,
}

struct Shared(UnsafeCell<State>);

// SAFETY: one core, and `Log` touches the state only while it holds the interrupts off.
unsafe impl Sync for Shared {}

static STATE: Shared = Shared(UnsafeCell::new(State {
    encoder: defmt::Encoder::new(),
    were_in: false,
    under_way: false,
    file: None,
}));

impl State {
    /// Sends octets of a line.
    fn write(file: &mut Option<usize>, octets: &[u8]) {
        bench::write_to(*file.get_or_insert_with(bench::standard_output), octets);
    }

    /// The state, while interrupts are held off; the end of the world if a value logs a line while it is being logged.
    fn with(what: impl FnOnce(&mut Self)) {
        // SAFETY: see `Shared`; `what` is one of the closures below, and none of them comes here again.
        what(unsafe { &mut *STATE.0.get() });
    }
}

// SAFETY: `acquire` holds the interrupts off until `release`, and stops if a line is under way already.
unsafe impl defmt::Logger for Log {
    fn acquire() {
        let were_in = machine::hold_interrupts();
        State::with(|state| {
            if state.under_way {
                fault::stop("log in a log");
            }
            (state.under_way, state.were_in) = (true, were_in);
            state.encoder.start_frame(|octets| State::write(&mut state.file, octets));
        });
    }

    unsafe fn flush() {}

    unsafe fn release() {
        let mut were_in = false;
        State::with(|state| {
            state.encoder.end_frame(|octets| State::write(&mut state.file, octets));
            state.under_way = false;
            were_in = state.were_in;
        });
        machine::restore_interrupts(were_in);
    }

    unsafe fn write(octets: &[u8]) {
        State::with(|state| state.encoder.write(octets, |octets| State::write(&mut state.file, octets)));
    }
}
