//! A line whose octets are stamped in the receive interrupt.

use super::{Line, Taken};
use crate::time::Instant;

/// A line whose octets come from a queue that the receive interrupt fills, each with its time of arrival.
///
/// This is how freshness counts from the arrival, as it should: a loop that was held up reads old octets as old. The queue must hold what
/// comes between two calls of `service`: at 115 200 bits per second 12 octets a millisecond. Octets that find it full are lost, and the
/// frame check finds the hole.
///
/// `next` takes one octet out of the queue, of whatever kind it is; `put` hands octets to the driver without waiting and says how many it
/// took.
///
/// ```
/// use bellwire::{io::{Line, Stamped, Taken}, time::Instant};
/// use heapless::spsc::Queue;
///
/// let mut queue: Queue<(u8, Instant), 64> = Queue::new(); // in a board: a static, split once at the start
/// let (mut interrupt, mut received) = queue.split();
/// let mut line = Stamped::new(|| received.dequeue(), |octets: &[u8]| Ok::<usize, ()>(octets.len()));
///
/// // In the interrupt, one octet at a time:
/// let _ = interrupt.enqueue((0x2A, Instant::from_ticks(1000)));
///
/// // In the loop, much later:
/// let mut octets = [0; 8];
/// let taken = line.take(Instant::from_ticks(9000), &mut octets);
/// assert_eq!(taken, Ok(Taken { octets: 1, arrived: Instant::from_ticks(1000) }));
/// ```
#[derive(Debug, Clone)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stamped<N, P> {
    next: N,
    put: P,
    /// An octet that was taken out of the queue and belongs to a later stamp than the ones before it.
    held: Option<(u8, Instant)>,
}

impl<N, P> Stamped<N, P> {
    /// A line over the reading end of the interrupt's queue and the sending side of the driver.
    #[must_use]
    pub const fn new(next: N, put: P) -> Self {
        Self { next, put, held: None }
    }
}

impl<E, N, P> Line for Stamped<N, P>
where
    N: FnMut() -> Option<(u8, Instant)>,
    P: FnMut(&[u8]) -> Result<usize, E>,
{
    type Error = E;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, E> {
        // Only octets of one stamp: the age of each stays exact.
        let mut taken = Taken { octets: 0, arrived: now };
        for cell in into {
            let Some((octet, stamp)) = self.held.take().or_else(|| (self.next)()) else { break };
            if taken.octets > 0 && stamp != taken.arrived {
                self.held = Some((octet, stamp));
                break;
            }
            *cell = octet;
            taken = Taken { octets: taken.octets.saturating_add(1), arrived: stamp };
        }
        Ok(taken)
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, E> {
        (self.put)(octets)
    }
}
