//! The full point-to-point link, window 1.
#![no_std]
#![no_main]

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    bellwire_budgets::whole::serve::<1, 4>()
}
