//! Who belongs to a star: long identities and short addresses (W-60).

mod bodies;

pub use bodies::{Answer, JOIN_LEN, Join, WELCOME_LEN, Welcome};

use super::Seconds;
use crate::rules::holds;

/// A leaf on the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seat {
    /// Its long name; never 0.
    pub identity: u64,
    /// It asked for this very address, which is set on the board by hand.
    pub fixed: bool,
    /// When it was heard last.
    pub heard: Seconds,
}

/// Two boards on one address: both long names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Clash {
    /// The address.
    pub address: u8,
    /// The board that is on the roster.
    pub seated: u64,
    /// The board that came.
    pub came: u64,
}

impl core::fmt::Display for Clash {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self { address, seated, came } = self;
        write!(
            f,
            "address {address} is that of board {seated:016X}, and {came:016X} uses it too: give one of them another"
        )
    }
}

/// A board was taken on the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Seated {
    /// It was not on it.
    New(u8),
    /// It was, at this address.
    Again(u8),
    /// It was, at another address.
    Moved {
        /// The one that is free now.
        from: u8,
        /// Its new one.
        to: u8,
    },
}

impl Seated {
    /// Its address.
    #[must_use]
    pub const fn address(self) -> u8 {
        match self {
            Self::New(address) | Self::Again(address) | Self::Moved { to: address, .. } => address,
        }
    }
}

/// Why a board was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotSeated {
    /// Every address is in use.
    Full,
    /// The address that it wants is another board's.
    Held(Clash),
    /// It has no identity, so that it cannot be told from another.
    NoIdentity,
    /// It wants an address that this hub does not have.
    NoSuchAddress,
}

/// The leaves of a hub, at addresses 1..=`LEAVES`. A leaf at address a lies in place a - 1: looking one up takes the same time however many there are.
///
/// # Example
/// ```
/// use bellwire::star::{NotSeated, Roster, Seated};
///
/// let mut roster = Roster::<4>::new(3600);
/// assert_eq!(roster.join(0xD0, 0, 10), Ok(Seated::New(1)));
/// assert_eq!(roster.join(0xF0, 3, 11), Ok(Seated::New(3)));
/// // A second board whose switches are set to 3: both are named.
/// let Err(NotSeated::Held(clash)) = roster.join(0xF1, 3, 12) else { panic!() };
/// assert_eq!((clash.seated, clash.came), (0xF0, 0xF1));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Roster<const LEAVES: usize> {
    seats: [Option<Seat>; LEAVES],
    /// A leaf that was not heard for so long has expired; 0: none ever does.
    expiry: Seconds,
    /// The place that [`Roster::poll_expired`] looks at next.
    look: usize,
}

/// The address of the place.
fn address(place: usize) -> u8 {
    u8::try_from(place.saturating_add(1)).unwrap_or(u8::MAX)
}

impl<const LEAVES: usize> Roster<LEAVES> {
    /// Nobody yet. A leaf that is not heard for `expiry` seconds gives up its address; 0: never.
    #[must_use]
    pub const fn new(expiry: Seconds) -> Self {
        const { assert!(LEAVES >= 1 && LEAVES <= 250, "a hub has 1 to 250 leaves") };
        Self { seats: [None; LEAVES], expiry, look: 0 }
    }

    /// The leaf at this address.
    #[must_use]
    pub fn seat(&self, address: u8) -> Option<&Seat> {
        self.seats.get(usize::from(address).checked_sub(1)?)?.as_ref()
    }

    /// All leaves, by address.
    pub fn seats(&self) -> impl Iterator<Item = (u8, &Seat)> {
        self.seats.iter().enumerate().filter_map(|(place, seat)| Some((address(place), seat.as_ref()?)))
    }

    const fn has_expired(&self, seat: &Seat, now: Seconds) -> bool {
        self.expiry > 0 && now.saturating_sub(seat.heard) >= self.expiry
    }

    fn is_free(&self, place: &Option<Seat>, now: Seconds) -> bool {
        place.as_ref().is_none_or(|seat| self.has_expired(seat, now))
    }

    /// A board asks to be taken. `wanted`: the address that is set on it by hand, or 0 for one that the hub chooses: the one it had, else the lowest free
    /// one. An expired leaf's address is free.
    ///
    /// # Errors
    /// Why it is not; the roster is then as it was.
    pub fn join(&mut self, identity: u64, wanted: u8, now: Seconds) -> Result<Seated, NotSeated> {
        if identity == 0 {
            return Err(NotSeated::NoIdentity);
        }
        let had = self.seats().find(|(_, seat)| seat.identity == identity).map(|(address, _)| address);
        let chosen = match (wanted, had) {
            (0, Some(address)) => address,
            (0, None) => {
                let free = self.seats.iter().position(|place| self.is_free(place, now));
                address(free.ok_or(NotSeated::Full)?)
            }
            (wanted, _) => wanted,
        };
        let place = usize::from(chosen).checked_sub(1).and_then(|place| self.seats.get(place));
        let place = place.ok_or(NotSeated::NoSuchAddress)?;
        if let Some(seat) = place.as_ref().filter(|seat| seat.identity != identity && holds(60))
            && !self.has_expired(seat, now)
        {
            return Err(NotSeated::Held(Clash { address: chosen, seated: seat.identity, came: identity }));
        }
        let from = had.filter(|had| *had != chosen);
        if let Some(place) = from {
            self.leave(place);
        }
        if let Some(place) = self.seats.get_mut(usize::from(chosen).saturating_sub(1)) {
            *place = Some(Seat { identity, fixed: wanted != 0, heard: now });
        }
        Ok(match (from, had) {
            (Some(from), _) => Seated::Moved { from, to: chosen },
            (None, Some(_)) => Seated::Again(chosen),
            (None, None) => Seated::New(chosen),
        })
    }

    /// A frame came from this address; `identity` if the frame tells it (an OPEN does). Gives whether there is such a leaf.
    ///
    /// # Errors
    /// The two boards that use the address: drop the frame.
    pub fn heard(&mut self, address: u8, identity: Option<u64>, now: Seconds) -> Result<bool, Clash> {
        let place = usize::from(address).checked_sub(1).and_then(|place| self.seats.get_mut(place));
        let Some(seat) = place.and_then(Option::as_mut) else { return Ok(false) };
        match identity {
            Some(came) if came != seat.identity => Err(Clash { address, seated: seat.identity, came }),
            _ => {
                seat.heard = now;
                Ok(true)
            }
        }
    }

    /// The leaf at this address leaves; gives who it was.
    pub fn leave(&mut self, address: u8) -> Option<Seat> {
        self.seats.get_mut(usize::from(address).checked_sub(1)?)?.take()
    }

    /// Takes an expired leaf off the roster and tells which. It looks at one place a call, so call it at least once for each place in the time
    /// in which it should be told.
    pub fn poll_expired(&mut self, now: Seconds) -> Option<(u8, Seat)> {
        let place = self.look.checked_rem(LEAVES).unwrap_or(0);
        self.look = place.saturating_add(1);
        let seat = (*self.seats.get(place)?)?;
        if !self.has_expired(&seat, now) {
            return None;
        }
        self.leave(address(place)).map(|seat| (address(place), seat))
    }
}

#[cfg(test)]
mod tests;
