//! Runs one contender a number of times, for counting its instructions with callgrind; `tests/instructions` does that and
//! prints the table.
//!
//! `instructions CONTENDER KIND SIZE COUNT`; without arguments (as `cargo bench` runs it) one of each, to see that they work.

#[allow(missing_docs)]
mod common;

use std::hint::black_box;

fn run(name: &str, kind: &str, size: usize, count: usize) -> usize {
    let (mut contender, inputs) = common::contender(name, &common::payloads(kind, size, 64));
    let mut sum = 0_usize;
    for input in inputs.iter().cycle().take(count) {
        sum = sum.wrapping_add(contender(black_box(input)));
    }
    black_box(sum)
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    if let [name, kind, size, count] = &arguments[..] {
        let (Ok(size), Ok(count)) = (size.parse(), count.parse()) else {
            panic!("SIZE and COUNT are numbers")
        };
        run(name, kind, size, count);
        return;
    }
    println!("counts need callgrind: run tests/instructions");
    for kind in common::KINDS {
        let all: Vec<u8> = common::payloads(kind, 16, 4096).concat();
        let zeros = all.iter().filter(|&&octet| octet == 0).count();
        println!("{kind}: {:.1} % zero octets", zeros as f64 * 100.0 / all.len() as f64);
    }
}
