//! `demo:`: the observatory's desk and dome boards in this process, the real core at both ends of a noisy virtual UART.
//!
//! [`listen`] gives a listener's view of both boards. [`open`] gives the dome alone, for somebody else to be the desk.

use crate::{
    endpoint::{Endpoint, Source},
    exit::Exit,
    fail::Fail,
};

/// Starts the demo for listening. `settings` is what stands behind `demo:`.
///
/// # Errors
/// Settings that are none.
pub fn listen(settings: &str) -> Result<Box<dyn Source>, Fail> {
    let _ = settings;
    Err(Fail::new(Exit::Usage, "the demo is not built yet"))
}

/// Starts the dome alone, in real time, for talking.
///
/// # Errors
/// Settings that are none.
pub fn open(settings: &str) -> Result<Box<dyn Endpoint>, Fail> {
    let _ = settings;
    Err(Fail::new(Exit::Usage, "the demo is not built yet"))
}
