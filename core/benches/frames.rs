//! Times of building, checking and pushing frames and of COBS alone, beside the usual crates in the same run.
//!
//! Read them as ratios: the same code differs by a third between binaries. The counts of `tests/instructions` repeat.

#[allow(missing_docs)]
mod common;

use divan::Bencher;

fn main() {
    divan::main();
}

fn run(bencher: Bencher<'_, '_>, name: &str, kind: &str, size: usize) {
    let count = (256 << 10) / (size + 4);
    let (mut contender, inputs) = common::contender(name, &common::payloads(kind, size, count));
    let mut inputs = inputs.iter().cycle();
    bencher.bench_local(move || contender(divan::black_box(inputs.next().map_or(&[][..], |input| input))));
}

/// Whole frames with a 16-octet payload of packed telemetry.
#[divan::bench(args = ["build", "build crates", "check", "check crates", "push", "push cobs", "push corncobs"])]
fn frame(bencher: Bencher<'_, '_>, name: &str) {
    run(bencher, name, "telem", 16);
}

/// COBS alone.
#[divan::bench(
    args = ["encode", "encode cobs", "encode corncobs", "decode", "decode cobs", "decode corncobs"],
    consts = common::SIZES,
)]
fn telem<const SIZE: usize>(bencher: Bencher<'_, '_>, name: &str) {
    run(bencher, name, "telem", SIZE);
}

/// A recording of 4 to 32 octets of telemetry a frame, to a count.
#[divan::bench(args = ["count", "count crates"])]
fn recording(bencher: Bencher<'_, '_>, name: &str) {
    let recording = common::recording(200_000);
    let count = if name == "count" { common::count } else { common::count_with_crates };
    assert_eq!(common::count(&recording), common::count_with_crates(&recording));
    bencher
        .counter(divan::counter::BytesCount::new(recording.len()))
        .bench(|| count(divan::black_box(&recording)));
}
