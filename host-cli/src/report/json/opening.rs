//! What an open frame states.

use crate::report::put::put;
use bellwire::frame::Open;

pub(super) fn write_open(open: &Open, out: &mut Vec<u8>) {
    number!(out, "version", open.version);
    let truth = |set: bool| if set { "true" } else { "false" };
    key!(out, "ask");
    put(out, truth(open.ask));
    key!(out, "numberless");
    put(out, truth(open.numberless));
    word!(out, "cause", open.cause.reason());
    number!(out, "mine", open.mine);
    if let Some(echo) = open.echo {
        number!(out, "echo", echo);
    }
    number!(out, "window", open.window);
    number!(out, "max_payload", open.max_payload);
    word!(out, "fingerprint", &format!("{:08x}", open.fingerprint));
    number!(out, "silence_ms", u32::from(open.silence) * 100);
    word!(out, "identity", &format!("{:016x}", open.identity));
}
