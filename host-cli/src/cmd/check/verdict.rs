//! What a check amounts to, and what to look at then.

use super::tally::Tally;
use crate::{
    args::{check::CheckArgs, line::LineArgs},
    endpoint::{EndpointSpec, FramingName},
    exit::Exit,
    talk::wiring_of,
};

/// The five results of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Not one octet.
    Nothing,
    /// Only our own frames came back.
    OwnEcho,
    /// Octets came, but never a valid frame.
    NeverValid,
    /// Valid frames came, but no answer to a probe.
    OneWay,
    /// Probes were answered.
    BothWays,
}

impl Verdict {
    /// All results.
    pub const ALL: [Self; 5] = [Self::Nothing, Self::OwnEcho, Self::NeverValid, Self::OneWay, Self::BothWays];

    /// The word for machines.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::OwnEcho => "own-echo",
            Self::NeverValid => "never-valid",
            Self::OneWay => "one-way",
            Self::BothWays => "both-ways",
        }
    }

    /// The sentence for people.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::Nothing => "nothing received",
            Self::OwnEcho => "only our own octets come back",
            Self::NeverValid => "octets arrive, but never a valid frame",
            Self::OneWay => "valid one way only: we hear the board, it does not answer us",
            Self::BothWays => "valid both ways",
        }
    }

    /// Only both ways is good.
    #[must_use]
    pub const fn exit(self) -> Exit {
        match self {
            Self::BothWays => Exit::Good,
            _ => Exit::NotGood,
        }
    }
}

/// What to look at, most likely first.
#[must_use]
pub fn advice(tally: &Tally, args: &CheckArgs) -> Vec<String> {
    let line = &args.line;
    let mut steps = Vec::new();
    if tally.shared > 0 && tally.ours.is_none() && tally.verdict() != Verdict::BothWays {
        add(&mut steps, &["Others share this medium: name the leaf to probe with --to."]);
    }
    match tally.verdict() {
        Verdict::Nothing if !tally.present => {
            add(
                &mut steps,
                &["The other side was never there: no program opened this end, or nobody connected."],
            );
            return steps;
        }
        Verdict::Nothing | Verdict::OneWay if !is_wired(args) => {
            no_answer(args, &mut steps);
            return steps;
        }
        Verdict::Nothing => nothing(&mut steps),
        Verdict::OwnEcho => own_echo(&mut steps),
        Verdict::NeverValid => never_valid(tally, line, &mut steps),
        Verdict::OneWay => one_way(&mut steps),
        Verdict::BothWays => both_ways(tally, &mut steps),
    }
    if tally.verdict() != Verdict::BothWays {
        add(
            &mut steps,
            &[
                "Voltages cannot be seen from here: measure them before joining wires. A 5 V output can destroy a 3.3 V input. \
             Switch off before rewiring, and join the grounds first.",
            ],
        );
    }
    steps
}

/// Whether wires to a board may hang on it.
fn is_wired(args: &CheckArgs) -> bool {
    let framing = wiring_of(&args.endpoint, &args.line).framing;
    matches!(args.endpoint, EndpointSpec::Path { .. } | EndpointSpec::Twin { .. }) && !framing.is_unordered()
}

/// No answer where there are no wires to look at.
fn no_answer(args: &CheckArgs, steps: &mut Vec<String>) {
    let framing = wiring_of(&args.endpoint, &args.line).framing;
    if framing == FramingName::RadioBoard {
        add(
            steps,
            &[
                "Does the radio board send? `bellwire log` shows what it hears, what it sent and what it could not send. Nothing at all: its wires, its power, its rate.",
                "Is the leaf in range, powered, on the same channel and settings? One that sleeps answers no probe: it speaks first.",
            ],
        );
    } else {
        add(
            steps,
            &[
                "Does the program at the other end run, and do both sides name each other's port? A firewall may be in the way.",
            ],
        );
    }
    let named = if args.to.is_some() {
        "Is that its address? `bellwire roster` shows who is heard. Without --to if it is the only board on the line."
    } else {
        "On a shared medium a leaf answers only to its address: --to."
    };
    add(steps, &[named]);
}

fn add(steps: &mut Vec<String>, more: &[&str]) {
    steps.extend(more.iter().map(|&step| step.to_owned()));
}

fn nothing(steps: &mut Vec<String>) {
    add(
        steps,
        &[
            "Is the board powered, and does its program answer? Reset it and watch with `bellwire log`.",
            "Is this the right port? `bellwire ports` lists them.",
            "Each side's TX goes to the other's RX. If both idle high and nothing comes, swap the two data wires.",
            "Test this side alone: take the board off, bridge TX and RX at the plug and check again. Our own octets must come \
         back; if not, the fault is in the adapter or its cable.",
            "It may also be half a line: the board hears us, but the wire from its TX is open or the pin is set up wrong.",
        ],
    );
}

fn own_echo(steps: &mut Vec<String>) {
    add(
        steps,
        &[
            "TX and RX touch somewhere, or a bridge from an earlier test is still in place.",
            "On a half-duplex bus the receiver hears its own sender: switch it off while sending, or look why nobody else answers.",
            "Is the board on the line at all, powered, with its program running?",
        ],
    );
}

fn never_valid(tally: &Tally, line: &LineArgs, steps: &mut Vec<String>) {
    if tally.text_octets > 0 {
        add(
            steps,
            &[
                "There is plain text on the line: a boot message, a login console or an interpreter. Stop that program on this \
             line, or use another UART.",
            ],
        );
    }
    if tally.only(0) {
        add(
            steps,
            &[
                "Only zeros: the line is held low. Take our TX off the board: still zeros? Then RX is shorted, or pulled down by a \
             board without power. If not, the levels are inverted (RS-232 against logic) or our rate is ten times too high.",
            ],
        );
    } else if let Some(ratio) = tally.rate_ratio() {
        steps.push(format!(
            "The octets look as if our rate were {ratio} times the board's: try --rate {}.",
            line.settings().rate / ratio
        ));
    } else if tally.only(0xFF) {
        add(
            steps,
            &[
                "Only 0xFF: our rate may be far too low, or RX is not connected and floats. Try a higher --rate.",
            ],
        );
    }
    add(
        steps,
        &[
            "Is the rate the same on both sides? An odd divider on the board can be 3 % off; a check at a quarter of the rate \
         shows whether it is the clock.",
            "Is the format the same (8 data bits, parity, stop bits), and are --framing, --map and --fcs?",
            "Are the grounds joined? Without a common ground a line can almost work, and worse when motors run.",
        ],
    );
}

fn one_way(steps: &mut Vec<String>) {
    add(
        steps,
        &[
            "The wire from our TX to the board's RX is open or on the wrong pin.",
            "Is the board's receiver switched on? Does its flow control hold it back (CTS low)?",
            "A 5 V board may not take our 3.3 V as high: it needs 3.5 V if its input is plain CMOS.",
            "On a half-duplex bus: does the board release the line before we speak?",
            "If only the board's program ignores us: does it serve its link often enough?",
        ],
    );
}

fn both_ways(tally: &Tally, steps: &mut Vec<String>) {
    let [(short_lost, short), (long_lost, long)] = tally.lost_by_length(16);
    let loss = short_lost + long_lost;
    if tally.echoes > 0 {
        add(steps, &["Our own octets come back too. That is normal on a half-duplex bus only."]);
    }
    if loss == 0 {
        return;
    }
    if long_lost * short > 2 * short_lost * long && long_lost > 2 {
        add(
            steps,
            &[
                "Long frames are lost more often than short ones: a clock that is 4 to 5 % off, or a receive buffer on the board \
             that overflows.",
            ],
        );
    }
    add(
        steps,
        &[
            "Repeat with motors off, and at a quarter of the rate. If that helps, it is noise, ground or the clock.",
            "Does the board serve its link often enough? Its receive buffer must hold what comes between two visits.",
        ],
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_both_ways_is_good() {
        for verdict in Verdict::ALL {
            assert_eq!(verdict.exit() == Exit::Good, verdict == Verdict::BothWays);
        }
    }
}
