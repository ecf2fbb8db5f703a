//! The number space of errands and reports as a listener sees it.

use super::What;
use bellwire::frame::{Ack, Class};

/// Numbers remembered behind the newest: more than the largest window.
const MEMORY: u8 = 16;

/// What is known of one sequence number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Slot {
    state: Slate,
    class: Option<Class>,
    message: Option<u16>,
    sendings: u8,
    first_at: Option<u64>,
    given_up: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Slate {
    /// Older than what was heard.
    #[default]
    Unknown,
    /// Skipped when it was due.
    Missing,
    /// Seen, not confirmed.
    Sent,
    /// Confirmed.
    Confirmed,
}

/// What a sent frame tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Step {
    /// Which sending of this number it is.
    pub(super) sending: u8,
    /// Its number was not seen before.
    pub(super) new: bool,
    /// Numbers skipped right before it.
    pub(super) skipped: u8,
    /// It is the first void of this number.
    pub(super) given_up: bool,
    /// Its message number, if ever seen.
    pub(super) message: Option<u16>,
}

/// Errands and reports of one direction.
#[derive(Debug, Clone, Default)]
pub(super) struct Confirmed {
    started: bool,
    /// The next number never sent before.
    top: u8,
    /// The oldest number not confirmed by *next*.
    base: u8,
    slots: [Slot; MEMORY as usize],
}

impl Confirmed {
    /// Right after an opening, when the numbers start at 0.
    pub(super) fn from_the_start() -> Self {
        Self { started: true, ..Self::default() }
    }

    fn slot(&mut self, number: u8) -> &mut Slot {
        &mut self.slots[usize::from(number % MEMORY)]
    }

    fn start_at(&mut self, number: u8) {
        *self = Self { started: true, top: number, base: number, ..Self::default() };
    }

    /// Moves `top` up to `number`; what lies between was not seen.
    fn skip_to(&mut self, number: u8) {
        while self.top != number {
            let top = self.top;
            *self.slot(top) = Slot { state: Slate::Missing, ..Slot::default() };
            self.advance(top.wrapping_add(1));
        }
    }

    fn advance(&mut self, top: u8) {
        self.top = top;
        // A listener that hears one direction only never sees confirmations: the window moves on by itself.
        if self.top.wrapping_sub(self.base) > MEMORY {
            self.base = self.top.wrapping_sub(MEMORY);
        }
    }

    /// Whether this number is the next never sent before.
    #[inline]
    pub(super) fn is_due(&self, number: u8) -> bool {
        self.started && number == self.top
    }

    /// The frame that was due was sent: as [`Confirmed::sent`] with the number that is due.
    #[inline]
    pub(super) fn sent_when_due(&mut self, class: Class, message: Option<u16>, at: Option<u64>) {
        let number = self.top;
        *self.slot(number) = Slot {
            state: Slate::Sent,
            class: Some(class),
            message,
            sendings: 1,
            first_at: at,
            given_up: message.is_none(),
        };
        self.advance(number.wrapping_add(1));
    }

    /// A frame with this number was sent; `message` is `None` for a void.
    pub(super) fn sent(&mut self, number: u8, class: Class, message: Option<u16>, at: Option<u64>) -> Step {
        if !self.started {
            self.start_at(number);
        }
        let ahead = number.wrapping_sub(self.top);
        let behind = self.top.wrapping_sub(number);
        let mut step = Step { sending: 1, new: true, skipped: 0, given_up: message.is_none(), message };
        if behind == 0 || ahead < 128 {
            step.skipped = ahead;
            self.skip_to(number);
            self.skip_to(number.wrapping_add(1));
        } else if behind > MEMORY {
            self.start_at(number);
            self.skip_to(number.wrapping_add(1));
        } else {
            let slot = self.slot(number);
            step.new = matches!(slot.state, Slate::Missing | Slate::Unknown);
            // A number that was skipped, or that lies before all that was heard, was sent once without us.
            step.sending = slot.sendings.max(1).saturating_add(1);
            step.given_up &= !slot.given_up;
            step.message = message.or(slot.message);
        }
        let slot = self.slot(number);
        if step.new {
            *slot = Slot { state: Slate::Sent, class: Some(class), first_at: at, ..Slot::default() };
        }
        slot.message = step.message;
        slot.sendings = step.sending;
        slot.given_up |= message.is_none();
        step
    }

    /// An acknowledgement from the other side.
    pub(super) fn acknowledged(&mut self, ack: Ack, at: Option<u64>, told: &mut dyn FnMut(What)) {
        if !self.started {
            self.start_at(ack.next);
        }
        let outstanding = self.top.wrapping_sub(self.base);
        let steps = ack.next.wrapping_sub(self.base);
        if steps >= 128 {
            // An older acknowledgement that comes late: nothing new.
            return;
        }
        if steps > outstanding {
            let (first, count) = (self.top, steps - outstanding);
            if count > MEMORY {
                self.start_at(ack.next);
                return;
            }
            self.skip_to(ack.next);
            told(What::Missing { class: Class::Errand, first, count });
        }
        while self.base != ack.next {
            let number = self.base;
            self.confirm(number, at, told);
            self.base = number.wrapping_add(1);
        }
        let mut held = ack.held.unwrap_or(0) & 0x7F;
        let mut number = ack.next;
        while held != 0 {
            number = number.wrapping_add(1);
            // A bit for an errand only stops its resending (W-40).
            if held & 1 == 1 && self.slot(number).class == Some(Class::Report) && self.is_out(number) {
                self.confirm(number, at, told);
            }
            held >>= 1;
        }
    }

    fn is_out(&self, number: u8) -> bool {
        number.wrapping_sub(self.base) < self.top.wrapping_sub(self.base)
    }

    fn confirm(&mut self, number: u8, at: Option<u64>, told: &mut dyn FnMut(What)) {
        let slot = self.slot(number);
        if slot.state == Slate::Confirmed || slot.given_up {
            return;
        }
        let unseen = slot.state != Slate::Sent;
        let after = at.zip(slot.first_at).map(|(now, first)| now.saturating_sub(first));
        slot.state = Slate::Confirmed;
        let (class, message, sendings) = (slot.class.unwrap_or(Class::Errand), slot.message, slot.sendings);
        let sendings = if unseen { 0 } else { sendings };
        told(What::Delivered { class, number, message, sendings, after });
    }
}
