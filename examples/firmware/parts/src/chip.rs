//! A radio chip at the end of a UART, as it is wired up in the emulator.

use bellwire::{
    io::{Datagram, Line, Medium, Received},
    time::{Duration, Instant, elapsed},
};

/// The longest datagram, octets.
const LONGEST: usize = 64;
/// A pause inside a datagram that ends it: an octet of it is lost.
const PAUSE: Duration = Duration::from_millis(20);

/// A radio chip at the end of a UART. Each datagram is three things on the wire, both ways: its length (1 to 64), its strength, and its octets.
///
/// The strength is in dBm, two's complement (0xC4: -60 dBm); the board sends 0 there, the air puts the real one in. Two boards that are wired
/// to each other understand each other, and a process between them can play the air: drop, delay, double, weaken. A pause of 20 ms
/// inside a datagram drops it.
#[derive(Debug)]
pub struct Chip<L> {
    line: L,
    /// What has come of a datagram: length and strength first.
    cells: [u8; LONGEST + 2],
    len: usize,
    /// When its first octet came.
    began: Instant,
}

impl<L: Line> Chip<L> {
    /// The chip at the end of `line`.
    pub const fn new(line: L) -> Self {
        Self { line, cells: [0; LONGEST + 2], len: 0, began: Instant::from_ticks(0) }
    }

    /// The line.
    pub const fn line(&self) -> &L {
        &self.line
    }

    /// Takes what has come, up to the end of a datagram; gives whether one is whole.
    fn fill(&mut self, now: Instant) -> Result<bool, L::Error> {
        loop {
            let wanted = match *self.cells.as_slice() {
                [len, ..] if self.len > 0 && (len == 0 || usize::from(len) > LONGEST) => {
                    self.len = 0;
                    1
                }
                [len, ..] if self.len > 0 => usize::from(len).saturating_add(2),
                _ => 1,
            };
            if self.len >= wanted && wanted > 1 {
                return Ok(true);
            }
            let room = self.cells.get_mut(self.len..wanted).unwrap_or_default();
            let taken = self.line.take(now, room)?;
            let begun = self.len;
            let is_late = elapsed(taken.arrived, self.began) > PAUSE;
            self.len = self.len.saturating_add(taken.octets);
            if is_late {
                // What came now may be the beginning of the next one.
                self.drop_front(begun);
            }
            if taken.octets == 0 {
                return Ok(false);
            }
            if begun == 0 || is_late {
                self.began = taken.arrived;
            }
        }
    }

    /// Drops the first `count` octets of what has come; the rest moves to the front.
    fn drop_front(&mut self, count: usize) {
        self.len = self.len.saturating_sub(count);
        for place in 0..self.len {
            let octet = self.cells.get(place.saturating_add(count)).copied().unwrap_or(0);
            if let Some(cell) = self.cells.get_mut(place) {
                *cell = octet;
            }
        }
    }
}

impl<L: Line> Datagram for Chip<L> {
    type Error = L::Error;

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, L::Error> {
        if self.medium() == Medium::Busy || datagram.len() > LONGEST {
            return Ok(Medium::Busy);
        }
        let head = [datagram.len().to_le_bytes()[0], 0];
        // There is room for both: the line has nothing else to send.
        self.line.put(&head)?;
        self.line.put(datagram)?;
        Ok(Medium::Free)
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, L::Error> {
        if !self.fill(now)? {
            return Ok(None);
        }
        let [len, strength, datagram @ ..] = &self.cells;
        let whole = datagram.get(..usize::from(*len)).unwrap_or_default();
        for (cell, octet) in into.iter_mut().zip(whole) {
            *cell = *octet;
        }
        let octets = whole.len();
        let strength = i16::from(strength.cast_signed());
        let strength = (strength != 0).then_some(strength);
        self.drop_front(octets.saturating_add(2));
        Ok(Some(Received { octets: octets.min(into.len()), arrived: self.began, strength }))
    }

    fn medium(&self) -> Medium {
        if self.line.unsent().unwrap_or(0) == 0 { Medium::Free } else { Medium::Busy }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::io::Memory;

    fn at(millis: u32) -> Instant {
        Instant::from_ticks(millis * 1_000)
    }

    /// What the chip hears of octets that come at these times, asked each time.
    fn heard(octets: &[(u32, &[u8])]) -> std::vec::Vec<(u32, std::vec::Vec<u8>, Option<i16>)> {
        let mut chip = Chip::new(Memory::<256>::new());
        let mut heard = std::vec::Vec::new();
        for &(millis, octets) in octets {
            chip.line.arrive(at(millis), octets).unwrap();
            let mut into = [0; 64];
            while let Ok(Some(received)) = chip.receive(at(millis), &mut into) {
                let arrived = received.arrived.as_ticks() / 1_000;
                heard.push((arrived, into[..received.octets].to_vec(), received.strength));
            }
        }
        heard
    }

    #[test]
    fn datagrams_come_whole_with_strength_and_time_however_they_are_cut() {
        assert_eq!(
            heard(&[(1, &[2, 0xC4, 7]), (9, &[8, 1]), (12, &[0, 9])]),
            [(1, [7, 8].to_vec(), Some(-60)), (9, [9].to_vec(), None)]
        );
    }

    #[test]
    fn a_pause_drops_what_came_before_it_and_a_bad_length_is_skipped() {
        assert_eq!(heard(&[(1, &[3, 0, 7]), (30, &[1, 0, 9])]), [(30, [9].to_vec(), None)]);
        assert_eq!(heard(&[(1, &[0, 65, 0xFF, 1, 0, 5])]), [(1, [5].to_vec(), None)]);
        let cut_then_two = [(1, &[9, 0, 7][..]), (30, &[1, 0, 5, 1, 0, 6])];
        assert_eq!(heard(&cut_then_two), [(30, [5].to_vec(), None), (30, [6].to_vec(), None)]);
    }

    #[test]
    fn what_is_sent_is_heard() {
        let mut chip = Chip::new(Memory::<256>::new());
        assert_eq!(chip.send(&[1, 2, 3]), Ok(Medium::Free));
        assert_eq!(chip.send(&[4]), Ok(Medium::Busy), "the first one is still going out");
        let wire: std::vec::Vec<u8> = std::iter::from_fn(|| chip.line.depart()).collect();
        assert_eq!(wire, [3, 0, 1, 2, 3]);
    }
}
