//! The UART, a 16550: 16 octets of hardware queue each way.

use crate::{
    Channel, Uart, now,
    register::{OctetRegister, Register},
};

use super::trap;

const BASE: u32 = 0x1000_0000;
const DATA: OctetRegister = OctetRegister::at(BASE);
const ENABLE: OctetRegister = OctetRegister::at(BASE + 1);
/// Read: why the interrupt came. Write: the queues.
const WHY: OctetRegister = OctetRegister::at(BASE + 2);
const FORMAT: OctetRegister = OctetRegister::at(BASE + 3);
const STATE: OctetRegister = OctetRegister::at(BASE + 5);

/// State: an octet is there, one was lost, the transmit queue is empty.
const RECEIVED: u8 = 1;
const OVERRUN: u8 = 1 << 1;
const SENT: u8 = 1 << 5;
/// Octets that the empty transmit queue takes.
const QUEUE: usize = 16;

/// The interrupt controller: priority and enable of interrupt 10, and the threshold.
const PRIORITY: Register = Register::at(0x0C00_0000 + 4 * INTERRUPT);
const ENABLED: Register = Register::at(0x0C00_2000);
const THRESHOLD: Register = Register::at(0x0C20_0000);
/// The interrupt of the UART.
pub(super) const INTERRUPT: u32 = 10;

static CHANNEL: Channel = Channel::new();

pub(super) fn start() -> Uart {
    // 3.6864 MHz / (16 * 115 200) = 2, in the divisor that the top bit of the format lets in.
    FORMAT.write(0x80);
    DATA.write(2);
    ENABLE.write(0);
    FORMAT.write(0x03);
    WHY.write(0x01);
    // Interrupts: octets came, room to send, octets were lost.
    ENABLE.write(0b111);
    PRIORITY.write(1);
    ENABLED.write(1 << INTERRUPT);
    THRESHOLD.write(0);
    Uart::new(&CHANNEL, kick)
}

/// Fills the transmit queue once it is empty.
fn send() {
    if STATE.read() & SENT == 0 {
        return;
    }
    for _ in 0..QUEUE {
        let Some(octet) = CHANNEL.next_to_send() else { return };
        DATA.write(octet);
    }
}

/// Makes an idle transmitter begin.
fn kick() {
    trap::undisturbed(send);
}

pub(super) fn handle_interrupt() {
    // Reading why clears the interrupt of the transmitter; that of the receiver is cleared by taking the octets, and a new one raises it again.
    let _ = WHY.read();
    loop {
        let state = STATE.read();
        if state & OVERRUN != 0 {
            CHANNEL.handle_overrun();
        }
        if state & RECEIVED == 0 {
            break;
        }
        CHANNEL.handle_octet(DATA.read(), now());
    }
    send();
}
