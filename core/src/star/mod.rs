//! The parts of a star: a hub and up to 250 leaves that share a wire or a radio.
//!
//! Who may talk is one question, [`Access`], with three answers: [`FullDuplex`], the [`Turn`] that a hub gives on a shared half-duplex wire
//! ([`TurnTaken`] at the leaf), and the [`Chance`] that a sender takes on a radio, with an account of [`Airtime`]. Who belongs to the star is on the hub's
//! [`Roster`], which a [`Registrar`] keeps; what waits for a leaf that sleeps lies in its [`Mailbox`], of which [`Sleepers`] hold one for each; and what that leaf keeps of its session meanwhile is [`Asleep`].
//! A leaf that keeps nothing at all reports in one frame, an [`Arrival`]; see the module [`arrival`].
//! What goes to all leaves at once leaves by the hub's [`BroadcastSender`], and a leaf's [`BroadcastReceiver`] takes it.
//! From leaf to leaf a message goes by way of the hub's [`Relay`]; [`Relaying`] tells the first leaf how far it has come.
//!
//! A [`Link`](crate::link::Link) over the framing [`Addressed`] talks with one board of a shared medium as if the two were alone.
//!
//! A [`Hub`] holds the conversations with all its leaves and polls them as one; see the module [`hub`]. A [`Leaf`] is the other end: a link with the hub, what goes to all, and
//! how it comes to its address; see the module [`leaf`].
//!
//! All are plain data with time handed in: as spans of microseconds where they time a line, as whole [`Seconds`] where leaves sleep for hours.

mod access;
mod addressed;
mod airtime;
pub mod arrival;
mod asleep;
mod broadcast;
mod chance;
mod extended;
pub mod hub;
pub mod leaf;
mod mailbox;
mod registrar;
mod relay;
mod roster;
mod sleepers;
mod turn;

pub use access::{Access, FullDuplex, May};
pub use addressed::{Addressed, addresses_of};
pub use airtime::{Airtime, Allowance};
pub use arrival::{
    ARRIVAL_ANSWER_LEN, ARRIVAL_HEAD, Arrival, ArrivalAnswer, Arrivals, Arriving, ArrivingConfig,
    ArrivingOutcome, Fresh, NotArrived, NotArriving, Welcomed,
};
pub use asleep::{ASLEEP_LEN, Asleep};
pub use broadcast::{BroadcastError, BroadcastReceiver, BroadcastSender, TOLD_LEN, Told, Waits};
pub use chance::{Chance, Deferred, Rules, Step};
pub use hub::{Hub, HubConfig, HubEvent, Speaks, Transmit};
pub use leaf::{Address, Leaf, LeafConfig, LeafEvent};
pub use mailbox::{Accepted, Fate, Letter, Mailbox, NotTaken, Post, Ticket};
pub use registrar::{Registrar, RosterEvent};
pub use relay::{
    Asked, Carried, FarOutcome, NotRelayed, RELAYED_LEN, Relay, RelayEvent, RelayStep, Relayed, Relaying,
};
pub use roster::{Answer, Clash, JOIN_LEN, Join, NotSeated, Roster, Seat, Seated, WELCOME_LEN, Welcome};
pub use sleepers::{LetterEnd, LetterEvent, NotPosted, Sleepers};
pub use turn::{Give, Timing, Turn, TurnEnd, TurnTaken};

/// Whole seconds since the hub was started, or any other origin of the caller's; 136 years, so they do not wrap.
pub type Seconds = u32;
