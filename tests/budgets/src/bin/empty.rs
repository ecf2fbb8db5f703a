//! Start, clock and UART, and nothing else: what the other images are compared with.
#![no_std]
#![no_main]

use bellwire_budgets::board;

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    board::begin();
    loop {
        board::drive(board::now().as_ticks());
        if let Some(octet) = board::take() {
            #[cfg(feature = "plant")]
            board::put([1, 2, 3][octet as usize]);
            #[cfg(not(feature = "plant"))]
            board::put(octet);
        }
    }
}
