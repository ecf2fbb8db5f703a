//! A hub with a roster: who may be at which address, who joins, and who has not been heard for too long (W-60).

use super::{Clash, Hub, NotSeated, Roster, Seat, Seated, Seconds, Speaks, Welcome};
use crate::{fcs::Fcs, framing::Framing, time::Instant};

/// What happens on the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum RosterEvent {
    /// A board is taken; the hub has admitted it at its address, and dismissed it at the one that it had before.
    Joined {
        /// Its address, and the one that it had.
        seated: Seated,
        /// Its long name.
        identity: u64,
        /// How long it listens after each of its frames, ms; then it sleeps: [`Sleepers::admit`](super::Sleepers::admit) it. 0: it always listens.
        awake: u16,
    },
    /// Two boards use one address. The one that came is not heard; give it another address.
    Clash(Clash),
    /// A board is not taken.
    Refused {
        /// Its long name.
        identity: u64,
        /// Why.
        why: NotSeated,
    },
    /// A board was not heard for so long that its address is free; the hub has dismissed it.
    Expired {
        /// The address.
        leaf: u8,
        /// Who it was, and when it was heard last.
        seat: Seat,
    },
    /// Somebody speaks at an address at which the hub had no leaf: a hub that was restarted has lost its roster, and a leaf that slept meanwhile goes on in a session with it. The hub has
    /// admitted the address and asks there for an opening, as before any session (W-27).
    Unseated {
        /// The address.
        leaf: u8,
    },
}

/// Keeps the [`Roster`] of a hub, at addresses 1..=`LEAVES`.
///
/// Boards get onto it by JOIN, with an address that is set on them by hand or one that the hub chooses; or by opening a session at an address at which the hub has
/// [admitted](Hub::admit) a leaf: the first identity that is heard there is the one that belongs there. From then on frames of an opening that shows another
/// identity are dropped, so that it does not break in on the session, and both boards are named.
///
/// # Law
/// Feed octets through [`handle_octets`](Self::handle_octets) in place of the hub's, and drain [`poll`](Self::poll) after the hub's events. What `poll` does may
/// bring events of the hub: drain these too. To tell of expiry in time, call it at least `LEAVES` times in the time in which it should be told.
///
/// # Example
/// ```
/// use bellwire::{
///     fcs::Fcs16,
///     framing::{Datagram, Framing as _, Lead},
///     star::{Hub, HubConfig, Join, Registrar, Roster, RosterEvent, Seated},
///     time::{Duration, Instant},
/// };
///
/// let now = Instant::from_ticks(0);
/// let config = HubConfig::datagram(1_000, Duration::from_millis(200), 0x1000);
/// let mut desk = Hub::<Datagram, Fcs16, 8, 16, 64>::new(Datagram, config, now);
/// let mut registrar = Registrar::new(Roster::<8>::new(3_600));
/// // The mast asks for any address; it sleeps.
/// let join = Join { identity: 0xA57, wanted: 0, awake: 300 };
/// let mut air = [0; 80];
/// let len = join.write::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut air);
/// assert_eq!(registrar.handle_octets(&mut desk, now, &air[..len], 0), len);
/// let Some(RosterEvent::Joined { seated, awake, .. }) = registrar.poll(&mut desk, now, 0) else { panic!() };
/// assert_eq!((seated, awake), (Seated::New(1), 300));
/// // The WELCOME goes to no address.
/// assert_eq!(desk.poll_transmit(now, &mut air).unwrap().leaf, 0);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Registrar<const LEAVES: usize> {
    roster: Roster<LEAVES>,
    /// Waits to be told.
    clash: Option<Clash>,
    /// The last one that was told: it is told once.
    told: Option<Clash>,
    /// A board was seated by opening at an admitted address.
    opened: Option<(Seated, u64)>,
    /// An address at which somebody speaks and the hub has no leaf.
    unseated: Option<u8>,
}

impl<const LEAVES: usize> Registrar<LEAVES> {
    /// With this roster: an empty one, or one whose seats are known beforehand.
    #[must_use]
    pub const fn new(roster: Roster<LEAVES>) -> Self {
        Self { roster, clash: None, told: None, opened: None, unseated: None }
    }

    /// Who belongs to the star.
    #[must_use]
    pub const fn roster(&self) -> &Roster<LEAVES> {
        &self.roster
    }

    /// As [`Hub::handle_octets`]; `today`: the time of the roster.
    #[must_use]
    pub fn handle_octets<F: Framing, C: Fcs, const PLACES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, PLACES, POOL, FRAME>,
        arrived: Instant,
        octets: &[u8],
        today: Seconds,
    ) -> usize {
        let done =
            hub.handle_octets_if(arrived, octets, &mut |leaf, identity| self.may(leaf, identity, today));
        self.unseated = hub.unknown_sender().or(self.unseated);
        done
    }

    /// Whether a frame from this address is to be heard.
    fn may(&mut self, leaf: u8, identity: Option<u64>, today: Seconds) -> bool {
        let heard = self.roster.heard(leaf, identity, today);
        let clash = match (heard, identity) {
            (Ok(true), _) | (Ok(false), None) => return true,
            // The first that is heard here.
            (Ok(false), Some(came)) => match self.roster.join(came, leaf, today) {
                Ok(seated) => {
                    self.opened = Some((seated, came));
                    return true;
                }
                Err(NotSeated::Held(clash)) => clash,
                // The roster is smaller than the hub, and this leaf beyond it.
                Err(_) => return true,
            },
            (Err(clash), _) => clash,
        };
        if self.told != Some(clash) {
            self.clash = Some(clash);
        }
        false
    }

    /// Seats who asks, dismisses who has expired, and says so; one thing a call.
    pub fn poll<F: Framing, C: Fcs, const PLACES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, PLACES, POOL, FRAME>,
        now: Instant,
        today: Seconds,
    ) -> Option<RosterEvent> {
        if hub.has_event() {
            return None;
        }
        if let Some(clash) = self.clash.take() {
            self.told = Some(clash);
            return Some(RosterEvent::Clash(clash));
        }
        if let Some((seated, identity)) = self.opened.take() {
            if let Seated::Moved { from, .. } = seated {
                hub.dismiss(now, from);
            }
            return Some(RosterEvent::Joined { seated, identity, awake: 0 });
        }
        if let Some(leaf) = self.unseated.take()
            && hub.admit(now, leaf, Speaks::Leaf)
        {
            return Some(RosterEvent::Unseated { leaf });
        }
        if let Some(join) = hub.take_join() {
            let joined = self.roster.join(join.identity, join.wanted, today);
            hub.welcome(now, Welcome::of(join.identity, joined));
            return Some(self.seat(hub, now, join, joined));
        }
        let (leaf, seat) = self.roster.poll_expired(today)?;
        hub.dismiss(now, leaf);
        Some(RosterEvent::Expired { leaf, seat })
    }

    /// Lets the hub know of a board that asked.
    fn seat<F: Framing, C: Fcs, const PLACES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, PLACES, POOL, FRAME>,
        now: Instant,
        join: super::Join,
        joined: Result<Seated, NotSeated>,
    ) -> RosterEvent {
        let seated = match joined {
            Ok(seated) => seated,
            Err(NotSeated::Held(clash)) => {
                self.told = Some(clash);
                return RosterEvent::Clash(clash);
            }
            Err(why) => return RosterEvent::Refused { identity: join.identity, why },
        };
        match seated {
            Seated::Moved { from, to } => {
                hub.dismiss(now, from);
                hub.dismiss(now, to);
            }
            // Whoever sat there has expired.
            Seated::New(address) => {
                hub.dismiss(now, address);
            }
            Seated::Again(_) => {}
        }
        let speaks = if join.awake > 0 { Speaks::Sleeper } else { Speaks::Hub };
        hub.admit(now, seated.address(), speaks);
        RosterEvent::Joined { seated, identity: join.identity, awake: join.awake }
    }
}

#[cfg(test)]
mod tests;
