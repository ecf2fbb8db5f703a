//! A transfer gives way: a report waits for the one body that was on the line when it was made, and no second.

use super::run::{Joined, Make, Run, run};
use bellwire::{framing::Cobs, transfer::Outcome};
use bellwire_cli::sim::Moment;
use core::time::Duration;

#[test]
fn a_report_waits_for_no_more_than_the_body_on_the_line() {
    for joined in [Joined::Wire, Joined::ToLeaf, Joined::ToHub] {
        // No divisor of a part's time, so that reports meet parts at every place.
        let every = Some(Duration::from_micros(23_300));
        let busy = run(&Make { every, ..Make::new(joined, 30_000, 8) });
        assert_eq!((busy.outcome, busy.missing), (Outcome::Delivered, 0), "{joined:?}");
        // As long beside a transfer that is over before the first report.
        let mut calm = Run::new(&Make { every, ..Make::new(joined, 8, 1) }, &Cobs);
        let over = Moment::from_millis(busy.millis);
        calm.network.run(over, &mut |_, _| {}).expect("time goes on");
        calm.settle();
        let calm = calm.sum(over);
        assert_eq!((calm.missing, calm.sent.parts), (0, 1), "{joined:?}");
        assert!(
            busy.reports >= 100 && busy.reports.abs_diff(calm.reports) <= 2,
            "{joined:?}: {}",
            busy.reports
        );
        println!(
            "{joined:?}: {} reports, the slowest in {:?} and without a transfer in {:?}; the longest body takes {:?}",
            busy.reports, busy.longest, calm.longest, busy.body
        );
        // An acknowledgement may come between, as it may without a transfer: at most 10 octets.
        let ack = Duration::from_secs(10) / 11_520;
        assert!(busy.longest <= calm.longest + busy.body + ack, "{joined:?}");
        assert!(busy.longest > calm.longest, "{joined:?}: they meet");
    }
}
