//! Opening an endpoint by its name.

use super::{Endpoint, EndpointSpec, LineSettings, Source};
use crate::{exit::Exit, fail::Fail};

/// How to open an endpoint.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OpenOptions {
    /// Rate and format for a serial device whose spec names none.
    pub line: LineSettings,
    /// What to do when the endpoint goes away.
    pub loss: Loss,
}

/// What to do when an endpoint goes away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Loss {
    /// Wait until it comes back, and say how long it was away.
    #[default]
    Wait,
    /// Treat it as the end.
    End,
}

/// Opens an endpoint for talking.
///
/// # Errors
/// A [`Fail`] that says what to do: no such device, no permission, busy; or an endpoint that can only be read.
pub fn open(spec: &EndpointSpec, _options: &OpenOptions) -> Result<Box<dyn Endpoint>, Fail> {
    Err(Fail::new(Exit::Unavailable, format!("cannot open {spec} yet")))
}

/// Opens an endpoint for listening only.
///
/// # Errors
/// As [`open`], or a capture file that cannot be read.
pub fn listen(spec: &EndpointSpec, _options: &OpenOptions) -> Result<Box<dyn Source>, Fail> {
    Err(Fail::new(Exit::Unavailable, format!("cannot listen to {spec} yet")))
}
