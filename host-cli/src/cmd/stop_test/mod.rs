//! The command `stop-test`: measures how long after the last set-point a board says that it has stopped.
//!
//! Each run lets go, re-arms, turns, and then lets news cease. The time runs from the handing over of the last set-point to the board's report, so
//! it holds the way of both; the board itself stops earlier than that.

mod drive;
mod muted;
mod sum;

use drive::{Drive, Stopped};
use sum::Sum;

use crate::{
    args::stop_test::StopTestArgs, caution, endpoint::FramingName, exit::Exit, fail::Fail, lines,
    observatory, shell::Shell, talk::wiring_of,
};

/// Runs `stop-test`.
///
/// # Errors
/// Without `--arm`, if an option makes no sense, nobody answers, or the board does not let itself be re-armed.
pub fn run(args: &StopTestArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let rate = rate(args.speed)?;
    let limit = args.limit.unwrap_or_else(agreed);
    if args.period * 2 > limit {
        return Err(Fail::new(Exit::Usage, "--period is too long: one set-point lost would stop the board")
            .next(format!("use at most half of the limit of {}", lines::time(limit))));
    }
    shell.remark(lines::wrap("", caution::MOVING));
    if wiring_of(&args.endpoint, &args.line).framing == FramingName::Datagram {
        return Err(Fail::new(
            Exit::Usage,
            "not over a datagram link: until frames are sealed, anyone in range can forge or replay them",
        )
        .next("use a wire"));
    }
    if !args.arm {
        return Err(Fail::new(Exit::Usage, "nothing was sent: this turns the dome, again and again")
            .next("add --arm if nobody and nothing is in the way, with the emergency stop at hand"));
    }
    let mut drive = Drive::open(args, rate)?;
    let mut sum = Sum::new(args, limit);
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

/// The rate in 0.01 °/s.
fn rate(speed: f64) -> Result<i16, Fail> {
    let value = (speed * 100.0).round();
    if (1.0..=f64::from(i16::MAX)).contains(&value.abs()) {
        #[expect(clippy::cast_possible_truncation, reason = "the range is checked")]
        Ok(value as i16)
    } else {
        Err(Fail::new(Exit::Usage, "--speed must be from 0.01 to 327.67 °/s, either way"))
    }
}

/// The limit that the observatory has agreed on for `dome-rate`.
fn agreed() -> std::time::Duration {
    let table = observatory::table();
    let millis = table.find("dome-rate").and_then(|known| known.fresh_ms).unwrap_or(500);
    std::time::Duration::from_millis(millis.into())
}
