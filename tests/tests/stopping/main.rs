//! The dead-man across the star: whatever happens to the desk, the radio, the hand box or a board's program, each mover stops by itself one freshness limit after the last
//! set-point that it accepted, at the millisecond, and nothing but a stop value and then an operator's act lets it move again.
//!
//! A freshness limit is a functional stop, no emergency stop: that is a hardware circuit that removes power and does not pass through this software.

mod machine;
mod mover;

use bellwire::{
    framing::{Cobs, Datagram, Framing},
    setpoint::RearmError,
};
use machine::{DOME, FOCUSER, Faults, HAND, LIFETIME, MS, Machine, WAY};
use mover::LIMIT;

const MOVERS: [usize; 2] = [DOME, FOCUSER];
const COPIES: Faults = Faults { lost: 10, doubled: 40, late: 60 };

/// A machine that moves: everybody is up, the lever was at the stop value, the operator has re-armed both movers, and the lever is at 40.
fn moving<F: Framing>(framing: F, name: &str, to_all: bool, faults: Faults) -> Machine<F> {
    let mut machine = Machine::new(framing, name, true);
    machine.to_all = to_all;
    machine.run(3_000);
    machine.faults = faults;
    move_again(&mut machine);
    machine
}

/// The lever to the stop value, the operator's act on both movers, the lever to 40.
fn move_again<F: Framing>(machine: &mut Machine<F>) {
    machine.lever = Some(0);
    machine.run(1_000);
    let now = machine.now;
    for mover in MOVERS {
        assert_eq!(machine.mover(mover).rearm(now), Ok(()));
    }
    machine.lever = Some(40);
    machine.run(400);
    for mover in MOVERS {
        assert_eq!(machine.mover(mover).motor, 40, "it moves");
    }
}

/// Something has just happened that ends the set-points: both movers stop, at the latest one limit after the last frame that was on its way then has arrived; for ever, although the
/// lever stays at 40. That each stops exactly one limit after the last set-point that it accepted, the witness in the mover holds at every step.
fn stops<F: Framing>(machine: &mut Machine<F>, longest_way: u32) {
    let began = machine.now;
    machine.run(5_000);
    for mover in MOVERS {
        let moved = machine.mover(mover).moved.expect("it moved");
        assert!(moved < began + longest_way + LIMIT, "{} us too long", moved - began);
        assert_eq!(machine.mover(mover).motor, 0);
    }
}

/// Everything again for the wire, where no copies are made, and the radio, with and without copies; one by one and to all.
fn everywhere(scenario: fn(&str, bool)) {
    for to_all in [false, true] {
        scenario(if to_all { "to all" } else { "one by one" }, to_all);
    }
}

#[test]
fn a_desk_that_dies_stops_the_movers() {
    everywhere(|name, to_all| {
        let mut machine = moving(Cobs, name, to_all, Faults::default());
        machine.desk = None;
        stops(&mut machine, WAY);
        let mut machine = moving(Datagram, name, to_all, Faults::default());
        machine.desk = None;
        stops(&mut machine, WAY);
        let mut machine = moving(Datagram, name, to_all, COPIES);
        machine.desk = None;
        stops(&mut machine, LIFETIME);
    });
}

#[test]
fn a_medium_that_fails_stops_the_movers() {
    everywhere(|name, to_all| {
        let mut machine = moving(Cobs, name, to_all, Faults::default());
        machine.silence = true;
        stops(&mut machine, WAY);
        let mut machine = moving(Datagram, name, to_all, COPIES);
        machine.silence = true;
        stops(&mut machine, LIFETIME);
    });
}

/// The relay sends nothing that has not just come: it must not look as if the hand box lived.
#[test]
fn a_hand_box_that_is_switched_off_stops_the_movers_although_the_desk_goes_on() {
    everywhere(|name, to_all| {
        let mut machine = moving(Cobs, name, to_all, Faults::default());
        machine.lever = None;
        stops(&mut machine, 2 * WAY + 2 * MS);
        let mut machine = moving(Datagram, name, to_all, COPIES);
        machine.lever = None;
        stops(&mut machine, 2 * LIFETIME + 2 * MS);
    });
}

/// Without faults the last movement is one limit after the arrival of the last set-point, to the step.
#[test]
fn the_movers_move_until_the_limit_and_not_a_step_longer() {
    everywhere(|name, to_all| {
        let mut machine = moving(Datagram, name, to_all, Faults::default());
        machine.desk = None;
        machine.run(10);
        let arrived = MOVERS.map(|mover| machine.mover(mover).newest().expect("news"));
        machine.run(1_000);
        assert_eq!(MOVERS.map(|mover| machine.mover(mover).moved), arrived.map(|at| Some(at + LIMIT - MS)));
    });
}

/// A program that hangs for a second finds the stamped octets of that time: their age counts, not the time at which it takes them.
#[test]
fn a_backlog_is_as_old_as_its_stamps() {
    everywhere(|name, to_all| {
        for lives_on in [150, 900] {
            let mut machine = moving(Datagram, name, to_all, Faults::default());
            let before = machine.mover(DOME).accepted;
            machine.hangs = Some(DOME);
            machine.run(lives_on);
            machine.desk = None;
            machine.run(1_000 - lives_on);
            machine.hangs = None;
            machine.step();
            let taken = machine.mover(DOME).accepted - before;
            assert_eq!(taken, lives_on / 50, "the whole backlog is taken");
            // 150 ms of set-points and 850 ms of nothing; or 900 and 100.
            assert_eq!(machine.mover(DOME).motor, if lives_on == 150 { 0 } else { 40 });
            machine.run(LIMIT / MS);
            assert_eq!(machine.mover(DOME).motor, 0);
        }
    });
}

/// The sessions end and open anew, the set-points go on: nothing moves before the stop value and the operator's act, in this order.
fn stays_stopped<F: Framing>(machine: &mut Machine<F>, movers: &[usize]) {
    machine.run(LIMIT / MS + 100);
    let began = machine.now;
    machine.run(30_000);
    for &mover in movers {
        let now = machine.now;
        let mover = machine.mover(mover);
        assert!(mover.moved.is_none_or(|moved| moved < began), "it re-armed by itself");
        assert_eq!(
            mover.rearm(now),
            Err(RearmError::NotAtStop),
            "set-points come, and the operator alone does not suffice"
        );
    }
    machine.lever = Some(0);
    machine.run(1_000);
    machine.lever = Some(40);
    machine.run(1_000);
    for &mover in movers {
        assert_eq!(machine.mover(mover).motor, 0, "nor does the stop value alone");
    }
    move_again(machine);
}

#[test]
fn a_restart_of_the_desk_never_re_arms() {
    everywhere(|name, to_all| {
        let mut machine = moving(Cobs, name, to_all, Faults::default());
        machine.start_desk();
        stays_stopped(&mut machine, &MOVERS);
        let mut machine = moving(Datagram, name, to_all, COPIES);
        machine.start_desk();
        machine.faults = Faults::default();
        stays_stopped(&mut machine, &MOVERS);
    });
}

#[test]
fn a_restart_of_a_mover_never_re_arms_it_and_leaves_the_other_alone() {
    fn check<F: Framing>(mut machine: Machine<F>) {
        machine.restart_board(DOME);
        machine.run(2_000);
        assert_eq!(machine.mover(FOCUSER).motor, 40);
        let now = machine.now;
        assert_eq!(machine.mover(FOCUSER).moved, Some(now));
        assert!(machine.mover(DOME).accepted > 0, "it hears the set-points");
        stays_stopped(&mut machine, &[DOME]);
    }
    everywhere(|name, to_all| {
        check(moving(Cobs, name, to_all, Faults::default()));
        check(moving(Datagram, name, to_all, Faults::default()));
    });
}

/// Restarts, silence and hangs at random, over and over: the witness holds at every step, and nothing ever moves without the operator.
#[test]
fn whatever_happens_a_mover_moves_only_on_fresh_set_points_and_after_an_operators_act() {
    for run in 0..12 {
        let mut machine = moving(Datagram, &format!("whatever happens {run}"), run % 2 == 0, COPIES);
        for _ in 0..30 {
            match machine.below(7) {
                0 => machine.start_desk(),
                1 => machine.desk = None,
                2 => {
                    let board = machine.below(3) as usize;
                    machine.restart_board(board);
                }
                3 => machine.silence = !machine.silence,
                4 => machine.hangs = [None, Some(DOME), Some(HAND)][machine.below(3) as usize],
                5 => machine.lever = [None, Some(0), Some(40)][machine.below(3) as usize],
                _ => {
                    let now = machine.now;
                    for mover in MOVERS {
                        let _ = machine.mover(mover).rearm(now);
                    }
                }
            }
            let span = machine.below(1_500);
            machine.run(span);
        }
    }
}

/// W-67: until frames are sealed a mover on a radio obeys only if its maker opted in by hand; all the rest works.
#[test]
fn a_radio_that_nobody_opened_by_hand_moves_nothing() {
    everywhere(|name, to_all| {
        let mut machine = Machine::new(Datagram, name, false);
        machine.to_all = to_all;
        machine.run(4_000);
        let now = machine.now;
        for mover in MOVERS {
            let mover = machine.mover(mover);
            assert_eq!(mover.rearm(now), Err(RearmError::NoNews));
            assert!(mover.gate.held_back() > 20, "they came, and were held back: {}", mover.gate.held_back());
            assert_eq!((mover.accepted, mover.moved), (0, None));
        }
    });
}
