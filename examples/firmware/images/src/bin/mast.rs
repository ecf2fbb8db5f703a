//! The mast: wakes, reports the weather by radio, sleeps.
#![no_std]
#![no_main]

use bellwire::{
    link::Outcome,
    time::{Instant, elapsed},
};
use bellwire_examples::messages::Message;
use board::{Board, bench};
use parts::Chip;
use roles::{Mast, Nap};

board::start!(run);

fn run(mut board: Board) -> ! {
    let mut mast = Mast::new(Chip::new(board.uart), board.own, board::now());
    let mut nights = 0_u32;
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        let Ok(nap) = mast.turn(now, weather(now));
        if let Nap::Until(morning) = nap {
            let outcome = mast.outcome().map_or("no outcome yet", words);
            let line = bench::line("asleep nights=").count(nights).word(" until=").count(morning.as_ticks());
            bench::say(line.word(" last: ").word(outcome));
            nights = nights.wrapping_add(1);
            // Here a board switches its radio off and stops its clock but for the one that wakes it.
            while elapsed(morning, board::now()).as_ticks() > 0 {
                let now = board::now();
                while board.script.due(now).is_some() {}
                let Ok(()) = mast.sleep(now);
                board::wait();
            }
        }
        board::wait();
    }
}

/// A made-up evening: there are no instruments here.
fn weather(now: Instant) -> Message {
    let [gust, ..] = (now.as_ticks() >> 20).to_le_bytes();
    Message::Weather { wind: 30_u16.saturating_add(gust.into()), rain: false, sky: -1_250, light: 3 }
}

const fn words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Delivered => "delivered",
        Outcome::NotSent(_) => "not sent",
        Outcome::Unknown => "unknown",
    }
}
