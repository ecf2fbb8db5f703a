//! The UART: six octets of hardware queue for receiving, one for sending.

use core::sync::atomic::{AtomicBool, Ordering};

use crate::{Channel, Uart, cortex, now, register::Register};

const BASE: u32 = 0x4000_2000;
const STARTRX: Register = Register::at(BASE);
const STARTTX: Register = Register::at(BASE + 0x008);
const RXDRDY: Register = Register::at(BASE + 0x108);
const TXDRDY: Register = Register::at(BASE + 0x11C);
const FAILED: Register = Register::at(BASE + 0x124);
const INTENSET: Register = Register::at(BASE + 0x304);
const ERRORSRC: Register = Register::at(BASE + 0x480);
const ENABLE: Register = Register::at(BASE + 0x500);
const PSELTXD: Register = Register::at(BASE + 0x50C);
const PSELRXD: Register = Register::at(BASE + 0x514);
const RXD: Register = Register::at(BASE + 0x518);
const TXD: Register = Register::at(BASE + 0x51C);
const BAUDRATE: Register = Register::at(BASE + 0x524);

/// In the error source: an octet came and the queue was full.
const OVERRUN: u32 = 1;

static CHANNEL: Channel = Channel::new();
/// The transmitter is at work, and its interrupt will fetch the next octet.
static SENDING: AtomicBool = AtomicBool::new(false);

pub(super) fn start() -> Uart {
    PSELTXD.write(24);
    PSELRXD.write(25);
    BAUDRATE.write(0x01D7_E000);
    ENABLE.write(4);
    INTENSET.write(1 << 2 | 1 << 7 | 1 << 9);
    STARTRX.write(1);
    STARTTX.write(1);
    cortex::enable(2);
    Uart::new(&CHANNEL, kick)
}

/// Sends the next octet, if there is one.
fn send_next() {
    let next = CHANNEL.next_to_send();
    SENDING.store(next.is_some(), Ordering::Relaxed);
    if let Some(octet) = next {
        TXD.write(u32::from(octet));
    }
}

/// Makes an idle transmitter begin.
fn kick() {
    cortex::undisturbed(|| {
        if !SENDING.load(Ordering::Relaxed) {
            send_next();
        }
    });
}

pub(super) fn handle_interrupt() {
    // The flag first, then the octet: an octet that comes in between raises the flag again.
    while RXDRDY.read() != 0 {
        RXDRDY.write(0);
        CHANNEL.handle_octet(RXD.read().to_le_bytes()[0], now());
    }
    if FAILED.read() != 0 {
        FAILED.write(0);
        let what = ERRORSRC.read();
        ERRORSRC.write(what);
        if what & OVERRUN != 0 {
            CHANNEL.handle_overrun();
        }
    }
    if TXDRDY.read() != 0 {
        TXDRDY.write(0);
        send_next();
    }
}
