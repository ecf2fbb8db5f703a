//! The two halves of a UART for async programs, and a program that runs one future.
//!
//! Its futures are written out: an `async fn` holds a panic for whoever polls it after its end.
//!
//! There are no wakers: whoever waits is asked again after every interrupt, and it is an interrupt that brings what it waits for.

use core::{
    convert::Infallible,
    future::{Future, poll_fn},
    pin::pin,
    task::{Context, Poll, Waker},
};

use bellwire::io::Line as _;
use embedded_io_async::{ErrorType, Read, Write};

use crate::{Channel, Uart};

/// Takes what the UART receives. The stamps of the interrupt stay behind: whoever reads stamps octets when he takes them, so where set-points move
/// something use [`Uart`] as a line.
#[derive(Debug)]
pub struct Receiver(Uart);

/// Gives the UART what it shall send.
#[derive(Debug)]
pub struct Sender(Uart);

impl Uart {
    /// The two halves, and the channel behind them, which counts what was lost.
    #[must_use]
    pub const fn split(self) -> (Receiver, Sender, &'static Channel) {
        let Self { channel, kick } = self;
        (Receiver(self), Sender(Self { channel, kick }), channel)
    }
}

impl ErrorType for Receiver {
    type Error = Infallible;
}

impl Read for Receiver {
    /// Waits for one octet, and takes what is there. Dropped while it waits, it has taken nothing.
    fn read(&mut self, into: &mut [u8]) -> impl Future<Output = Result<usize, Infallible>> {
        poll_fn(move |_| {
            if !into.is_empty() && !self.0.has_octet() {
                return Poll::Pending;
            }
            let mut octets = 0_usize;
            for cell in &mut *into {
                let Some((octet, _)) = self.0.take_octet() else { break };
                *cell = octet;
                octets = octets.saturating_add(1);
            }
            Poll::Ready(Ok(octets))
        })
    }
}

impl ErrorType for Sender {
    type Error = Infallible;
}

impl Write for Sender {
    /// Waits for room, and puts what fits. Dropped while it waits, it has put nothing.
    fn write(&mut self, octets: &[u8]) -> impl Future<Output = Result<usize, Infallible>> {
        poll_fn(move |_| {
            if octets.is_empty() || self.0.has_room() {
                Poll::Ready(self.0.put(octets))
            } else {
                Poll::Pending
            }
        })
    }

    /// Waits until the transmitter has taken the last octet.
    fn flush(&mut self) -> impl Future<Output = Result<(), Infallible>> {
        poll_fn(|_| if self.0.unsent() == Some(0) { Poll::Ready(Ok(())) } else { Poll::Pending })
    }
}

/// Runs one future to its end. `sleep` returns after the next interrupt, at the latest after a tick; what an interrupt brings just before it sleeps
/// is looked at a tick later.
pub fn block_on<T>(future: impl Future<Output = T>, sleep: impl Fn()) -> T {
    let mut future = pin!(future);
    let mut context = Context::from_waker(Waker::noop());
    loop {
        if let Poll::Ready(end) = future.as_mut().poll(&mut context) {
            return end;
        }
        sleep();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::time::Instant;
    use core::cell::Cell;

    #[test]
    fn halves_wait_for_the_interrupt_and_a_dropped_wait_loses_nothing() {
        static CHANNEL: Channel = Channel::new();
        let (mut receiver, mut sender, channel) = Uart::new(&CHANNEL, || {}).split();
        let mut into = [0; 8];
        let mut context = Context::from_waker(Waker::noop());
        assert!(pin!(receiver.read(&mut into)).poll(&mut context).is_pending());
        let interrupts = Cell::new(0_u8);
        let interrupt = || {
            interrupts.set(interrupts.get() + 1);
            channel.handle_octet(interrupts.get(), Instant::from_ticks(0));
        };
        assert_eq!(block_on(receiver.read(&mut into), interrupt), Ok(1));
        assert_eq!((into[0], interrupts.get()), (1, 1));
        assert_eq!(block_on(sender.write(&[7; 200]), interrupt), Ok(128));
        assert!(pin!(sender.write(&[8])).poll(&mut context).is_pending(), "no room");
        let drain = || while channel.next_to_send().is_some() {};
        assert_eq!(block_on(sender.write(&[8]), drain), Ok(1));
        assert_eq!(block_on(sender.flush(), drain), Ok(()));
        assert_eq!((channel.waiting(), channel.lost()), (0, 0));
    }
}
