//! What an OPEN and an acknowledgement say, in words.

use crate::messages::Table;
use bellwire::frame::{Ack, Open};
use std::fmt::Write;

pub(in crate::report) fn describe_open(open: &Open, table: &Table) -> String {
    let mut text = format!("{}: own number {:08x}", if open.ask { "asks" } else { "answers" }, open.mine);
    if let Some(echo) = open.echo {
        let _ = write!(text, ", heard {echo:08x}");
    }
    if open.version != bellwire::frame::WIRE_VERSION {
        let _ = write!(text, ", wire version {}", open.version);
        return text;
    }
    // Who answers has said all this before.
    if open.ask {
        let _ = write!(text, ", window {}, payload up to {}", open.window, open.max_payload);
        if open.fingerprint != 0 {
            let _ = write!(text, ", agreement {}", table.called(open.fingerprint));
        }
        if open.identity != 0 {
            let _ = write!(text, ", identity {:016x}", open.identity);
        }
        let _ = write!(text, ", started: {}", open.cause.reason());
    }
    text
}

pub(super) fn describe_ack(ack: Ack) -> String {
    let mut text = format!("waits for {}", ack.next);
    if let Some(held) = ack.held.filter(|held| held & 0x7F != 0) {
        text.push_str(", holds");
        for bit in (0..7).filter(|bit| held >> bit & 1 == 1) {
            let _ = write!(text, " {}", ack.next.wrapping_add(1).wrapping_add(bit));
        }
    }
    text
}
