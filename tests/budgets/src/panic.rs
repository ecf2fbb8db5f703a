//! What happens on a panic: nothing can be told, or, with the feature `prove`, the image cannot even be linked.

use core::panic::PanicInfo;

#[cfg(feature = "prove")]
unsafe extern "C" {
    fn a_panic_is_left_in_this_image() -> !;
}

#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    #[cfg(feature = "prove")]
    // SAFETY: the function does not exist, so that this is never run.
    unsafe {
        a_panic_is_left_in_this_image()
    }
    #[cfg(not(feature = "prove"))]
    crate::board::exit(101)
}
