//! The UARTs: one octet each way.

use crate::{Channel, Uart, cortex, now, register::Register};

/// State: the transmit register is full, the receive register is full, and an octet was lost.
const FULL: u32 = 1;
const RECEIVED: u32 = 1 << 1;
const OVERRUN: u32 = 1 << 3;
/// 115 200 bits per second of 25 MHz.
const DIVISOR: u32 = 217;

/// A UART and what its interrupts and the loop share.
pub(super) struct Hardware {
    base: u32,
    interrupt: u32,
    channel: &'static Channel,
}

/// Apart from the addresses, so that they need no room in flash.
static CHANNELS: [Channel; 2] = [const { Channel::new() }; 2];

pub(super) static UARTS: [Hardware; 2] =
    [Hardware::at(0x4000_4000, 0, &CHANNELS[0]), Hardware::at(0x4000_5000, 2, &CHANNELS[1])];

pub(super) fn start() -> [Uart; 2] {
    let [one, two] = &UARTS;
    cortex::enable(12);
    [one.start(|| UARTS[0].kick()), two.start(|| UARTS[1].kick())]
}

impl Hardware {
    const fn at(base: u32, interrupt: u32, channel: &'static Channel) -> Self {
        Self { base, interrupt, channel }
    }

    const fn register(&self, offset: u32) -> Register {
        Register::of(self.base, offset)
    }

    const fn data(&self) -> Register {
        self.register(0x000)
    }

    const fn state(&self) -> Register {
        self.register(0x004)
    }

    fn start(&'static self, kick: fn()) -> Uart {
        self.register(0x010).write(DIVISOR);
        // Both directions on, and interrupts for both and for lost octets.
        self.register(0x008).write(0b10_1111);
        cortex::enable(self.interrupt);
        cortex::enable(self.interrupt | 1);
        Uart::new(self.channel, kick)
    }

    /// Sends as much as the register takes.
    fn send(&self) {
        while self.state().read() & FULL == 0 {
            let Some(octet) = self.channel.next_to_send() else { return };
            self.data().write(u32::from(octet));
        }
    }

    /// Makes an idle transmitter begin.
    fn kick(&self) {
        cortex::undisturbed(|| self.send());
    }

    pub(super) fn handle_interrupt(&self) {
        // The flags first, then the octets: one that comes in between raises its flag again.
        self.register(0x00C).write(0b1111);
        while self.state().read() & RECEIVED != 0 {
            self.channel.handle_octet(self.data().read().to_le_bytes()[0], now());
        }
        if self.state().read() & OVERRUN != 0 {
            self.state().write(OVERRUN);
            self.channel.handle_overrun();
        }
        self.send();
    }
}
