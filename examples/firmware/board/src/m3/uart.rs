//! The UARTs: 16 octets of hardware queue each way.

use crate::{Channel, Uart, cortex, now, register::Register};

/// Flags: the transmit queue is full, the receive queue is empty.
const FULL: u32 = 1 << 5;
const EMPTY: u32 = 1 << 4;
/// Interrupts: octets came, room to send, octets came and then a pause, octets were lost.
const RECEIVED: u32 = 1 << 4;
const SENT: u32 = 1 << 5;
const PAUSED: u32 = 1 << 6;
const OVERRUN: u32 = 1 << 10;

/// A UART, and what its interrupt and the loop share.
pub(super) struct Hardware {
    base: u32,
    interrupt: u32,
    channel: &'static Channel,
}

/// Apart from the addresses, so that they need no room in flash.
static CHANNELS: [Channel; 3] = [const { Channel::new() }; 3];

pub(super) static UARTS: [Hardware; 3] = [
    Hardware::at(0x4000_C000, 5, &CHANNELS[0]),
    Hardware::at(0x4000_D000, 6, &CHANNELS[1]),
    Hardware::at(0x4000_E000, 33, &CHANNELS[2]),
];

pub(super) fn start() -> [Uart; 3] {
    let [one, two, three] = &UARTS;
    [one.start(|| UARTS[0].kick()), two.start(|| UARTS[1].kick()), three.start(|| UARTS[2].kick())]
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

    const fn flags(&self) -> Register {
        self.register(0x018)
    }

    fn start(&'static self, kick: fn()) -> Uart {
        // 12.5 MHz / (16 * 115 200) = 6 + 50 / 64.
        self.register(0x024).write(6);
        self.register(0x028).write(50);
        // 8N1 with queues; an interrupt for a few octets, or for fewer and a pause.
        self.register(0x02C).write(0x70);
        self.register(0x034).write(0);
        self.register(0x038).write(RECEIVED | SENT | PAUSED | OVERRUN);
        self.register(0x030).write(0x301);
        cortex::enable(self.interrupt);
        Uart::new(self.channel, kick)
    }

    /// Fills the transmit queue.
    fn send(&self) {
        while self.flags().read() & FULL == 0 {
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
        let why = self.register(0x040).read();
        self.register(0x044).write(why);
        while self.flags().read() & EMPTY == 0 {
            self.channel.handle_octet(self.data().read().to_le_bytes()[0], now());
        }
        if why & OVERRUN != 0 {
            self.channel.handle_overrun();
        }
        if why & SENT != 0 {
            self.send();
        }
    }
}
