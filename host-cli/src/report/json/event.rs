//! What an observer tells.

use super::{
    Json,
    field::{span, string},
};
use crate::report::{Event, What, words};

impl Json {
    pub(super) fn event(&self, event: &Event, out: &mut Vec<u8>) {
        let what = &event.what;
        word!(out, "event", words::event_word(what));
        if let Some(leaf) = event.leaf {
            number!(out, "leaf", leaf);
        }
        match *what {
            What::Opened { session, window, max_payload, identity_in, identity_out } => {
                number!(out, "session", session);
                number!(out, "window", window);
                number!(out, "max_payload", max_payload);
                word!(out, "identity_in", &format!("{identity_in:016x}"));
                word!(out, "identity_out", &format!("{identity_out:016x}"));
            }
            What::Restarted { cause } => word!(out, "cause", cause.reason()),
            What::Differs { fingerprint_in, fingerprint_out, version_in, version_out } => {
                word!(out, "fingerprint_in", &format!("{fingerprint_in:08x}"));
                word!(out, "fingerprint_out", &format!("{fingerprint_out:08x}"));
                number!(out, "version_in", version_in);
                number!(out, "version_out", version_out);
            }
            What::SessionUnseen { session } | What::OtherSession { session } => {
                number!(out, "session", session);
            }
            What::Delivered { class, number, message, sendings, after } => {
                word!(out, "class", class.name());
                number!(out, "number", number);
                self.name(message, out);
                number!(out, "sendings", sendings);
                span(out, after);
            }
            What::Missing { class, first, count } => {
                word!(out, "class", words::missing_class(class));
                number!(out, "first", first);
                number!(out, "count", count);
            }
            What::GivenUp { number, message } => {
                number!(out, "number", number);
                self.name(message, out);
            }
            What::ProbeAnswered { id, after } => {
                number!(out, "id", id);
                span(out, after);
            }
            What::Silent { lasted } => span(out, Some(lasted)),
            What::Ended | What::Own { .. } => {}
        }
        key!(out, "text");
        string(out, words::event(what, &self.table, words::SIDES).as_bytes());
    }

    fn name(&self, message: Option<u16>, out: &mut Vec<u8>) {
        if let Some(number) = message {
            number!(out, "message", number);
            if let Some(kind) = self.table.get(number) {
                key!(out, "name");
                string(out, kind.name.as_bytes());
            }
        }
    }
}
