//! Prints what slips through, as tables.
//!
//! ```text
//! slips_through [TRIALS] [WORD]
//! ```
//!
//! TRIALS of each kind of damage in each column (1 000 000 if not given); only kinds of damage with WORD in their name. `BELLWIRE_SEED` as in
//! the tests, `BELLWIRE_THREADS` for fewer threads than processors.

use bellwire_tests::{
    seed,
    slips::{COLUMNS, Column, Count, DAMAGE, measure},
};

#[allow(clippy::cast_precision_loss)]
fn cell(count: Count) -> String {
    let (low, high) = count.bounds();
    let Count { accepted, trials } = count;
    match accepted {
        _ if trials <= 128 => format!("{accepted} of {trials}"),
        0 => format!("0 of {:.2e} (< {high:.1e})", trials as f64),
        _ => format!("{accepted} of {:.2e} ({low:.1e} to {high:.1e})", trials as f64),
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let trials = args.next().map_or(1_000_000, |text| text.parse().expect("TRIALS: a number"));
    let word = args.next().unwrap_or_default();
    let threads = bellwire_tests::threads();
    let seed = seed("slips_through");
    println!("seed {:#018x}; {trials} trials; 2^-16 = 1.5e-5, 2^-32 = 2.3e-10", seed.value());
    let tables: [&[Column]; 3] = [&COLUMNS[..4], &COLUMNS[4..8], &COLUMNS[8..]];
    for columns in tables {
        let heads: Vec<_> = columns.iter().map(|column| column.name).collect();
        println!("\n| damage | {} |\n|---{}|", heads.join(" | "), "|---".repeat(heads.len()));
        for (words, damage) in DAMAGE.into_iter().filter(|(words, _)| words.contains(&word)) {
            let cells: Vec<_> =
                columns.iter().map(|column| cell(measure(*column, damage, trials, threads, &seed))).collect();
            println!("| {words} | {} |", cells.join(" | "));
        }
    }
}
