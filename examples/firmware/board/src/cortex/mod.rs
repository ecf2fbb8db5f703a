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
