//! A leaf that keeps nothing over its sleep: each time it wakes it reports in one frame and is seen as restarted (W-69).
//!
//! Such a board has a new past each time, so that a session would be opened for every report: three frames before the first message. An ARRIVAL carries the own number of an OPEN
//! and the report in one frame outside any session, and the hub answers with one. The hub takes each start once, for copies that live no longer than L; a leaf without
//! randomness must keep quiet first. Only reports go that way: what moves something needs a session and a
//! [`DeadMan`](crate::setpoint::DeadMan).
//!
//! The leaf holds one [`Arriving`], the hub [`Arrivals`] beside its [`Hub`](super::Hub); both are plain data and know no line.
//!
//! # What it costs
#![doc = include_str!("cost.md")]
//!
//! # Example
//! ```
//! use bellwire::{
//!     fcs::Fcs16,
//!     frame::ResetCause,
//!     framing::{Datagram, Lead},
//!     link::OwnNumber,
//!     star::{Arrival, Arrivals, Arriving, ArrivingConfig, ArrivingOutcome, Fresh},
//!     time::Duration,
//! };
//!
//! let (ms, mut air) = (|ms: u32| Duration::from_ticks(ms * 1_000), [0; 64]);
//! let config = ArrivingConfig {
//!     address: 3,
//!     own: OwnNumber::Random(0xA57C_0FFE),
//!     cause: ResetCause::Wake,
//!     fingerprint: 0,
//!     time_out: ms(300),
//!     tries: 3,
//!     span: ms(10_000),
//!     lifetime: ms(500),
//!     jitter_seed: 7,
//! };
//! // The mast wakes: message 7, wind 42.
//! let mut mast = Arriving::<16>::new(&config, &[7, 42]).unwrap();
//! let len = mast.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, ms(0), &mut air).unwrap();
//!
//! // The desk hears it twice, and hands it out once.
//! let mut desk = Arrivals::<8>::new(0, ms(10_000), ms(500));
//! let arrival = Arrival::parse(&air[4..len - 2]).unwrap();
//! assert_eq!((arrival.payload, arrival.cause), (&[7, 42][..], ResetCause::Wake));
//! assert_eq!(desk.handle(3, &arrival, 0), Ok(Fresh::New));
//! let handled = desk.handle(3, &arrival, 0);
//! assert_eq!(handled, Ok(Fresh::Repeat));
//!
//! // And answers; the mast sleeps on.
//! let answer = Arrivals::<8>::answer(&arrival, &handled, false).unwrap();
//! let len = answer.write::<_, Fcs16>(&Datagram, 3, Lead::Delimiter, &mut air);
//! assert!(mast.hear(&air[..len - 2]));
//! assert_eq!(mast.outcome(), Some(ArrivingOutcome::Delivered { more: false }));
//! ```

mod arrivals;
mod arriving;
mod bodies;

pub use arrivals::{Arrivals, Fresh, NotArrived};
pub use arriving::{Arriving, ArrivingConfig, ArrivingOutcome, NotArriving};
pub use bodies::{ARRIVAL_ANSWER_LEN, ARRIVAL_HEAD, Arrival, ArrivalAnswer, Welcomed};

#[cfg(test)]
mod tests;
