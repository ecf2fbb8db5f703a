//! Octets: what a leaf costs, and a whole hub.

use crate::{
    fcs::Fcs16,
    framing::{Cobs, Datagram},
    star::Hub,
};
use std::println;

/// All that grows with a leaf: its lane, its place in the timing wheel and in the ring.
#[test]
fn a_leaf_costs_64_octets_and_a_hub_of_eight_fits_4_kib() {
    let wire = size_of::<Hub<Cobs, Fcs16, 249, 16, 64>>() - size_of::<Hub<Cobs, Fcs16, 1, 16, 64>>();
    let radio = size_of::<Hub<Datagram, Fcs16, 249, 16, 64>>() - size_of::<Hub<Datagram, Fcs16, 1, 16, 64>>();
    let eight = [size_of::<Hub<Cobs, Fcs16, 8, 16, 64>>(), size_of::<Hub<Datagram, Fcs16, 8, 16, 64>>()];
    println!("a leaf: {} octets; a hub of 8: {eight:?}", wire / 248);
    assert_eq!((wire, radio), (248 * 64, 248 * 64));
    assert!(eight.iter().all(|&octets| octets <= 4_096), "{eight:?}");
}
