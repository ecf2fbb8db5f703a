//! `demo:`: the whole observatory in this process, the real core at both ends of every link: the desk with the dome and the focuser on noisy virtual
//! UARTs, and with the mast and the porch, which sleep, by way of a radio board.
//!
//! [`listen`] gives a listener's view of the desk's three ports. [`open`] gives the dome alone, for somebody else to be the desk.

mod alone;
mod seat;
mod settings;
mod show;
mod station;
mod story;
mod words;

use crate::{
    endpoint::{Endpoint, FramingName, LineSettings, PortInfo, Source, Wiring},
    fail::Fail,
};
use settings::Settings;

/// Starts the demo for listening. `settings` is what stands behind `demo:`.
///
/// # Errors
/// Settings that are none.
pub fn listen(settings: &str) -> Result<Box<dyn Source>, Fail> {
    let port = |name: &str, sides: [&str; 2], framing| PortInfo {
        name: format!("demo:{settings} {name}"),
        wiring: Some(Wiring { framing, ..Wiring::default() }),
        sides: Some(sides.map(str::to_owned)),
        ..port(settings)
    };
    let ports = [
        port("dome", ["dome", "desk"], FramingName::Cobs),
        port("focuser", ["focus", "desk"], FramingName::Cobs),
        port("radio board", ["radio", "desk"], FramingName::RadioBoard),
    ];
    Ok(Box::new(show::Show::new(Settings::read(settings)?, ports)))
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
