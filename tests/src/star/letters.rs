//! What became of the desk's letters.

/// Counts of letters; each that was pushed is in exactly one of the others at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Letters {
    /// Taken by a mailbox.
    pub pushed: u64,
    /// Refused: the mailbox was full. Not among those pushed.
    pub full: u64,
    /// Errands that were delivered.
    pub confirmed: u64,
    /// Set-points handed to the hub.
    pub sent: u64,
    /// Errands of which nobody knows.
    pub unknown: u64,
    /// Waited too long.
    pub expired: u64,
    /// Set-points for which a newer one came while they waited.
    pub replaced: u64,
    /// Gone with a restart of the hub.
    pub lost: u64,
    /// The most that lay in one mailbox.
    pub most: usize,
}

impl Letters {
    /// Letters of which it is known what became.
    #[must_use]
    pub const fn accounted(&self) -> u64 {
        self.confirmed + self.sent + self.unknown + self.expired + self.replaced + self.lost
    }
}
