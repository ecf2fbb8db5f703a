//! Endpoints: where octets come from and go to. A serial device, a pseudo-terminal of our own, a socket, standard input,
//! a capture file or the demo.

pub mod item;
pub mod line;
pub mod opening;
pub mod port_info;
pub mod source;
pub mod spec;
pub mod wiring;

pub use item::{Chunk, Direction, Gap, Item, Note};
pub use line::{LineFormat, LineSettings};
pub use opening::{Loss, OpenOptions, listen, open};
pub use port_info::PortInfo;
pub use source::{Endpoint, Source};
pub use spec::EndpointSpec;
pub use wiring::{FcsName, FramingName, Wiring};
