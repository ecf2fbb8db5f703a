//! Each adapter against a driver of our own that breaks if it is made to wait.

#[cfg(any(feature = "embedded-io-async-06", feature = "embedded-io-async-07"))]
mod awaited;
#[cfg(any(feature = "embedded-io-06", feature = "embedded-io-07"))]
mod ready;
#[cfg(feature = "std")]
mod sockets;

use ::std::{collections::VecDeque, vec, vec::Vec};

use super::*;
use crate::time::Instant;

fn at(ticks: u32) -> Instant {
    Instant::from_ticks(ticks)
}

#[test]
fn a_memory_line_keeps_stamps_apart_and_tells_what_it_loses() {
    let mut line = Memory::<4>::new();
    assert_eq!(line.arrive(at(1), &[10, 11]), Ok(()));
    assert_eq!(line.arrive(at(2), &[20, 21, 22]), Err(Full { octets: 1 }));
    let mut octets = [0; 8];
    assert_eq!(line.take(at(9), &mut octets), Ok(Taken { octets: 2, arrived: at(1) }));
    assert_eq!(octets[..2], [10, 11]);
    assert_eq!(line.take(at(9), &mut octets[..1]), Ok(Taken { octets: 1, arrived: at(2) }));
    assert_eq!(line.take(at(9), &mut octets), Ok(Taken { octets: 1, arrived: at(2) }));
    assert_eq!(octets[0], 21);
    assert_eq!(line.take(at(9), &mut octets), Ok(Taken { octets: 0, arrived: at(9) }));
    assert_eq!((line.put(&[1, 2, 3, 4, 5]), line.unsent()), (Ok(4), Some(4)));
    assert_eq!((line.depart(), line.unsent()), (Some(1), Some(3)));
}

#[test]
fn octets_of_an_interrupt_keep_their_own_stamps() {
    let mut queue = VecDeque::from([(1, at(10)), (2, at(10)), (3, at(20)), (4, at(20)), (5, at(30))]);
    let mut gone = vec![];
    let mut line = Stamped::new(
        || queue.pop_front(),
        |octets: &[u8]| {
            gone.extend_from_slice(octets);
            if octets == [0] { Err("broken") } else { Ok(octets.len()) }
        },
    );
    let (mut octets, mut all) = ([0; 4], vec![]);
    assert_eq!(line.take(at(9), &mut []), Ok(Taken { octets: 0, arrived: at(9) }));
    for (wanted, arrived, room) in [(2, 10, 4), (1, 20, 1), (1, 20, 4), (1, 30, 4), (0, 99, 4)] {
        assert_eq!(
            line.take(at(99), &mut octets[..room]),
            Ok(Taken { octets: wanted, arrived: at(arrived) })
        );
        all.extend_from_slice(&octets[..wanted]);
    }
    assert_eq!(all, [1, 2, 3, 4, 5]);
    assert_eq!((line.put(&[8, 9]), line.put(&[0]), line.unsent()), (Ok(2), Err("broken"), None));
    assert_eq!(gone, [8, 9, 0]);
}

/// A radio that is busy for a number of questions after each datagram.
#[derive(Default)]
struct Radio {
    busy: u8,
    sent: Vec<Vec<u8>>,
    received: VecDeque<(Vec<u8>, i16)>,
}

impl Datagram for Radio {
    type Error = ();

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, ()> {
        if self.busy > 0 {
            return Ok(Medium::Busy);
        }
        self.sent.push(datagram.to_vec());
        self.busy = 1;
        Ok(Medium::Free)
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, ()> {
        Ok(self.received.pop_front().map(|(datagram, strength)| {
            into.iter_mut().zip(&datagram).for_each(|(cell, octet)| *cell = *octet);
            Received { octets: datagram.len(), arrived: now, strength: Some(strength) }
        }))
    }

    fn medium(&self) -> Medium {
        if self.busy > 0 { Medium::Busy } else { Medium::Free }
    }
}

#[test]
fn a_radio_gives_and_takes_whole_datagrams() {
    let received = VecDeque::from([(vec![1, 2, 3], -71), (vec![9; 12], -118)]);
    let mut line = Whole::new(Radio { received, ..Radio::default() });
    let mut octets = [0; 8];
    assert_eq!(line.strength(), None);
    assert_eq!(line.take(at(5), &mut octets), Ok(Taken { octets: 3, arrived: at(5) }));
    assert_eq!((&octets[..3], line.strength()), (&[1, 2, 3][..], Some(-71)));
    assert_eq!(line.take(at(6), &mut octets), Ok(Taken { octets: 8, arrived: at(6) }), "cut to the buffer");
    assert_eq!(line.take(at(7), &mut octets), Ok(Taken { octets: 0, arrived: at(7) }));
    assert_eq!((line.put(&[4, 5]), line.unsent()), (Ok(2), None));
    assert_eq!(line.put(&[6]), Ok(0), "busy: nothing is sent, nothing is lost");
    line.radio_mut().busy = 0;
    assert_eq!((line.put(&[6]), line.radio().sent.as_slice()), (Ok(1), &[vec![4, 5], vec![6]][..]));
}

#[test]
fn a_borrowed_radio_or_line_is_the_radio_or_line() {
    let received = VecDeque::from([(vec![1, 2, 3], -71)]);
    let mut radio = Radio { received, ..Radio::default() };
    let mut line = Whole::new(&mut radio);
    let mut octets = [0; 8];
    {
        let mut borrowed = &mut line;
        assert_eq!(Line::unsent(&borrowed), Some(0));
        assert_eq!(Line::take(&mut borrowed, at(5), &mut octets), Ok(Taken { octets: 3, arrived: at(5) }));
        assert_eq!(Line::put(&mut borrowed, &[4, 5]), Ok(2));
        assert_eq!(Line::put(&mut borrowed, &[6]), Ok(0));
        assert_eq!(Line::unsent(&borrowed), None);
    }
    assert_eq!((&octets[..3], line.strength()), (&[1, 2, 3][..], Some(-71)));
    assert_eq!(radio.sent, [vec![4, 5]]);
}
