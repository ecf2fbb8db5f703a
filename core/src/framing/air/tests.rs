//! What stands around the parts of a frame, and the reasons by number.

use super::*;
use std::vec;

/// However a frame is cut into parts, it is the same on the UART; five parts do not fit.
#[test]
fn a_frame_is_the_same_in_any_number_of_parts() {
    let whole = *b"focuser!";
    let enclosed = |parts: &[&[u8]]| {
        let mut out = vec![0; 40];
        enclose(&SEND, parts, Lead::Delimiter, &mut out).map(|len| out[..len].to_vec())
    };
    let wanted = enclosed(&[&whole]).expect("room");
    for cuts in 2..=4 {
        let parts: vec::Vec<&[u8]> = whole.chunks(whole.len().div_ceil(cuts)).collect();
        assert_eq!(enclosed(&parts).as_ref(), Ok(&wanted), "{cuts} parts");
    }
    assert_eq!(enclosed(&[]), enclosed(&[&[][..]]));
    assert!(enclosed(&[]).is_ok());
    assert_eq!(enclosed(&[&[][..]; 5]), Err(NoRoom));
}

#[test]
fn reasons_have_the_numbers_of_w63() {
    let why = [NotSent::Other, NotSent::Busy, NotSent::Airtime, NotSent::TooLong, NotSent::Broken];
    for (octet, why) in (0..).zip(why) {
        assert_eq!((NotSent::from_octet(octet), why as u8), (Some(why), octet));
    }
    assert_eq!(NotSent::from_octet(5), None);
}
