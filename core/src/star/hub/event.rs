//! What a hub tells its program.

use crate::link::Event;

/// What a hub tells its program: what a link would tell, and of which leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct HubEvent<'a> {
    /// The address of the leaf, 1..=250; `None` for what came from nobody knows whom: damage, and foreign text.
    pub leaf: Option<u8>,
    /// What happened.
    pub event: Event<'a>,
}

/// A frame to put on the medium.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Transmit {
    /// The leaf that it is for; 0 for a WELCOME (W-60), whose board has no address yet.
    pub leaf: u8,
    /// Its octets, encoded and ready for the line; 0 if it did not fit, as if the medium had lost it.
    pub len: usize,
}

/// Who asks for a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Speaks {
    /// The hub asks the leaf to open, again and again while it is away.
    Hub,
    /// The leaf speaks first: a board that may never be there. The hub only answers.
    Leaf,
    /// The leaf speaks first, and sleeps in between (W-61). It gets no keep-alive and the promise of none, so it never finds the hub silent; and messages only while it
    /// listens, as [`Hub::set_awake`](super::Hub::set_awake) says. [`Sleepers`](crate::star::Sleepers) keep what waits for it.
    Sleeper,
}
