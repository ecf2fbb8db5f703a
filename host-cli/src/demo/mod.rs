//! `demo:`: the observatory's desk and dome boards in this process, the real core at both ends of a noisy virtual UART.
//!
//! [`listen`] gives a listener's view of both boards. [`open`] gives the dome alone, for somebody else to be the desk.

mod alone;
mod settings;
mod show;
mod station;
mod story;
mod words;

use crate::{
    endpoint::{Endpoint, LineSettings, PortInfo, Source, Wiring},
    fail::Fail,
};
use settings::Settings;

/// Starts the demo for listening. `settings` is what stands behind `demo:`.
///
/// # Errors
/// Settings that are none.
pub fn listen(settings: &str) -> Result<Box<dyn Source>, Fail> {
    Ok(Box::new(show::Show::new(Settings::read(settings)?, port(settings))))
}

/// Starts the dome alone, in real time, for talking.
///
/// # Errors
/// Settings that are none.
pub fn open(settings: &str) -> Result<Box<dyn Endpoint>, Fail> {
    Ok(Box::new(alone::Alone::new(Settings::read(settings)?, port(settings))))
}

fn port(settings: &str) -> PortInfo {
    PortInfo {
        line: Some(LineSettings::default()),
        wiring: Some(Wiring::default()),
        ..PortInfo::named(format!("demo:{settings}"))
    }
}
