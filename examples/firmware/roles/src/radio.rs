//! The radio at the desk: carries datagrams between the air and a UART.

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Cobs,
    io::{Datagram, Line, Medium, Received},
    link::{Config, Event, OwnNumber},
    port::Port,
    time::Instant,
    typed,
};
use serde::{Deserialize, Serialize};

use crate::agreement::identity;

/// The fingerprint of the radio's own agreement, [`Air`]: a desk that is wired to another board by mistake sees a mismatch.
pub const RADIO_FINGERPRINT: u32 = 0x0B5E_0002;
/// The longest datagram, octets.
pub const LONGEST: usize = 64;

/// What the radio and the desk tell each other; all of it notices, for the air gives no promise either. The direction is in the message number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Air<'a> {
    /// 0, radio to desk: a datagram was heard.
    Heard {
        /// When, µs of the radio's clock, wrapping.
        at: u32,
        /// How strong, dBm; 0: the chip does not tell.
        strength: i8,
        /// Its octets, at most 64.
        datagram: &'a [u8],
    },
    /// 1, desk to radio: send this.
    Send {
        /// Its octets, at most 64.
        datagram: &'a [u8],
    },
    /// 2, radio to desk: a datagram went out to the chip, or did not because the air was busy.
    Sent {
        /// When, µs of the radio's clock, wrapping.
        at: u32,
        /// How many octets it had.
        octets: u8,
        /// Whether it went out.
        went_out: bool,
    },
}

/// A port between desk and radio: payloads of up to 80 octets, so that a datagram fits.
pub type AirPort<L> = Port<L, Cobs, Fcs16, 96, 1, 4>;

/// Makes and opens it.
pub(crate) fn open_air<L: Line>(line: L, identity: u64, own: OwnNumber, now: Instant) -> AirPort<L> {
    let config = Config { identity, fingerprint: RADIO_FINGERPRINT, ..Config::uart(115_200, own) };
    let mut port = AirPort::new(line, Cobs, config, now);
    port.open(now);
    port
}

/// What the radio has carried since its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Carried {
    /// Datagrams heard.
    pub heard: u32,
    /// Datagrams sent.
    pub sent: u32,
    /// Datagrams that the air or the link to the desk had no room for.
    pub dropped: u32,
}

/// The radio board. It keeps nothing: what cannot go on at once is dropped and counted, as the air would.
#[derive(Debug)]
pub struct Radio<L: Line, D> {
    desk: AirPort<L>,
    chip: D,
    carried: Carried,
}

impl<L: Line, D: Datagram<Error = L::Error>> Radio<L, D> {
    /// The radio between `line`, which leads to the desk, and `chip`.
    pub fn new(line: L, chip: D, own: OwnNumber, now: Instant) -> Self {
        Self { desk: open_air(line, identity::RADIO, own, now), chip, carried: Carried::default() }
    }

    /// Carries what is there, both ways.
    ///
    /// # Errors
    /// The line's or the chip's.
    pub fn turn(&mut self, now: Instant) -> Result<Carried, L::Error> {
        self.serve(now)?;
        let mut octets = [0; LONGEST];
        while let Some(received) = self.chip.receive(now, &mut octets)? {
            let Received { octets: len, arrived, strength } = received;
            let heard = Air::Heard {
                at: arrived.as_ticks(),
                strength: i8::try_from(strength.unwrap_or(0)).unwrap_or(i8::MIN),
                datagram: octets.get(..len).unwrap_or_default(),
            };
            let went_on = self.desk.notice(now, &heard).is_ok();
            count(&mut self.carried, went_on, |carried| &mut carried.heard);
            // It leaves before the next one comes: a notice makes room for a newer one.
            self.serve(now)?;
        }
        Ok(self.carried)
    }

    /// Serves the line to the desk: sends what it wants sent, and tells what became of each.
    fn serve(&mut self, now: Instant) -> Result<(), L::Error> {
        while let Some(event) = self.desk.service(now)? {
            let Event::Message(message) = event else { continue };
            let Ok(Air::Send { datagram }) = typed::read(message.payload) else { continue };
            let octets = datagram.len().to_le_bytes()[0];
            let went_out = self.chip.send(datagram)? == Medium::Free;
            count(&mut self.carried, went_out, |carried| &mut carried.sent);
            let _ = self.desk.notice(now, &Air::Sent { at: now.as_ticks(), octets, went_out });
        }
        Ok(())
    }
}

/// Counts one datagram, as carried or as dropped.
fn count(carried: &mut Carried, is_carried: bool, place: fn(&mut Carried) -> &mut u32) {
    let counter = if is_carried { place(carried) } else { &mut carried.dropped };
    *counter = counter.saturating_add(1);
}

/// The air as the desk has it: a datagram each way that waits to be carried by an [`AirPort`].
#[derive(Debug)]
pub(crate) struct Carrier {
    incoming: Option<(Received, [u8; LONGEST])>,
    outgoing: Option<(usize, [u8; LONGEST])>,
    dropped: u32,
}

impl Carrier {
    pub(crate) const fn new() -> Self {
        Self { incoming: None, outgoing: None, dropped: 0 }
    }

    /// Datagrams that were not read before the next one came, or that the radio was not there for.
    pub(crate) const fn dropped(&self) -> u32 {
        self.dropped
    }

    /// A message of the radio: a datagram that was heard is taken in, a new one in the place of one that waits.
    pub(crate) fn handle(&mut self, message: &bellwire::link::Message<'_>) {
        if message.class == Class::Notice
            && let Ok(Air::Heard { strength, datagram, .. }) = typed::read(message.payload)
        {
            let mut octets = [0; LONGEST];
            let len = copy(datagram, &mut octets);
            // The desk's own clock counts here, not the radio's.
            let strength = (strength != 0).then_some(i16::from(strength));
            self.dropped = self.dropped.saturating_add(self.incoming.is_some().into());
            self.incoming = Some((Received { octets: len, arrived: message.arrived, strength }, octets));
        }
    }

    /// Hands what waits over to the radio.
    pub(crate) fn carry<L: Line>(&mut self, now: Instant, radio: &mut AirPort<L>) {
        if let Some((len, octets)) = self.outgoing.take() {
            let datagram = octets.get(..len).unwrap_or_default();
            let is_lost = radio.notice(now, &Air::Send { datagram }).is_err();
            self.dropped = self.dropped.saturating_add(is_lost.into());
        }
    }
}

impl Datagram for Carrier {
    type Error = core::convert::Infallible;

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, Self::Error> {
        if self.outgoing.is_some() {
            return Ok(Medium::Busy);
        }
        let mut octets = [0; LONGEST];
        let len = copy(datagram, &mut octets);
        self.outgoing = Some((len, octets));
        Ok(Medium::Free)
    }

    fn receive(&mut self, _now: Instant, into: &mut [u8]) -> Result<Option<Received>, Self::Error> {
        let Some((received, octets)) = self.incoming.take() else { return Ok(None) };
        let len = copy(octets.get(..received.octets).unwrap_or_default(), into);
        Ok(Some(Received { octets: len, ..received }))
    }

    fn medium(&self) -> Medium {
        if self.outgoing.is_some() { Medium::Busy } else { Medium::Free }
    }
}

/// Copies as much as fits; gives how much.
fn copy(from: &[u8], into: &mut [u8]) -> usize {
    into.iter_mut().zip(from).map(|(cell, octet)| *cell = *octet).count()
}
