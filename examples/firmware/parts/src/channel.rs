//! One UART between its interrupt and the loop.

use core::{
    convert::Infallible,
    sync::atomic::{AtomicU32, Ordering},
};

use bellwire::{
    io::{Line, Taken},
    time::Instant,
};

use crate::Ring;

/// Octets that may wait between two turns of the loop: 22 ms at 115 200 bits per second.
const INCOMING: usize = 256;
/// Octets that may wait for the transmitter: the longest datagram and what goes before it.
const OUTGOING: usize = 128;

/// What one UART's interrupt and the loop share: a static of the board layer.
#[derive(Debug)]
pub struct Channel {
    incoming: Ring<INCOMING>,
    outgoing: Ring<OUTGOING>,
    lost: AtomicU32,
}

impl Channel {
    /// A channel with nothing in it.
    #[must_use]
    pub const fn new() -> Self {
        Self { incoming: Ring::new(), outgoing: Ring::new(), lost: AtomicU32::new(0) }
    }

    /// From the interrupt: an octet has arrived. If the loop is so late that there is no room it is lost, and counted.
    pub fn handle_octet(&self, octet: u8, now: Instant) {
        if !self.incoming.put(octet, now.as_ticks()) {
            self.handle_overrun();
        }
    }

    /// From the interrupt: the hardware says that octets were lost. How many it does not say; this counts one.
    pub fn handle_overrun(&self) {
        // Only the interrupt writes.
        self.lost.store(self.lost.load(Ordering::Relaxed).saturating_add(1), Ordering::Relaxed);
    }

    /// From the interrupt: the transmitter can take an octet; `None` if there is none.
    pub fn next_to_send(&self) -> Option<u8> {
        Some(self.outgoing.take()?.0)
    }

    /// Octets lost since the start, because the loop or the interrupt came too late. Never goes down.
    #[must_use]
    pub fn lost(&self) -> u32 {
        self.lost.load(Ordering::Relaxed)
    }

    /// How many octets wait for the transmitter.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.outgoing.len()
    }
}

impl Default for Channel {
    fn default() -> Self {
        Self::new()
    }
}

/// The loop's side of a channel: a line for a port. It never waits.
///
/// `kick` makes an idle transmitter begin; the interrupt does the rest.
#[derive(Debug)]
pub struct Uart {
    pub(crate) channel: &'static Channel,
    pub(crate) kick: fn(),
}

impl Uart {
    /// The line over `channel`. Make one for each channel.
    #[must_use]
    pub const fn new(channel: &'static Channel, kick: fn()) -> Self {
        Self { channel, kick }
    }

    /// Octets lost since the start, because the loop or the interrupt came too late. Never goes down.
    #[must_use]
    pub fn lost(&self) -> u32 {
        self.channel.lost()
    }

    /// Takes one octet, with the time when it arrived.
    pub fn take_octet(&mut self) -> Option<(u8, Instant)> {
        let (octet, stamp) = self.channel.incoming.take()?;
        Some((octet, Instant::from_ticks(stamp)))
    }

    /// Whether an octet waits to be taken.
    #[must_use]
    pub fn has_octet(&self) -> bool {
        !self.channel.incoming.is_empty()
    }

    /// Whether there is room for an octet to send.
    #[must_use]
    pub fn has_room(&self) -> bool {
        self.channel.outgoing.len() < OUTGOING
    }
}

impl Line for Uart {
    type Error = Infallible;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Infallible> {
        // Only octets of one stamp: the age of each stays exact.
        let incoming = &self.channel.incoming;
        let arrived = incoming.peek().map_or(now, |(_, stamp)| Instant::from_ticks(stamp));
        let mut octets = 0_usize;
        for cell in into {
            let Some((octet, stamp)) = incoming.peek() else { break };
            if stamp != arrived.as_ticks() {
                break;
            }
            let _ = incoming.take();
            *cell = octet;
            octets = octets.wrapping_add(1);
        }
        Ok(Taken { octets, arrived })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Infallible> {
        let put = octets.iter().take_while(|&&octet| self.channel.outgoing.put(octet, 0)).count();
        if put > 0 {
            (self.kick)();
        }
        Ok(put)
    }

    fn unsent(&self) -> Option<usize> {
        Some(self.channel.waiting())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ticks: u32) -> Instant {
        Instant::from_ticks(ticks)
    }

    #[test]
    fn octets_of_one_stamp_are_taken_at_a_time() {
        static CHANNEL: Channel = Channel::new();
        let mut uart = Uart::new(&CHANNEL, || {});
        for (octet, stamp) in [(1, 1_000), (2, 1_000), (3, 2_000)] {
            CHANNEL.handle_octet(octet, at(stamp));
        }
        let mut into = [0; 8];
        assert_eq!(uart.take(at(9_000), &mut into), Ok(Taken { octets: 2, arrived: at(1_000) }));
        assert_eq!(into[..2], [1, 2]);
        assert_eq!(uart.take(at(9_000), &mut into), Ok(Taken { octets: 1, arrived: at(2_000) }));
        assert_eq!(uart.take(at(9_000), &mut into), Ok(Taken { octets: 0, arrived: at(9_000) }));
    }

    #[test]
    fn what_finds_no_room_is_counted_and_the_oldest_stay() {
        static CHANNEL: Channel = Channel::new();
        let mut uart = Uart::new(&CHANNEL, || {});
        for count in 0..300_u32 {
            CHANNEL.handle_octet(count.to_le_bytes()[0], at(count));
        }
        assert_eq!(uart.lost(), 300 - 256);
        assert_eq!(uart.take_octet(), Some((0, at(0))));
        CHANNEL.handle_octet(7, at(300));
        assert_eq!(uart.lost(), 300 - 256, "there was room again");
    }

    #[test]
    fn put_takes_what_fits_and_the_interrupt_gets_it_in_order() {
        static CHANNEL: Channel = Channel::new();
        let mut uart = Uart::new(&CHANNEL, || {});
        let frame: std::vec::Vec<u8> = (0..200).collect();
        assert_eq!(uart.put(&frame), Ok(128));
        assert_eq!((uart.unsent(), uart.has_room()), (Some(128), false));
        let sent: std::vec::Vec<u8> = std::iter::from_fn(|| CHANNEL.next_to_send()).collect();
        assert_eq!(sent, frame[..128]);
    }
}
