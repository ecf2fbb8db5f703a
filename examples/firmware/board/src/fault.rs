//! The end: outputs off, a last word, and no way back but a reset.
//!
//! This is best effort: a processor that hangs does not come here. The chip's independent watchdog resets it, and pull resistors hold the drivers
//! off from the reset until the program runs again.

use crate::{bench, outputs};

/// Switches all outputs off, says so where somebody listens, and stays.
pub(crate) fn stop(why: &str) -> ! {
    outputs::all_off();
    bench::say(bench::line(why).word(" outputs=").count(outputs::read()));
    bench::exit(101);
    loop {
        // Nothing may follow. On a board of your own, reset here instead if a restart is safer than a rest.
        core::hint::spin_loop();
    }
}

#[cfg(not(feature = "prove"))]
#[panic_handler]
fn panic(_info: &core::panic::PanicInfo<'_>) -> ! {
    stop("panic")
}

/// With the feature `prove` the handler calls what nobody defines: one panic path left in an image, and it does not link.
#[cfg(feature = "prove")]
#[panic_handler]
fn panic(_info: &core::panic::PanicInfo<'_>) -> ! {
    unsafe extern "C" {
        safe fn PANIC_PATH_LEFT_IN_FIRMWARE() -> !;
    }
    PANIC_PATH_LEFT_IN_FIRMWARE()
}
