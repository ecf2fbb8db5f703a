//! The radio at the desk: carries datagrams between the air and a UART, with strength, time and direction. All of it is the core's [`Carrier`].

use bellwire::radio::Carrier;

/// The longest datagram, octets.
pub const LONGEST: usize = 64;

/// The radio board between a line that leads to the desk and a radio chip. It keeps nothing: what cannot go on at once is told to the desk, or lost as on the air.
///
/// The desk has a [`Port`](bellwire::port::Port) with the framing [`RadioBoard`](bellwire::framing::RadioBoard) on that line, or `bellwire` with `--framing
/// radio-board`, and talks with the boards in the field as if the radio were its own.
pub type Radio<L, D> = Carrier<L, D, { LONGEST + 18 }>;
