//! The sum at the end.

use super::field::{list, string};
use crate::report::{
    Sum,
    put::{decimal, moment, put, seconds},
};
use bellwire::frame::{Class, Kind, Reject};

pub(super) fn write_sum(sum: &Sum, out: &mut Vec<u8>) {
    if let Some((first, last)) = sum.span {
        put(out, ",\"first\":\"");
        moment(out, first);
        put(out, "\",\"last\":\"");
        moment(out, last);
        out.push(b'"');
    }
    number!(out, "octets", sum.octets);
    number!(out, "frames", sum.all_frames());
    key!(out, "kinds");
    let counts = |out: &mut Vec<u8>, (name, count): (&str, u64)| {
        string(out, name.as_bytes());
        out.push(b':');
        decimal(out, count);
    };
    list(out, Kind::ALL.iter().map(|kind| kind.name()).zip(sum.frames), counts);
    number!(out, "rejects", sum.all_rejects());
    key!(out, "reasons");
    let some =
        Reject::ALL.iter().map(|reject| reject.name()).zip(sum.rejects).filter(|(_, count)| *count > 0);
    list(out, some, counts);
    number!(out, "reject_octets", sum.reject_octets);
    number!(out, "text_octets", sum.text_octets);
    key!(out, "classes");
    list(out, Class::ALL.iter().zip(&sum.messages), |out, (class, counted)| {
        string(out, class.name().as_bytes());
        put(out, ":{\"new\":");
        decimal(out, counted.new);
        number!(out, "resent", counted.resent);
        number!(out, "missing", counted.missing);
        number!(out, "octets", counted.octets);
        out.push(b'}');
    });
    number!(out, "delivered", sum.delivered);
    number!(out, "given_up", sum.given_up);
    number!(out, "opened", sum.opened);
    number!(out, "restarts", sum.restarts);
    number!(out, "other_session", sum.other_session);
    number!(out, "gaps", sum.gaps);
    if let Some(shown) = sum.shown {
        number!(out, "shown", shown);
    }
    number!(out, "payload_octets", sum.payload_octets());
    if let Some(goodput) = sum.goodput() {
        key!(out, "goodput");
        put(out, &format!("{goodput:.1}"));
    }
    if let Some(mean) = sum.round_trip_mean() {
        number!(out, "round_trips", sum.round_trips);
        key!(out, "round_trip_mean");
        seconds(out, mean, 9);
        key!(out, "round_trip_min");
        seconds(out, sum.round_trip_min, 9);
        key!(out, "round_trip_max");
        seconds(out, sum.round_trip_max, 9);
    }
}
