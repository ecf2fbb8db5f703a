//! The log of a role, for whoever writes it: over defmt with the feature `defmt`, and otherwise nothing that is left in an image.

/// Logs a line; its place-holders are those of defmt.
macro_rules! log {
    ($text:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        // Not a level, which would be switched off by default.
        defmt::println!($text $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        {
            $(let _ = &$value;)*
        }
    }};
}

pub(crate) use log;
