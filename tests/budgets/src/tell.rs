//! Numbers to the emulator's error output, one `name=number` a line.

use crate::board;

/// Tells a number.
pub fn number(name: &[u8], value: usize) {
    board::tell(name);
    let mut text = *b"=          \n\0";
    let mut rest = value;
    for cell in text.iter_mut().skip(1).take(10).rev() {
        *cell = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
    board::tell(&text);
}

/// Tells how many ticks `work` takes.
#[inline(never)]
pub fn count(name: &[u8], work: impl FnOnce()) {
    let before = board::ticks();
    work();
    let after = board::ticks();
    number(name, (before.wrapping_sub(after) & 0xFF_FFFF) as usize);
}
