//! One random frame, its wire image, and the damage done to it.

use super::{Column, Count, Damage, damage::SAMPLES, receiver::Receiver};
use crate::{line, seed::Rng};
use bellwire::{
    fcs::Fcs,
    framing::{Framing, Lead},
};
use rand::{Rng as _, RngCore as _};

/// Payload octets, the message number included.
const PAYLOAD: usize = 16;
/// Control octet, sequence number, payload.
const FRAME: usize = 2 + PAYLOAD;

/// The wire image of one frame.
pub(super) struct Image<F, C> {
    receiver: Receiver<F, C>,
    sent: Vec<u8>,
    whole: Vec<u8>,
    damaged: Vec<u8>,
    rng: Rng,
    count: Count,
}

fn flip(image: &mut [u8], bit: usize) {
    image[bit / 8] ^= 1 << (bit % 8);
}

impl<F: Framing, C: Fcs> Image<F, C> {
    /// A notice with 16 octets of payload, its number included.
    pub(super) fn random(framing: F, column: Column, mut rng: Rng) -> Self {
        let mut octets = [0; 1 + FRAME];
        rng.fill_bytes(&mut octets);
        let [length, control, _, message, ..] = &mut octets;
        (*length, *control, *message) = (FRAME.to_le_bytes()[0], 0xC0, 5);
        let sent = octets[usize::from(!column.length_octet)..].to_vec();
        let whole = line::encode(column.line, Lead::Delimiter, &sent);
        let damaged = Vec::with_capacity(2 * whole.len());
        let receiver = Receiver::new(framing, column.length_octet);
        Self { receiver, sent, whole, damaged, rng, count: Count::default() }
    }

    pub(super) const fn count(&self) -> Count {
        self.count
    }

    /// Tries the damage on this frame.
    pub(super) fn suffer(&mut self, damage: Damage) {
        self.restore();
        match damage {
            Damage::Flips(bits) => self.flips(bits, 0),
            Damage::PutIn => self.put_in(),
            Damage::Lost => self.lost(),
            Damage::Replaced => self.replaced(),
            Damage::Held(octet) => self.held(octet),
            Damage::Bursts(shortest, longest) => (0..SAMPLES).for_each(|_| self.burst(shortest, longest)),
            Damage::Garbage => (0..SAMPLES).for_each(|_| self.garbage()),
            Damage::Console => (0..SAMPLES).for_each(|_| self.console()),
        }
    }

    fn restore(&mut self) {
        self.damaged.clear();
        self.damaged.extend_from_slice(&self.whole);
    }

    fn judge(&mut self) {
        self.count.trials += 1;
        self.count.accepted += u64::from(self.receiver.takes_wrong(&self.damaged, &self.sent));
    }

    /// Each set of `more` bits from bit `from` on.
    fn flips(&mut self, more: usize, from: usize) {
        for bit in from..self.whole.len() * 8 {
            flip(&mut self.damaged, bit);
            if more == 1 {
                self.judge();
            } else {
                self.flips(more - 1, bit + 1);
            }
            flip(&mut self.damaged, bit);
        }
    }

    fn put_in(&mut self) {
        for place in 0..=self.whole.len() {
            self.restore();
            self.damaged.insert(place, 0);
            for octet in 0..=u8::MAX {
                self.damaged[place] = octet;
                self.judge();
            }
        }
    }

    fn lost(&mut self) {
        for run in 1..=8 {
            for place in 0..=self.whole.len() - run {
                self.restore();
                self.damaged.drain(place..place + run);
                self.judge();
            }
        }
    }

    fn replaced(&mut self) {
        for place in 0..self.whole.len() {
            for change in 1..=u8::MAX {
                self.damaged[place] = self.whole[place] ^ change;
                self.judge();
            }
            self.damaged[place] = self.whole[place];
        }
    }

    fn burst(&mut self, shortest: usize, longest: usize) {
        self.restore();
        let span = self.rng.random_range(shortest..=longest);
        let start = self.rng.random_range(0..=self.damaged.len() * 8 - span);
        let within = self.rng.next_u32();
        for bit in 0..span {
            if bit == 0 || bit == span - 1 || within >> bit & 1 == 1 {
                flip(&mut self.damaged, start + bit);
            }
        }
        self.judge();
    }

    fn garbage(&mut self) {
        self.enclose(24);
        let edge = usize::from(F::DELIMITER.is_some());
        self.rng.fill_bytes(&mut self.damaged[edge..edge + 24]);
        self.judge();
    }

    fn console(&mut self) {
        let len = self.rng.random_range(4..=60);
        self.enclose(len + 2);
        let edge = usize::from(F::DELIMITER.is_some());
        let (text, end) = self.damaged[edge..edge + len + 2].split_at_mut(len);
        text.iter_mut().for_each(|octet| *octet = self.rng.random_range(b' '..=b'~'));
        end.copy_from_slice(b"\r\n");
        self.judge();
    }

    fn held(&mut self, octet: u8) {
        for len in 1..=64 {
            self.enclose(len);
            let edge = usize::from(F::DELIMITER.is_some());
            self.damaged[edge..edge + len].fill(octet);
            self.judge();
            self.damaged.fill(octet);
            self.judge();
        }
    }

    /// So many octets, between delimiters where the framing has one.
    fn enclose(&mut self, len: usize) {
        self.damaged.clear();
        self.damaged.extend(F::DELIMITER);
        self.damaged.resize(self.damaged.len() + len, 0);
        self.damaged.extend(F::DELIMITER);
    }
}
