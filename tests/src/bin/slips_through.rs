//! Prints what slips through, as tables: `slips_through [FRAMES] [SAMPLES]` (100 and 20 000 if not given). `BELLWIRE_SEED` as in the tests.

use bellwire_tests::{
    seed,
    slips::{Budget, Count, DAMAGE, LINES, measure},
};

#[allow(clippy::cast_precision_loss)]
fn cell(count: Count) -> String {
    let (low, high) = count.bounds();
    let Count { accepted, trials } = count;
    match accepted {
        _ if trials <= 64 => format!("{accepted} of {trials}"),
        0 => format!("0 of {:.2e} (< {high:.1e})", trials as f64),
        _ => format!("{accepted} of {:.2e} ({low:.1e} to {high:.1e})", trials as f64),
    }
}

fn main() {
    let mut args = std::env::args().skip(1).map(|text| text.parse().expect("a number"));
    let budget = Budget { frames: args.next().unwrap_or(100), samples: args.next().unwrap_or(20_000) };
    let seed = seed("slips_through");
    println!("seed {:#018x}; {budget:?}", seed.value());
    for (half, fcs) in LINES.chunks(4).zip([16, 32]) {
        println!("\nFCS of {fcs} bits; 2^-{fcs} = {:.1e}\n", 0.5_f64.powi(fcs));
        let tallies: Vec<_> = half.iter().map(|line| measure(*line, budget, &seed)).collect();
        println!("| damage | COBS | octet stuffing | SLIP | datagram |\n|---|---|---|---|---|");
        for (kind, words) in DAMAGE.iter().enumerate() {
            let cells: Vec<_> = tallies.iter().map(|tally| cell(tally[kind])).collect();
            println!("| {words} | {} |", cells.join(" | "));
        }
    }
}
