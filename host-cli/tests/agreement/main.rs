//! Agreement files: what is read from them, what is wrong with them, and what follows on the wire.

mod faults;
mod golden;
mod schema;
