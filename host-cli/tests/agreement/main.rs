//! Agreement files: what is read from them, what is wrong with them, and what follows on the wire.

mod commands;
mod comparing;
mod faults;
mod generating;
mod golden;
mod schema;
