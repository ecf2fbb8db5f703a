//! The dome on the other machines: what it does on an M0-class board it does there.

use super::{BAUD, Bench, line, motion};
use crate::emulated::{board::Machine, wire};

pub(super) fn m3(bench: &Bench) -> String {
    on(bench, Machine::Lm3s)
}

pub(super) fn riscv(bench: &Bench) -> String {
    on(bench, Machine::Virt)
}

/// A conversation, and with a fresh board the wire cut while the motor turns.
fn on(bench: &Bench, machine: Machine) -> String {
    let bed = |name: &str| {
        let folder = bench.folder.join(name);
        std::fs::create_dir(&folder).expect("a folder");
        let bench = Bench { images: bench.images.clone(), folder, seed: bench.seed };
        bench.lay_on(machine, "dome", motion::COUNTED, &[], &wire::uart(BAUD))
    };
    let talker = bed("talk");
    let talked = line::talk(&talker, &mut talker.desk());
    drop(talker);
    let cut = bed("cut");
    let stop = motion::cut_and_mend(&cut, &mut cut.desk());
    format!("{talked}; cut: stop {} µs after the last set-point", stop.at - stop.newest)
}
