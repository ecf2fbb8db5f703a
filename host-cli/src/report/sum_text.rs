//! The sum as lines for people.

use super::{
    Sum,
    put::{put, seconds},
    words::milliseconds,
};
use bellwire::frame::{Class, Kind, Reject};

const LABEL: usize = 13;

fn line(out: &mut Vec<u8>, label: &str, parts: &[String]) {
    if parts.is_empty() {
        return;
    }
    put(out, &format!("{label:<LABEL$}"));
    let mut column = LABEL;
    for (index, part) in parts.iter().enumerate() {
        let last = index + 1 == parts.len();
        let width = part.chars().count() + usize::from(!last);
        if index > 0 && column + 1 + width > 80 {
            put(out, "\n");
            put(out, &" ".repeat(LABEL));
            column = LABEL;
        } else if index > 0 {
            put(out, " ");
            column += 1;
        }
        put(out, part);
        if !last {
            put(out, ",");
        }
        column += width;
    }
    put(out, "\n");
}

fn some(count: u64, what: &str) -> Option<String> {
    (count > 0).then(|| format!("{count} {what}"))
}

/// Appends the sum.
pub(super) fn write(sum: &Sum, out: &mut Vec<u8>) {
    put(out, "\nSum\n");
    if let Some((first, last)) = sum.span {
        let mut text = Vec::new();
        seconds(&mut text, last.saturating_sub(first), 3);
        line(out, "  time", &[format!("{} s", String::from_utf8_lossy(&text))]);
    }
    let octets = [
        Some(format!("{} in all", sum.octets)),
        some(sum.text_octets, "of foreign text"),
        some(sum.reject_octets, "refused"),
    ];
    line(out, "  octets", &octets.into_iter().flatten().collect::<Vec<_>>());
    let mut kinds =
        vec![if sum.all_frames() == 0 { "none".to_owned() } else { format!("{} in all", sum.all_frames()) }];
    kinds.extend(Kind::ALL.iter().zip(sum.frames).filter_map(|(kind, count)| some(count, kind.name())));
    line(out, "  frames", &kinds);
    let mut rejects = vec![if sum.all_rejects() == 0 {
        "none".to_owned()
    } else {
        format!("{} in all", sum.all_rejects())
    }];
    rejects.extend(
        Reject::ALL
            .iter()
            .zip(sum.rejects)
            .filter_map(|(reject, count)| some(count, &format!("{} ({})", reject.name(), reject.rule()))),
    );
    line(out, "  refused", &rejects);
    for class in Class::ALL {
        let counted = sum.class(class);
        let missing = if class.is_confirmed() {
            "missing (errands and reports share numbers)"
        } else {
            "lost by number"
        };
        if counted.new + counted.resent + counted.missing > 0 {
            let parts = [
                Some(format!("{} new", counted.new)),
                some(counted.resent, "sent again"),
                some(counted.missing, missing),
            ];
            line(out, &format!("  {}", class.name()), &parts.into_iter().flatten().collect::<Vec<_>>());
        }
    }
    links(sum, out);
}

/// What became of messages and links, and how fast.
fn links(sum: &Sum, out: &mut Vec<u8>) {
    let confirmed = [some(sum.delivered, "delivered as seen"), some(sum.given_up, "unknown (given up)")];
    line(out, "  outcomes", &confirmed.into_iter().flatten().collect::<Vec<_>>());
    let links = [
        some(sum.opened, "opened"),
        some(sum.restarts, "restarted"),
        some(sum.other_session, "frames of another session"),
        some(sum.gaps, "gaps in the recording"),
    ];
    line(out, "  links", &links.into_iter().flatten().collect::<Vec<_>>());
    if sum.enclosed > 0 {
        let text =
            format!("{} frames carry datagrams: --framing radio-board shows what is in them", sum.enclosed);
        line(out, "  radio", &[text]);
    }
    if let Some(shown) = sum.shown {
        line(out, "  shown", &[format!("{shown} records passed the filter; the counts above are over all")]);
    }
    if let Some(mean) = sum.round_trip_mean() {
        let mean = milliseconds(mean);
        let (min, max) = (milliseconds(sum.round_trip_min), milliseconds(sum.round_trip_max));
        line(out, "  round trip", &[format!("{mean} mean, {min} to {max} ({} of them)", sum.round_trips)]);
    }
    if let Some(goodput) = sum.goodput() {
        line(out, "  goodput", &[format!("{goodput:.1} payload octets a second (repeats not counted)")]);
    } else if sum.octets > 0 && sum.payload_octets() > 0 {
        let share = sum.payload_octets() as f64 * 100.0 / sum.octets as f64;
        line(out, "  goodput", &[format!("{share:.1} % of the octets are payload (repeats not counted)")]);
    }
}
