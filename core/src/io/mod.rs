//! Adapters: what carries octets or datagrams, behind two small traits of our own.
//!
//! [`Line`] is an octet stream that never waits; [`Datagram`] is a radio or socket that carries whole frames, and [`Whole`] makes a
//! line of it. A [`Port`](crate::port::Port) serves either. Adapters for the trait crates of the embedded world stand behind features that name the
//! version, so that two versions can live in one program:
//!
//! | feature | module | for |
//! |---|---|---|
//! | `embedded-io-06`, `embedded-io-07` | `embedded_io_06`, `embedded_io_07` | drivers that can say whether they are ready |
//! | `embedded-io-async-06`, `embedded-io-async-07` | `embedded_io_async_06`, `embedded_io_async_07` | async drivers; cancel-safe |
//! | `std` | `std` | streams and UDP sockets of a computer |
//!
//! [`Stamped`] takes octets that the receive interrupt has stamped: the best choice where set-points move something. [`Memory`] is a line
//! without a wire, for tests and lessons.

mod datagram;
mod line;
mod memory;
mod stamped;

pub use datagram::{Datagram, Medium, Received, Whole};
pub use line::{Line, Taken};
pub use memory::{Full, Memory};
pub use stamped::Stamped;

#[cfg(any(feature = "embedded-io-async-06", feature = "embedded-io-async-07"))]
mod awaited;
#[cfg(any(feature = "embedded-io-06", feature = "embedded-io-07"))]
mod ready;
#[cfg(feature = "std")]
pub mod std;

#[cfg(feature = "embedded-io-06")]
ready::adapters!(embedded_io_06, embedded_io_06, "0.6");
#[cfg(feature = "embedded-io-07")]
ready::adapters!(embedded_io_07, embedded_io_07, "0.7");
#[cfg(feature = "embedded-io-async-06")]
awaited::adapter!(embedded_io_async_06, embedded_io_async_06, "0.6");
#[cfg(feature = "embedded-io-async-07")]
awaited::adapter!(embedded_io_async_07, embedded_io_async_07, "0.7");

#[cfg(test)]
mod tests;
