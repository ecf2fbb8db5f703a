//! What all runs together say.

use std::time::Duration;

use serde_json::json;

use super::{Course, Stopped};
use crate::{args::stop_test::StopTestArgs, exit::Exit, fail::Fail, lines, shell::Shell};

/// The runs so far.
pub(super) struct Sum<'a> {
    args: &'a StopTestArgs,
    course: &'a Course,
    limit: Duration,
    times: Vec<Duration>,
    missing: u32,
}

impl<'a> Sum<'a> {
    pub(super) const fn new(args: &'a StopTestArgs, course: &'a Course, limit: Duration) -> Self {
        Self { args, course, limit, times: Vec::new(), missing: 0 }
    }

    /// Adds a run, and shows it.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub(super) fn add(&mut self, stopped: Stopped, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let time = match stopped {
            Stopped::After(time) => Some(time),
            Stopped::NoWord => None,
        };
        match time {
            Some(time) => self.times.push(time),
            None => self.missing += 1,
        }
        let run = self.runs();
        if self.args.json {
            return shell.line(json!({"record": "stop", "run": run, "after_us": time.map(micros)}));
        }
        let waited = lines::time(self.args.wait);
        let text = time.map_or_else(|| format!("no word within {waited}"), lines::time);
        shell.line(format_args!("run {run:>3}     {text}"))
    }

    fn runs(&self) -> usize {
        self.times.len() + self.missing as usize
    }

    fn bound(&self) -> Duration {
        self.limit + self.args.margin
    }

    /// Least, middle and most; of an even number of runs the later one of the two in the middle.
    fn spread(&self) -> Option<[Duration; 3]> {
        let mut sorted = self.times.clone();
        sorted.sort_unstable();
        Some([*sorted.first()?, *sorted.get(sorted.len() / 2)?, *sorted.last()?])
    }

    fn late(&self) -> usize {
        self.times.iter().filter(|time| **time > self.bound()).count()
    }

    /// Stops before the limit: something else than the want of news was their reason, or the board keeps a shorter limit.
    fn early(&self) -> usize {
        self.times.iter().filter(|time| **time + self.args.margin < self.limit).count()
    }

    fn word(&self) -> &'static str {
        match (self.runs(), self.missing, self.late(), self.early()) {
            (0, ..) => "not run",
            (_, 1.., ..) => "no word",
            (_, _, 1.., _) => "late",
            (.., 1..) => "early",
            _ => "good",
        }
    }

    /// Good if every run was, and there was one.
    pub(super) fn exit(&self) -> Exit {
        if self.word() == "good" { Exit::Good } else { Exit::NotGood }
    }

    /// Shows the sum.
    ///
    /// # Errors
    /// [`Fail::output`].
    pub(super) fn show(&self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let (how, late, early, missing) = (self.args.how.word(), self.late(), self.early(), self.missing);
        let spread = self.spread();
        if self.args.json {
            let [least, middle, most] = [0, 1, 2].map(|at| spread.map(|spread| micros(spread[at])));
            return shell.line(json!({
                "record": "stop-test", "endpoint": self.args.endpoint.to_string(), "how": how, "result": self.word(),
                "message": self.args.message, "runs": self.runs(), "no_word": missing, "late": late, "early": early,
                "limit_us": micros(self.limit),
                "margin_us": micros(self.args.margin),
                "after_us": {"least": least, "middle": middle, "most": most},
            }));
        }
        if let Some(spread) = spread {
            let [least, middle, most] = spread.map(lines::time);
            let runs = self.times.len();
            shell.line(format_args!(
                "stopped     least {least}, middle {middle}, most {most} ({runs} runs, {how})"
            ))?;
        }
        let [limit, margin] = [self.limit, self.args.margin].map(lines::time);
        shell.line(format_args!("limit       {limit}, and {margin} on top of it"))?;
        let rate = self.args.line.settings().octet_rate().max(1);
        let there = lines::time(Duration::from_secs(1) * self.course.on_the_wire() / rate);
        shell.line(lines::wrap(
            "bounded by  ",
            &format!(
                "the limit, from the arrival of the last set-point; its way there ({there} at this line rate); one turn of the board's \
                 control loop; the way back of its report, sent at once or only when its time has come; this computer. The motor itself \
                 stops when the board tells it, and coasts by what it weighs: measure that at the shaft"
            ),
        ))?;
        let result = match self.word() {
            "good" => "good: every stop was reported in time".to_owned(),
            "late" => format!("{late} of {} later than limit and margin", self.runs()),
            "early" => format!(
                "{early} of {} earlier than the limit: something else stopped it, or its limit is shorter",
                self.runs()
            ),
            "no word" => {
                format!("{missing} of {} without word of a stop: look whether it still turns", self.runs())
            }
            _ => "nothing was measured".to_owned(),
        };
        shell.line(format_args!("result      {result}"))
    }
}

fn micros(time: Duration) -> u64 {
    u64::try_from(time.as_micros()).unwrap_or(u64::MAX)
}
