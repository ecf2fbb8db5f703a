//! Receives only: octet stuffing, FCS, header and rejects. What it finds goes to the board's output.
#![no_std]
#![no_main]

use bellwire::{fcs::Fcs16, frame::{Read, Reader}, framing::{ControlMap, OctetStuffing}};
use bellwire_budgets::board;

static mut READER: Reader<OctetStuffing, Fcs16, 64> = Reader::new(OctetStuffing::new(ControlMap::NONE));

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    board::begin();
    // SAFETY: this is the only reference, and nothing runs beside.
    let reader = unsafe { &mut *(&raw mut READER) };
    loop {
        board::drive(board::now().as_ticks());
        let Some(octet) = board::take() else { continue };
        let mut rest = &[octet][..];
        loop {
            let (taken, read) = reader.feed(rest);
            let (code, octets) = match read {
                Some(Read::Frame(view)) => (view.header.number, view.payload),
                Some(Read::Text(text)) => (0, text),
                Some(Read::Refused { reject, .. }) => (reject.code(), &[][..]),
                None => break,
            };
            board::drive(code.into());
            octets.iter().for_each(|&octet| board::put(octet));
            rest = rest.get(taken..).unwrap_or_default();
            if rest.is_empty() {
                break;
            }
        }
    }
}
