//! Two links over a hostile line, driven by a list of operations (written once the link is there).

/// Not yet: takes any input.
pub fn link(data: &[u8]) {
    let _ = data;
}
