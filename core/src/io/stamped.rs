//! A line whose octets are stamped in the receive interrupt.

use heapless::spsc::Consumer;

use super::{Line, Taken};
use crate::time::Instant;

/// A line whose octets come from a queue that the receive interrupt fills, each with its time of arrival.
///
/// This is how freshness counts from the arrival, as it should: a loop that was held up reads old octets as old. The queue must hold what
/// comes between two calls of `service`: at 115 200 bits per second 12 octets a millisecond. Octets that find it full are lost, and the
/// frame check finds the hole.
///
/// `put` hands octets to the driver without waiting and says how many it took.
///
/// ```
/// use bellwire::{io::{Line, Stamped, Taken}, time::Instant};
/// use heapless::spsc::Queue;
///
/// let mut queue: Queue<(u8, Instant), 64> = Queue::new(); // in a board: a static, split once at the start
/// let (mut interrupt, received) = queue.split();
/// let mut line = Stamped::new(received, |octets: &[u8]| Ok::<usize, ()>(octets.len()));
///
/// // In the interrupt, one octet at a time:
/// let _ = interrupt.enqueue((0x2A, Instant::from_ticks(1000)));
///
/// // In the loop, much later:
/// let mut octets = [0; 8];
/// let taken = line.take(Instant::from_ticks(9000), &mut octets);
/// assert_eq!(taken, Ok(Taken { octets: 1, arrived: Instant::from_ticks(1000) }));
/// ```
pub struct Stamped<'q, P> {
    received: Consumer<'q, (u8, Instant)>,
    put: P,
}

impl<'q, P> Stamped<'q, P> {
    /// A line over the reading end of the interrupt's queue and the sending side of the driver.
    #[must_use]
    pub const fn new(received: Consumer<'q, (u8, Instant)>, put: P) -> Self {
        Self { received, put }
    }
}

impl<P> core::fmt::Debug for Stamped<'_, P> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Stamped").field("waiting", &self.received.len()).finish_non_exhaustive()
    }
}

#[cfg(feature = "defmt")]
impl<P> defmt::Format for Stamped<'_, P> {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Stamped, {=usize} octets wait", self.received.len());
    }
}

impl<E, P: FnMut(&[u8]) -> Result<usize, E>> Line for Stamped<'_, P> {
    type Error = E;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, E> {
        // Only octets of one stamp: the age of each stays exact.
        let arrived = self.received.peek().map_or(now, |&(_, arrived)| arrived);
        let mut octets = 0_usize;
        for cell in into {
            let Some(&(octet, stamp)) = self.received.peek() else { break };
            if stamp != arrived {
                break;
            }
            let _ = self.received.dequeue();
            *cell = octet;
            octets = octets.saturating_add(1);
        }
        Ok(Taken { octets, arrived })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, E> {
        (self.put)(octets)
    }
}
