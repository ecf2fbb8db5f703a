//! The crate `bellwire` as a static library for firmware in C.
//!
//! `include/bellwire.h` is made from these files and is the manual; nothing here has a use from Rust. The verbs are those of [`bellwire::port::Port`]
//! and [`bellwire::setpoint::DeadMan`], with the defaults for two boards on a UART.
//!
//! # Where `unsafe` is
//! [`handle`] checks what comes over the border: null, alignment, size, made or not, under way or not. Each function outside of it does
//! one `unsafe` step, which is to hand a pointer there; the callbacks of [`line`](mod@line) are the way back.
#![cfg_attr(target_os = "none", no_std)]
#![deny(unsafe_op_in_unsafe_fn)]
// The contract is one for all functions: the head of the header has it.
#![allow(clippy::missing_safety_doc)]

mod handle;

// The header has them in this order.
mod status;

mod words;

mod settings;

mod line;

mod event;

mod port;

mod dead_man;

pub use dead_man::{
    bellwire_dead_man_check, bellwire_dead_man_event, bellwire_dead_man_hold, bellwire_dead_man_make,
    bellwire_dead_man_motion, bellwire_dead_man_output, bellwire_dead_man_rearm, bellwire_dead_man_set_point,
    DeadManMemory, DEAD_MAN_UNITS,
};
pub use event::{Event, EVENT_OCTETS};
pub use line::Line;
pub use port::{
    bellwire_port_close, bellwire_port_make, bellwire_port_open, bellwire_port_send, bellwire_port_service,
    bellwire_port_set, bellwire_port_state, bellwire_port_wake, PortMemory, PORT_POINTERS, PORT_UNITS,
};
pub use settings::{bellwire_settings_uart, Settings};
pub use status::{bellwire_status_words, Status};
pub use words::{Class, End, Happening, Motion, Outcome, Own, Reason, State, Stop};

#[cfg(target_os = "none")]
#[panic_handler]
fn panic(_info: &core::panic::PanicInfo<'_>) -> ! {
    extern "C" {
        /// The board's.
        fn bellwire_panicked() -> !;
    }
    // SAFETY: it takes nothing, and the header says that it does not return.
    unsafe { bellwire_panicked() }
}

/// Panics.
#[cfg(feature = "plant")]
#[no_mangle]
pub extern "C" fn bellwire_plant() {
    panic!("planted");
}
