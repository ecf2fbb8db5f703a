//! The host tool of Bellwire, as a library so that tests run it in process.
pub mod endpoint;
