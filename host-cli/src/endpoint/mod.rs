//! Endpoints: where octets come from and go to. A serial device, a pseudo-terminal of our own, a socket, standard input,
//! a capture file or the demo.

pub mod devices;
pub mod gather;
pub mod item;
pub mod line;
mod live;
pub mod opening;
mod pipe;
pub mod port_info;
mod recording;
pub mod relay;
mod serial;
mod socket;
pub mod source;
pub mod spec;
mod standard;
mod tapped;
mod trouble;
mod twin;
pub mod wiring;

pub use gather::Gather;
pub use item::{Chunk, Direction, Gap, Item, Note};
pub use line::{LineFormat, LineSettings};
pub use opening::{Joined, Loss, OpenOptions, join, listen, open};
pub use port_info::PortInfo;
pub use relay::Delays;
pub use source::{Endpoint, Source};
pub use spec::EndpointSpec;
pub use tapped::Tapped;
pub(crate) use trouble::hindrance;
pub use wiring::{FcsName, FramingName, Wiring};
