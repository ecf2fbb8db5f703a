//! Switches for single rules of the wire text, so that a test can show what each rule is good for.
//!
//! In every ordinary build [`holds`] is the constant `true`. Built with `--cfg bellwire_rule_switch`, one rule can be switched
//! off by number, and the test named after that rule must then fail (see `tests/rules`).

/// Whether rule W-`rule` is kept; the lettered rules W-29a to W-29d are 101 to 104, and from 120 on stand the wrong variants that the
/// explorer must find (`core/tests/explorer/WRONG.md`).
#[cfg(not(bellwire_rule_switch))]
#[inline(always)]
pub(crate) const fn holds(_rule: u8) -> bool {
    true
}

#[cfg(bellwire_rule_switch)]
pub(crate) use switch::holds;
#[cfg(bellwire_rule_switch)]
pub use switch::switch_off;

#[cfg(bellwire_rule_switch)]
mod switch {
    use core::sync::atomic::{AtomicU8, Ordering};

    static OFF: AtomicU8 = AtomicU8::new(0);

    /// Switches rule W-`rule` off in this process (0: none is off).
    pub fn switch_off(rule: u8) {
        OFF.store(rule, Ordering::Relaxed);
    }

    pub(crate) fn holds(rule: u8) -> bool {
        OFF.load(Ordering::Relaxed) != rule
    }
}
