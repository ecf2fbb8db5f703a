//! Bodies of the fuzz targets, each with an oracle. The ordinary tests run them on the committed corpus and on random octets.

mod agreement;
mod air;
mod decoder;
mod hub;
mod leaf;
mod link;
mod transfer;

pub use agreement::{agreement, explain, faults_are_clear};
pub use air::air;
pub use decoder::{cobs, datagram, octet_stuffing, slip};
pub use hub::hub;
pub use leaf::leaf;
pub use link::link;
pub use transfer::transfer;

/// A fuzz target: its name, which is also the folder of its corpus, and its body.
pub type Target = (&'static str, fn(&[u8]));

/// All targets.
pub const TARGETS: [Target; 11] = [
    ("cobs", cobs),
    ("octet_stuffing", octet_stuffing),
    ("slip", slip),
    ("datagram", datagram),
    ("link", link),
    ("hub", hub),
    ("leaf", leaf),
    ("transfer", transfer),
    ("air", air),
    ("agreement", agreement),
    ("explain", explain),
];
