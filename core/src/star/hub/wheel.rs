//! A timing wheel: who must be looked at when. Setting, taking out and the next wake-up cost the same however many wait.
//!
//! Four wheels of 32 slots turn 32 times slower one than the other (Varghese and Lauck, ACM SOSP 1987, scheme 7). A slot of a slow wheel is looked
//! at when its time begins: whoever waits in it is then due, or is put into a faster wheel by its owner. All who wait in one slot are a ring of neighbours.

/// Bits of a slot's place in its wheel.
const BITS: u32 = 5;
const SLOTS: usize = 1 << BITS;
const WHEELS: usize = 4;

/// No one.
const NONE: u8 = u8::MAX;

/// Where one waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Seat {
    /// The neighbours in the slot.
    before: u8,
    after: u8,
    /// Wheel and slot; [`NONE`]: does not wait.
    slot: u8,
}

/// For up to 250 who wait, each for one tick at a time.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Wheel<const COUNT: usize> {
    /// The tick that it stands at: nobody waits for an earlier one.
    tick: u32,
    /// Nobody waits for a slot that begins before this tick; `None`: nobody waits.
    next: Option<u32>,
    /// Bit i: somebody waits in slot i.
    used: [u32; WHEELS],
    first: [[u8; SLOTS]; WHEELS],
    seats: [Seat; COUNT],
}

/// The bits of a tick below a slot of this wheel.
const fn below(wheel: usize) -> u32 {
    #[allow(clippy::arithmetic_side_effects, clippy::cast_possible_truncation)]
    {
        wheel as u32 * BITS
    }
}

impl<const COUNT: usize> Wheel<COUNT> {
    pub(super) const fn new() -> Self {
        let nowhere = Seat { before: NONE, after: NONE, slot: NONE };
        Self {
            tick: 0,
            next: None,
            used: [0; WHEELS],
            first: [[NONE; SLOTS]; WHEELS],
            seats: [nowhere; COUNT],
        }
    }

    /// The wheel and the slot in it for a tick that is yet to come: the fastest that reaches so far.
    fn slot_of(&self, tick: u32) -> u8 {
        for wheel in 0..WHEELS {
            let ahead = (tick >> below(wheel)).wrapping_sub(self.tick >> below(wheel));
            if ahead & (u32::MAX >> below(wheel)) < 1 << BITS {
                return slot(wheel, tick >> below(wheel));
            }
        }
        // Beyond the slowest: its last slot, to be put in anew from there.
        let wheel = WHEELS.wrapping_sub(1);
        slot(wheel, (self.tick >> below(wheel)).wrapping_add(31))
    }

    /// The tick at which a slot begins.
    fn begins(&self, wheel: usize, place: u32) -> u32 {
        let turned = self.tick >> below(wheel);
        let ahead = place.wrapping_sub(turned) & 31;
        turned.wrapping_add(ahead) << below(wheel)
    }

    /// `who` is to be looked at when the tick comes (at the next one, if it has). Whoever waits for an earlier one already stays there.
    pub(super) fn set(&mut self, who: u8, tick: u32) {
        let Some(seat) = self.seats.get(usize::from(who)) else { return };
        let next = self.tick.wrapping_add(1);
        let tick = if tick.wrapping_sub(next) > u32::MAX / 2 { next } else { tick };
        if seat.slot != NONE {
            let (wheel, place) = split(seat.slot);
            let until = |tick: u32| tick.wrapping_sub(self.tick);
            if until(self.begins(wheel, place)) <= until(tick) {
                return;
            }
            self.take_out(who);
        }
        self.put(who, self.slot_of(tick));
    }

    fn put(&mut self, who: u8, slot: u8) {
        let (wheel, place) = split(slot);
        let Some(first) = cell(&mut self.first, wheel, place) else { return };
        let after = core::mem::replace(first, who);
        if let Some(seat) = self.seats.get_mut(usize::from(who)) {
            *seat = Seat { before: NONE, after, slot };
        }
        if let Some(seat) = self.seats.get_mut(usize::from(after)) {
            seat.before = who;
        }
        if let Some(used) = self.used.get_mut(wheel) {
            *used |= 1 << place;
        }
        let begins = self.begins(wheel, place);
        let until = |tick: u32| tick.wrapping_sub(self.tick);
        if self.next.is_none_or(|next| until(begins) < until(next) && !has_come(next, self.tick)) {
            self.next = Some(begins);
        }
    }

    /// `who` waits no more.
    pub(super) fn take_out(&mut self, who: u8) {
        let Some(seat) = self.seats.get_mut(usize::from(who)) else { return };
        let Seat { before, after, slot } =
            core::mem::replace(seat, Seat { before: NONE, after: NONE, slot: NONE });
        if slot == NONE {
            return;
        }
        if let Some(seat) = self.seats.get_mut(usize::from(after)) {
            seat.before = before;
        }
        if let Some(seat) = self.seats.get_mut(usize::from(before)) {
            seat.after = after;
            return;
        }
        let (wheel, place) = split(slot);
        if let Some(first) = cell(&mut self.first, wheel, place) {
            *first = after;
        }
        if after == NONE
            && let Some(used) = self.used.get_mut(wheel)
        {
            *used &= !(1 << place);
            if self.used == [0; WHEELS] {
                self.next = None;
            }
        }
    }

    /// The slot that begins first: its tick, wheel and place.
    fn soonest(&self) -> Option<(u32, usize, u32)> {
        let mut soonest: Option<(u32, usize, u32)> = None;
        for (wheel, &used) in self.used.iter().enumerate() {
            if used == 0 {
                continue;
            }
            let turned = self.tick >> below(wheel);
            let ahead = used.rotate_right(turned & 31).trailing_zeros();
            let tick = turned.wrapping_add(ahead) << below(wheel);
            // That of a slow wheel may have begun already.
            let until = if ahead == 0 { 0 } else { tick.wrapping_sub(self.tick) };
            if soonest.is_none_or(|(least, ..)| until < least) {
                soonest = Some((until, wheel, turned.wrapping_add(ahead) & 31));
            }
        }
        soonest
    }

    /// The tick at which [`pop`](Self::pop) may have somebody; known beforehand, so that asking costs the same whoever waits. It may be too early if somebody was taken out.
    pub(super) const fn next(&self) -> Option<u32> {
        self.next
    }

    /// Takes out one whose slot has begun by the tick `now`.
    pub(super) fn pop(&mut self, now: u32) -> Option<u8> {
        let most = now.wrapping_sub(self.tick);
        if most > u32::MAX / 2 {
            return None;
        }
        if self.next.is_some_and(|next| has_come(next, now)) {
            return self.pop_due(now, most);
        }
        self.tick = now;
        None
    }

    #[inline(never)]
    fn pop_due(&mut self, now: u32, most: u32) -> Option<u8> {
        let soonest = self.soonest();
        self.next = soonest.map(|(until, ..)| self.tick.wrapping_add(until));
        match soonest {
            Some((until, wheel, place)) if until <= most => {
                self.tick = self.tick.wrapping_add(until);
                let who = *cell(&mut self.first, wheel, place)?;
                self.take_out(who);
                Some(who)
            }
            _ => {
                self.tick = now;
                None
            }
        }
    }
}

/// Whether the tick is now or was before.
const fn has_come(tick: u32, now: u32) -> bool {
    now.wrapping_sub(tick) <= u32::MAX / 2
}

#[allow(clippy::cast_possible_truncation)]
fn slot(wheel: usize, turned: u32) -> u8 {
    (wheel as u8) << BITS | (turned & 31) as u8
}

fn split(slot: u8) -> (usize, u32) {
    (usize::from(slot >> BITS), u32::from(slot & 31))
}

fn cell(first: &mut [[u8; SLOTS]; WHEELS], wheel: usize, place: u32) -> Option<&mut u8> {
    first.get_mut(wheel)?.get_mut(usize::try_from(place).ok()?)
}

#[cfg(test)]
mod tests;
