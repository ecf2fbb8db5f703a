//! What of a lane is either so or not, in two octets.

/// One of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub(super) enum Flag {
    /// There is such a leaf.
    Present,
    /// The leaf speaks first: the hub does not ask it to open.
    Waits,
    /// It does not speak the same; it was told (W-30).
    Stranger,
    /// Not heard for half of its silence.
    Quiet,
    /// An acknowledgement is owed.
    Ack,
    /// A confirmed message is under way.
    Flying,
    /// It is to be sent again.
    Due,
    /// It was given up: its number travels on as a void (W-37).
    Void,
    /// It is, or was, a report.
    Report,
    /// A set-point went last: where others wait, one of them goes before the next.
    OthersTurn,
    /// No OPEN prompted by a frame until the gate opens (W-27, W-32).
    Prompted,
    /// More waits for the leaf than there is room for here (W-16, bit 7 of *held*).
    More,
    /// It sleeps between the times at which it speaks (W-61).
    Sleeps,
    /// It sleeps, but listens just now.
    Awake,
}

/// None of them at first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Flags(u16);

impl Flags {
    pub(super) const fn has(self, flag: Flag) -> bool {
        self.0 >> flag as u16 & 1 == 1
    }

    pub(super) const fn set(&mut self, flag: Flag, on: bool) {
        self.0 = self.0 & !(1 << flag as u16) | (on as u16) << flag as u16;
    }

    /// What was so is so no more.
    pub(super) const fn take(&mut self, flag: Flag) -> bool {
        let was = self.has(flag);
        self.set(flag, false);
        was
    }

    /// What is left of a lane without a session: who it is, and the gate.
    pub(super) const fn leave_session(&mut self) {
        self.0 &= 1 << Flag::Present as u16
            | 1 << Flag::Waits as u16
            | 1 << Flag::Prompted as u16
            | 1 << Flag::More as u16
            | 1 << Flag::Sleeps as u16;
    }
}
