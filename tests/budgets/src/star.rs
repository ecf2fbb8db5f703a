//! The hub of the images.

use bellwire::{fcs::Fcs16, framing::Cobs, star::Hub};

/// Eight leaves, sixteen frames of 64 octets for all of them together.
pub type Desk = Hub<Cobs, Fcs16, 8, 16, 64>;
