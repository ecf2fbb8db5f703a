#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]

use super::*;
use std::vec::Vec;

/// Against a plain list: nobody is looked at before a slot of its own begins, and everybody by the tick that it waits for.
#[test]
fn everybody_is_looked_at_in_time_and_those_who_are_not_due_are_put_in_again() {
    let mut wheel = Wheel::<8>::new();
    let mut waits: [Option<u32>; 8] = [None; 8];
    let (mut dice, mut now) = (1_u32, 0_u32);
    let (mut due, mut early) = (0, 0);
    for _ in 0..40_000 {
        dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let who = (dice >> 29) as usize;
        match dice >> 26 & 7 {
            0..=3 => {
                let ahead = (dice >> 4 & 0x1F_FFFF) >> ((dice >> 24 & 3) * 6);
                let tick = now.wrapping_add(ahead);
                if waits[who].is_none_or(|other| other.wrapping_sub(now) as i32 > ahead as i32) {
                    waits[who] = Some(tick);
                }
                wheel.set(who as u8, tick);
            }
            4 => {
                waits[who] = None;
                wheel.take_out(who as u8);
            }
            _ => {
                let step = (dice >> 2 & 0xFFFF) >> ((dice >> 24 & 3) * 4);
                now = now.wrapping_add(step);
                while let Some(who) = wheel.pop(now) {
                    let tick = waits[usize::from(who)].expect("only those who wait");
                    if (tick.wrapping_sub(now) as i32) <= 0 {
                        waits[usize::from(who)] = None;
                        due += 1;
                    } else {
                        wheel.set(who, tick);
                        early += 1;
                    }
                }
                assert!(wheel.next().is_none_or(|next| next.wrapping_sub(now) as i32 > 0), "a busy loop");
                for tick in waits.iter().flatten() {
                    assert!(tick.wrapping_sub(now) as i32 > 0, "overlooked");
                }
            }
        }
        let soonest = waits.iter().flatten().map(|tick| tick.wrapping_sub(now) as i32).min();
        let said = wheel.next().map(|tick| tick.wrapping_sub(now) as i32);
        match (said, soonest) {
            (Some(said), Some(soonest)) => assert!(said <= soonest.max(1), "{said} {soonest}"),
            (said, soonest) => assert_eq!(said.is_some(), soonest.is_some()),
        }
    }
    assert!(due > 5_000 && early > 200, "{due} {early}");
}

/// A deadline is looked at no more often than once a wheel.
#[test]
fn a_deadline_within_reach_is_looked_at_four_times_at_most() {
    for ahead in [1, 31, 32, 33, 1_023, 1_024, 32_767, 32_768, 900_000, 1_015_000] {
        for start in [0, 31, 1_000, 32_767, u32::MAX - 40_000] {
            let mut wheel = Wheel::<1>::new();
            wheel.tick = start;
            let tick = start.wrapping_add(ahead);
            wheel.set(0, tick);
            let mut looks: Vec<u32> = Vec::new();
            while let Some(next) = wheel.next() {
                assert_eq!(wheel.pop(next), Some(0));
                looks.push(next.wrapping_sub(start));
                if next == tick {
                    break;
                }
                wheel.set(0, tick);
            }
            assert_eq!(looks.last(), Some(&ahead), "{looks:?}");
            assert!(looks.len() <= 4, "{looks:?}");
        }
    }
}
