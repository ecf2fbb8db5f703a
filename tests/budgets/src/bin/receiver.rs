//! Receives set-points through a dead-man, and nothing else: no session, no answer. Octet stuffing, as the listener.
#![no_std]
#![no_main]

use bellwire::{
    fcs::Fcs16,
    frame::{Kind, Read, Reader},
    framing::{ControlMap, OctetStuffing},
    setpoint::{DeadMan, Stop},
    time::Duration,
};
use bellwire_budgets::board;

/// The set-point of this image: message number 1, then a rate.
fn rate(payload: &[u8]) -> Option<i16> {
    match *payload {
        [1, low, high] => Some(i16::from_le_bytes([low, high])),
        _ => None,
    }
}

static mut READER: Reader<OctetStuffing, Fcs16, 64> = Reader::new(OctetStuffing::new(ControlMap::NONE));

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    board::begin();
    // SAFETY: this is the only reference, and nothing runs beside.
    let reader = unsafe { &mut *(&raw mut READER) };
    let mut dead_man = DeadMan::new(0_i16, Duration::from_ticks(500_000), Stop::Brake);
    loop {
        let now = board::now();
        board::drive(dead_man.output(now) as u32);
        if dead_man.check(now).is_some() {
            board::drive(1 << 16);
        }
        let Some(octet) = board::take() else { continue };
        let mut rest = &[octet][..];
        loop {
            let (taken, read) = reader.feed(rest);
            match read {
                Some(Read::Frame(view)) if view.header.kind == Kind::SetPoint => {
                    if let Some(rate) = rate(view.payload) {
                        dead_man.handle_set_point(rate, now);
                    }
                }
                Some(Read::Frame(view)) if view.header.kind == Kind::Errand && view.payload == [2] => {
                    let _ = dead_man.rearm(now);
                }
                Some(Read::Refused { reject, .. }) => board::drive(reject.code().into()),
                _ => {}
            }
            rest = rest.get(taken..).unwrap_or_default();
            if rest.is_empty() {
                break;
            }
        }
    }
}
