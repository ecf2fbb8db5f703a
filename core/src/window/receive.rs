//! The receiver's books: which number is waited for and which later ones are in.

use crate::{frame::Ack, seq::Serial};

/// Where a number lies (W-38).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Place {
    /// The one that is waited for.
    Next,
    /// New, with earlier ones missing.
    Ahead,
    /// Taken before, or held.
    Repeat,
    /// Neither new nor a repeat.
    Outside,
}

/// Receive window over 2^`BITS` numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) struct ReceiveWindow<const BITS: u32 = 8> {
    next: Serial<BITS>,
    /// Bit i: number next+i is in. Bit 0 is set only while its message waits to be handed out.
    taken: u8,
}

impl<const BITS: u32> ReceiveWindow<BITS> {
    /// Goes on in a session: nothing held.
    pub(crate) const fn resumed(next: Serial<BITS>) -> Self {
        Self { next, taken: 0 }
    }

    /// The number that is waited for.
    pub(crate) const fn next(&self) -> Serial<BITS> {
        self.next
    }

    fn bit(offset: u8) -> u8 {
        1_u8.checked_shl(u32::from(offset)).unwrap_or(0)
    }

    /// Where `number` lies with a window of `window` numbers (W-38).
    pub(crate) fn place(&self, number: Serial<BITS>, window: u8) -> Place {
        let offset = number.since(self.next);
        let behind = self.next.since(number);
        if offset < window {
            match (self.taken & Self::bit(offset), offset) {
                (0, 0) => Place::Next,
                (0, _) => Place::Ahead,
                _ => Place::Repeat,
            }
        } else if behind <= window {
            Place::Repeat
        } else {
            Place::Outside
        }
    }

    /// Marks `number` as in: handed to the application, or to its bounded queue (W-39).
    pub(crate) fn take(&mut self, number: Serial<BITS>) {
        self.taken |= Self::bit(number.since(self.next));
    }

    /// Whether the number that is waited for is in.
    pub(crate) const fn is_ready(&self) -> bool {
        self.taken & 1 == 1
    }

    /// Goes on to the next number; only right if [`is_ready`](Self::is_ready).
    pub(crate) fn pass(&mut self) {
        self.taken >>= 1;
        self.next = self.next.plus(1);
    }

    /// The acknowledgement to send: the short form when nothing is held.
    pub(crate) fn ack(&self) -> Ack {
        let held = self.taken >> 1;
        Ack { next: self.next.get(), held: (held != 0).then_some(held) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_of_a_small_space_lies_where_w38_says() {
        for next in 0..16 {
            for window in 1..=8_u8 {
                for number in 0..16_u8 {
                    let mut books = ReceiveWindow::<4> { next: Serial::new(next), taken: 0 };
                    let offset = (16 + number - next) % 16;
                    let wanted = match offset {
                        0 => Place::Next,
                        _ if offset < window => Place::Ahead,
                        _ if offset >= 16 - window => Place::Repeat,
                        _ => Place::Outside,
                    };
                    assert_eq!(books.place(Serial::new(number), window), wanted, "{number} {next} {window}");
                    if offset < window {
                        books.take(Serial::new(number));
                        assert_eq!(books.place(Serial::new(number), window), Place::Repeat);
                        assert_eq!(books.is_ready(), offset == 0);
                    }
                }
            }
        }
    }

    #[test]
    fn held_numbers_are_named_from_next_plus_one() {
        let mut books = ReceiveWindow::<8> { next: Serial::new(254), taken: 0 };
        assert_eq!(books.ack(), Ack { next: 254, held: None });
        for number in [255, 1, 5] {
            books.take(Serial::new(number));
        }
        assert_eq!(books.ack(), Ack { next: 254, held: Some(0b100_0101) });
        books.take(Serial::new(254));
        books.pass();
        books.pass();
        assert_eq!(books.ack(), Ack { next: 0, held: Some(0b1_0001) });
    }
}
