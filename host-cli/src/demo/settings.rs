//! What may stand behind `demo:`.

use crate::{
    exit::Exit,
    fail::Fail,
    sim::{Faults, Seed, profile},
};

/// How the demo's time passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Pace {
    /// As on a real line.
    Real,
    /// As fast as it can be computed; times begin at the first second of 2026, so that two runs are the same to the octet.
    Fast,
}

/// How long the demo goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Length {
    /// Its story, once.
    Once,
    /// Its story over and over.
    Endless,
}

/// What stands behind `demo:`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settings {
    pub(super) seed: Seed,
    pub(super) pace: Pace,
    pub(super) length: Length,
    pub(super) noise: Faults,
    pub(super) noise_name: &'static str,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            seed: Seed(7),
            pace: Pace::Real,
            length: Length::Once,
            noise: profile::BENCH,
            noise_name: "bench",
        }
    }
}

const FORMS: &str = "demo: takes seed=NUMBER, noise=clean|bench|motor, fast and endless, joined by commas";

impl Settings {
    /// Reads `seed=8,noise=motor,fast`; a leading `?` and `&` for the comma are taken too.
    pub(super) fn read(text: &str) -> Result<Self, Fail> {
        let mut settings = Self::default();
        let words = text.strip_prefix('?').unwrap_or(text).split([',', '&']).filter(|word| !word.is_empty());
        for word in words {
            let wrong = |what: &str| {
                Err(Fail::new(Exit::Usage, format!("{what}: {word}")).at(format!("demo:{text}")).next(FORMS))
            };
            match word.split_once('=') {
                Some(("seed", number)) => match number.parse() {
                    Ok(number) => settings.seed = Seed(number),
                    Err(_) => return wrong("a seed is a whole number from 0 to 18446744073709551615"),
                },
                Some(("noise", name)) => {
                    match ["clean", "bench", "motor"].iter().find(|known| **known == name) {
                        Some(name) => {
                            settings.noise_name = name;
                            settings.noise = profile::named(name).unwrap_or(Faults::NONE);
                        }
                        None => return wrong("no such noise"),
                    }
                }
                None if word == "fast" => settings.pace = Pace::Fast,
                None if word == "endless" => settings.length = Length::Endless,
                _ => return wrong("no such setting of the demo"),
            }
        }
        Ok(settings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_are_read_and_nonsense_is_refused() {
        assert_eq!(Settings::read("").unwrap(), Settings::default());
        let settings = Settings::read("?seed=18446744073709551615&fast").unwrap();
        assert_eq!((settings.seed, settings.pace), (Seed(u64::MAX), Pace::Fast));
        let settings = Settings::read("noise=motor,endless").unwrap();
        assert_eq!((settings.noise_name, settings.length), ("motor", Length::Endless));
        for text in ["seed", "seed=", "seed=-1", "seed=x", "noise=hostile", "speed=2", "fast=1", "quick"] {
            assert_eq!(Settings::read(text).unwrap_err().exit(), Exit::Usage, "{text}");
        }
    }
}
