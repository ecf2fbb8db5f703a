//! The command `stop-test`: measures how long after the last set-point a board says that it has stopped.
//!
//! Each run lets go, re-arms, turns, and then lets news cease. The time runs from the handing over of the last set-point to the board's report, so
//! it holds the way of both; the board itself stops earlier than that.

mod course;
mod drive;
mod muted;
mod sum;

use course::Course;
use drive::{Drive, Stopped};
use sum::Sum;

use crate::{
    args::stop_test::StopTestArgs, caution, exit::Exit, fail::Fail, lines, shell::Shell, talk::wiring_of,
};

/// Runs `stop-test`.
///
/// # Errors
/// Without `--arm`, if an option makes no sense or the agreement lacks a message, nobody answers, or the board does not let itself be re-armed.
pub fn run(args: &StopTestArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args.agreed.table()?;
    let course = Course::new(args, &table)?;
    let limit = args.limit.unwrap_or(course.fresh());
    if args.period * 2 > limit {
        return Err(Fail::new(Exit::Usage, "--period is too long: one set-point lost would stop the board")
            .next(format!("use at most half of the limit of {}", lines::time(limit))));
    }
    shell.remark(lines::wrap("", caution::MOVING));
    shell.remark(lines::wrap("", caution::COPIES));
    if wiring_of(&args.endpoint, &args.line).framing.is_unordered() {
        return Err(Fail::new(
            Exit::Usage,
            "not over a datagram link: until frames are sealed, anyone in range can forge or replay them",
        )
        .next("use a wire"));
    }
    if !args.arm {
        return Err(Fail::new(Exit::Usage, "nothing was sent: this moves something, again and again")
            .next("add --arm if nobody and nothing is in the way, with the emergency stop at hand"));
    }
    let mut drive = Drive::open(args, &course, &table)?;
    let mut sum = Sum::new(args, &course, limit);
    let result = measure(&mut drive, &mut sum, args, shell);
    // Whatever stopped us: the stop value, and nothing after it.
    drive.rest();
    result?;
    sum.show(shell)?;
    Ok(sum.exit())
}

fn measure(
    drive: &mut Drive<'_>,
    sum: &mut Sum<'_>,
    args: &StopTestArgs,
    shell: &mut Shell<'_>,
) -> Result<(), Fail> {
    for _ in 0..args.times {
        match drive.run(shell)? {
            Some(stopped) => sum.add(stopped, shell)?,
            // Asked to stop.
            None => break,
        }
    }
    Ok(())
}
