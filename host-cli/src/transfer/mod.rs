//! Long transfers between files: the core's sender and receiver (W-52 to W-57) over an endpoint, without a session.

mod gauge;
mod lane;
mod partial;

pub use gauge::Gauge;
pub use lane::Lane;
pub use partial::Partial;

/// Octets in words: `12 octets`, `3.4 KiB`, `1.0 MiB`.
#[must_use]
pub fn octets(count: u64) -> String {
    match count {
        0..1024 => format!("{count} octets"),
        1024..1_048_576 => format!("{:.1} KiB", count as f64 / 1024.0),
        _ => format!("{:.1} MiB", count as f64 / 1_048_576.0),
    }
}
