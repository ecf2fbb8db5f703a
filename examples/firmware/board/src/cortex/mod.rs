//! What all Cortex-M boards share: which interrupt came, how one is let in, and the fault handler.

#[cfg(not(machine = "m0"))]
pub(crate) mod systick;

use cortex_m_rt::{ExceptionFrame, exception};

use crate::{machine, register::Register};

/// Lets an interrupt in (ISER0 and ISER1 of the ARMv6-M and ARMv7-M manuals, B3.4).
pub(crate) fn enable(interrupt: u32) {
    Register::of(0xE000_E100, (interrupt / 32) << 2).write(1 << (interrupt % 32));
}

/// Does something that the interrupts must not see half done.
pub(crate) fn undisturbed<T>(what: impl FnOnce() -> T) -> T {
    cortex_m::interrupt::free(|_| what())
}

/// Holds the interrupts off; gives whether they were let in.
#[cfg(feature = "defmt")]
pub(crate) fn hold_interrupts() -> bool {
    let were_in = cortex_m::register::primask::read().is_active();
    cortex_m::interrupt::disable();
    were_in
}

/// Lets the interrupts in again if they were.
#[cfg(feature = "defmt")]
pub(crate) fn restore_interrupts(were_in: bool) {
    if were_in {
        // SAFETY: as they were before `hold_interrupts`.
        unsafe { cortex_m::interrupt::enable() };
    }
}

/// Sleeps until the next interrupt.
pub(crate) fn sleep() {
    cortex_m::asm::wfi();
}

#[exception]
unsafe fn DefaultHandler(interrupt: i16) {
    machine::handle_interrupt(interrupt);
}

#[exception]
unsafe fn HardFault(_frame: &ExceptionFrame) -> ! {
    crate::fault::stop("fault")
}
