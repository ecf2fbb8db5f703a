//! The same role on a board and on this computer, fed the same octets at the same times: every octet that comes back must be the same.

use std::{
    collections::BTreeSet,
    time::{Duration, Instant},
};

use parts::Uart;
use roles::{
    Dome, Focuser, Mechanics,
    mirror::{OUTPUTS, Reflected},
};

use super::Bench;
use crate::{
    emulated::{
        board::{Board, Clock, HANGS, Machine, Start},
        end::{End, Heard},
        recording::{Recording, Told, record},
    },
    seed::seed,
};

pub(super) fn dome(bench: &Bench) -> String {
    play::<(Dome<Uart>, Mechanics)>(bench, "mirror-dome", b"d")
}

pub(super) fn focuser(bench: &Bench) -> String {
    play::<Focuser<Uart>>(bench, "mirror-focuser", b"f")
}

fn play<R: Reflected>(bench: &Bench, name: &str, role: &[u8]) -> String {
    let recording = record::<R>(seed(name).rng());
    let Recording { steps, wire } = &recording;
    let lively: BTreeSet<&[u8]> = steps.iter().filter_map(outputs).collect();
    assert!(
        wire.heard > 3_000 && wire.sent > 3_000 && wire.damaged > 50 && wire.cuts > 2 && wire.starts > 2,
        "a recording in which little happens: {wire:?}"
    );
    assert!(lively.len() > 20, "the outputs do {} different things only", lively.len());
    let image = bench.images.join("mirror");
    let start = Start {
        name: "mirror",
        machine: Machine::Microbit,
        image: &image,
        uarts: 1,
        clock: Clock::Wall,
        script: &[],
    };
    let (board, ends) = start.run(&bench.folder).expect("the emulator starts");
    let mut end = ends.into_iter().next().expect("one UART");
    assert_eq!(end.write(role), 1);
    let mut rest = &steps[..];
    while !rest.is_empty() {
        let (batch, later) = rest.split_at(batch(rest));
        rest = later;
        let told: Vec<u8> = batch.iter().flat_map(|step| step.octets.clone()).collect();
        assert_eq!(end.write(&told), told.len(), "the board takes what it is told");
        for step in batch {
            let answer = read(&mut end, step, &board);
            assert!(
                answer == step.answer,
                "at {} µs the board answers {answer:02X?}, here it is {:02X?}",
                step.at,
                step.answer
            );
        }
    }
    let turns = steps.iter().filter(|step| step.answer.len() > OUTPUTS).count();
    format!(
        "{} octets in, {} back, the same, in {turns} turns; {} damaged, {} cuts, {} starts",
        wire.heard, wire.sent, wire.damaged, wire.cuts, wire.starts
    )
}

/// What moved in a turn: rate, shutter and dead-man of the dome, the position of the focuser.
fn outputs(step: &Told) -> Option<&[u8]> {
    step.answer.last_chunk::<OUTPUTS>().and_then(|it| it.get(..4))
}

/// How many steps the board is told at once: its UART has room for them, and the emulator's socket for the answers. (Where the socket is full,
/// the emulated transmitter sends the octet later, but without the interrupt that it is sent.)
fn batch(steps: &[Told]) -> usize {
    let (mut told, mut answered) = (0, 0);
    let fits = steps.iter().take_while(|step| {
        told += step.octets.len();
        answered += step.answer.len();
        told <= 240 && answered <= 140
    });
    fits.count().max(1)
}

/// Reads as much as the step's answer has. Where the board answers with fewer octets, the next answer shows it; the last one hangs.
fn read(end: &mut End, step: &Told, board: &Board) -> Vec<u8> {
    let (mut all, mut buffer) = (Vec::new(), [0; 256]);
    let until = Instant::now() + HANGS;
    while all.len() < step.answer.len() {
        match end.read(&mut buffer[..step.answer.len() - all.len()]) {
            Heard::Octets(len) => all.extend_from_slice(&buffer[..len]),
            Heard::Nothing => {
                assert!(
                    Instant::now() < until,
                    "at {} µs: {all:02X?} and no more\n{}",
                    step.at,
                    board.said()
                );
                std::thread::sleep(Duration::from_micros(50));
            }
            Heard::Nobody => panic!("at {} µs: the board is gone\n{}", step.at, board.said()),
        }
    }
    all
}
