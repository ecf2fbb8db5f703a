//! Captures: raw octets with time and direction in pcapng files (draft-ietf-opsawg-pcapng), as `host-cli/CAPTURE.md` says.

pub mod block;
pub mod comment;
pub mod reader;
pub mod recorded;
pub mod recorder;
pub mod tail;
pub mod unit;
pub mod writer;

pub use block::{LINK_TYPE, is_capture, is_older_capture};
pub use reader::{MOST_PORTS, Reader, Record};
pub use recorded::Recorded;
pub use recorder::{Existing, Recorder};
pub use tail::Tail;
pub use writer::Writer;
