//! What the demo says before and after.

use super::settings::{Length, Pace, Settings};
use crate::sim::{Balance, Breach, Counted};
use std::time::Duration;

/// The first lines: that nothing is attached, what is simulated, how to stop.
pub(super) fn preamble(settings: &Settings) -> Vec<String> {
    let Settings { seed, noise_name, .. } = settings;
    let mut lines = vec![
        "demo: NOTHING IS ATTACHED, nothing can move. Simulated in this program is a".to_owned(),
        "backyard observatory: the desk steers the dome and the focuser over noisy UARTs,".to_owned(),
        "and talks by way of a radio board with the mast and the porch, which sleep most".to_owned(),
        "of the time. All run the real link; wires, air, motors and weather are made up.".to_owned(),
        "The log listens at the desk; what a board says of itself stands under 'note'.".to_owned(),
    ];
    lines.push(match (settings.pace, settings.length) {
        (Pace::Real, Length::Once) => "The story takes 30 s. Stop it with Ctrl-C at any time.".to_owned(),
        (Pace::Fast, Length::Once) => "The story of 30 s runs as fast as it can be computed.".to_owned(),
        (_, Length::Endless) => "The story of 30 s is told over and over. Stop it with Ctrl-C.".to_owned(),
    });
    lines.push(format!(
        "Seed {seed}, noise {noise_name}: the same again with demo:seed={seed},noise={noise_name}"
    ));
    lines.push(String::new());
    lines
}

/// The leaves, in the order of the books.
pub(super) const LEAVES: [&str; 4] = ["dome", "focuser", "mast", "porch"];

/// What the books of the run say.
pub(super) struct Account {
    pub(super) lasted: Duration,
    /// Of each leaf: from the desk, and to it.
    pub(super) balances: [[Balance; 2]; LEAVES.len()],
    /// Of the dome's wire: desk to dome, dome to desk.
    pub(super) counted: [Counted; 2],
    pub(super) breaches: Vec<Breach>,
}

/// The last lines: the books, the caution, the next three commands.
pub(super) fn closing(account: &Account) -> Vec<String> {
    let mut lines = vec![
        String::new(),
        format!("Books of the five boards, after {:.1} s:", account.lasted.as_secs_f64()),
        format!("  {:<24}{}", "errands and reports", LEAVES.map(|leaf| format!("{leaf:>13}")).concat()),
        format!("  {:<24}{}", "", ["      to from"; LEAVES.len()].map(|head| format!("{head:>13}")).concat()),
    ];
    let mut row = |what: &str, of: fn(&Balance) -> u64| {
        let cells = account.balances.each_ref().map(|[to, from]| format!("{:>8}{:>5}", of(to), of(from)));
        lines.push(format!("  {what:<24}{}", cells.concat()));
    };
    row("accepted", |balance| balance.accepted);
    row("arrived", |balance| balance.arrived);
    row("delivered", |balance| balance.delivered);
    row("unknown", |balance| balance.unknown);
    row("  of which arrived", |balance| balance.unknown_arrived);
    row("not sent, for certain", |balance| balance.not_sent);
    row("lost with a restart", |balance| balance.lost);
    row("still under way", |balance| balance.open);
    lines.push("The dome's wire:".to_owned());
    let mut row = |what: &str, of: fn(&Counted) -> u64| {
        let [there, back] = account.counted.each_ref().map(of);
        lines.push(format!("  {what:<24}{there:>8}{back:>5}"));
    };
    row("frames given to it", |counted| counted.writes);
    row("  lost whole, on purpose", |counted| counted.lost);
    row("octets spoilt by noise", |counted| {
        counted.dropped + counted.flipped + counted.inserted + counted.spoilt
    });
    row("octets lost in the cut", |counted| counted.cut);
    lines.push(String::new());
    if account.breaches.is_empty() {
        lines.push("What was told delivered did arrive, each message once, errands in order, and".to_owned());
        lines.push("nothing of one session arrived in another.".to_owned());
    } else {
        lines.push("THE BOOKS DO NOT BALANCE. Please report this with the seed:".to_owned());
        lines.extend(account.breaches.iter().take(10).map(|breach| format!("  {breach:?}")));
    }
    lines.extend(CAUTION.lines().map(str::to_owned));
    lines.extend(next(called()));
    lines
}

/// How the user called this program.
fn called() -> &'static str {
    // Cargo sets this variable for what it runs.
    if std::env::var_os("CARGO_MANIFEST_DIR").is_some() { "cargo run --release --" } else { "bellwire" }
}

/// The next three commands.
fn next(called: &str) -> Vec<String> {
    let mut lines = vec![
        String::new(),
        "Next: record it, read the record again, be the desk with the arrow keys".to_owned(),
    ];
    let commands = ["log demo: -o night.pcapng --for 20s", "decode night.pcapng", "steer demo:"];
    lines.extend(commands.map(|command| format!("  {called} {command}")));
    lines
}

const CAUTION: &str = "
Caution: the dome's limit of 500 ms is a functional stop, not an emergency stop.
An emergency stop is a hardware circuit that removes power and does not pass
through this software. Guard moving parts; try with motors disconnected.";

/// The first lines where the user is the desk.
pub(super) fn alone(settings: &Settings) -> Vec<String> {
    vec![
        "demo: NOTHING IS ATTACHED, nothing can move. You are the desk; the dome board,".to_owned(),
        "its motor and the noisy wire to it are simulated in this program.".to_owned(),
        format!("Seed {}, noise {}.", settings.seed, settings.noise_name),
    ]
}
