//! Radios as they are met: a chip with a datagram driver, a modem on a UART, a board on a UART that carries datagrams.
//!
//! | what it is | what to use |
//! |---|---|
//! | a chip with a driver | implement [`Datagram`](crate::io::Datagram) for the driver; [`Port::datagram`](crate::port::Port::datagram) |
//! | a radio modem on a UART: octets in, octets out, half-duplex, packets that merge and split | [`Modem`] around the UART's [`Line`](crate::io::Line); an ordered framing |
//! | a radio board on the UART of a computer | the framing [`RadioBoard`](crate::framing::RadioBoard) at the computer, a [`Carrier`] on the board |
//!
//! [`BothWays`] keeps what each end of a link hears of the other, and tells a link that works one way only.
//!
//! Until frames are sealed anyone in radio range can forge or replay them: what moves something is to pass a [`Gate`](crate::setpoint::Gate).

mod both_ways;
mod carrier;
mod hearing;
mod modem;

pub use both_ways::{BothWays, Verdict};
pub use carrier::{Carried, Carrier};
pub use hearing::{HEARING_LEN, Hearing, NotHearing};
pub use modem::{Modem, Pace};
