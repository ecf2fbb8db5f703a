//! The largest content, 16 MiB, with one end after the other restarting all the time.

use super::run::{Cut, Joined, Make, run};
use bellwire::transfer::{MAX_SIZE, Outcome, State};

#[test]
fn sixteen_mebioctets_come_whole_however_often_the_ends_restart() {
    let size = usize::try_from(MAX_SIZE).expect("16 MiB");
    let make =
        Make { part: 1_016, rate: 1_000_000, cut: Cut::OverAndOver, ..Make::new(Joined::Radio, size, 32) };
    let sum = run(&make);
    assert_eq!((sum.outcome, sum.state, sum.wholes), (Outcome::Delivered, State::Done, 1));
    assert!(sum.store[..] == make.content[..]);
    let resent = sum.sent.parts - MAX_SIZE.div_ceil(1_016);
    println!("{} restarts: {:?} in {} s, {resent} parts resent", sum.cuts, sum.sent, sum.millis / 1_000);
    assert!(sum.cuts > 160 && resent <= sum.cuts, "{} restarts, {resent} resent", sum.cuts);
    assert!(resent > 40, "{resent}: the cuts are real");
}
