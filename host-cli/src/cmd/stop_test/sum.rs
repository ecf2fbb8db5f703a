//! What all runs together say.

use std::time::Duration;

use serde_json::json;

use super::Stopped;
use crate::{args::stop_test::StopTestArgs, exit::Exit, fail::Fail, lines, shell::Shell};

/// Octets of a set-point of the dome on the wire, both delimiters included: control, sequence number, message number, two octets of rate, FCS, code.
const SET_POINT: u32 = 10;
/// Octets of the alarm: one less.
const ALARM: u32 = 9;

/// The runs so far.
pub(super) struct Sum<'a> {
    args: &'a StopTestArgs,
    limit: Duration,
    times: Vec<Duration>,
    missing: u32,
}

impl<'a> Sum<'a> {
    pub(super) const fn new(args: &'a StopTestArgs, limit: Duration) -> Self {
        Self { args, limit, times: Vec::new(), missing: 0 }
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

    fn word(&self) -> &'static str {
        match (self.runs(), self.missing, self.late()) {
            (0, ..) => "not run",
            (_, 0, 0) => "good",
            (_, 0, _) => "late",
            _ => "no word",
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
        let (how, late, missing) = (self.args.how.word(), self.late(), self.missing);
        let spread = self.spread();
        if self.args.json {
            let [least, middle, most] = [0, 1, 2].map(|at| spread.map(|spread| micros(spread[at])));
            return shell.line(json!({
                "record": "stop-test", "endpoint": self.args.endpoint.to_string(), "how": how, "result": self.word(),
                "runs": self.runs(), "no_word": missing, "late": late, "limit_us": micros(self.limit),
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
        let [there, back] =
            [SET_POINT, ALARM].map(|octets| lines::time(Duration::from_secs(1) * octets / rate));
        shell.line(lines::wrap(
            "bounded by  ",
            &format!(
                "the limit, from the arrival of the last set-point; its way there ({there} at this line rate); one turn of the board's \
                 control loop; the way back of the report ({back}, more if another is under way); this computer. The motor itself \
                 stops when the board tells it, and coasts by what it weighs: measure that at the shaft"
            ),
        ))?;
        let result = match self.word() {
            "good" => "good: every stop was reported in time".to_owned(),
            "late" => format!("{late} of {} later than limit and margin", self.runs()),
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
