//! A leaf: an ordinary link over addressed frames, window 1.

use super::{Make, Medium, sleeper::Sleeper};
use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::{Cobs, Datagram, Framing},
    link::{Config, Link, OwnNumber},
    star::Addressed,
    time::Duration as Span,
};
use bellwire_cli::{
    machine::Machine,
    sim::{
        Board, Moment, Seed,
        traffic::{Load, Traffic},
    },
};
use core::{sync::atomic::AtomicU64, time::Duration};
use std::sync::Arc;

/// The lifetime of a frame on these lines.
pub(super) fn lifetime(make: &Make) -> Span {
    Span::from_ticks(u32::try_from(make.setup.lifetime().as_micros()).expect("a short one"))
}

fn framed<F>(
    framing: F,
    (own, naps): (u8, Option<Arc<AtomicU64>>),
    config: Config,
    now: Moment,
) -> Box<dyn Machine>
where
    F: Framing + Send + 'static,
    F::State: Send,
{
    let framing = Addressed { framing, own, peer: 0 };
    if let Some(naps) = naps {
        // It promises nothing while it sleeps.
        let config = Config { keep_alive: Span::from_ticks(0), ..config };
        return Box::new(Sleeper::new(framing, config, naps, now.instant()));
    }
    Box::new(Link::<_, Fcs16, 64, 1, 4>::new(framing, config, now.instant()))
}

/// The board at this address; it takes up to a second to start anew.
pub(super) fn leaf(make: &Make, own: u8) -> Board<Traffic> {
    let mut dice = Seed(make.seed).stream(1_000 + u64::from(own));
    let (number, jitter_seed) = (dice.word(), dice.word() | 1);
    let boot = Duration::from_millis(dice.below(1_000));
    let load = Load {
        from: Moment::START,
        messages: make.reports,
        pause: make.pause,
        classes: vec![Class::Report],
        longest: 24,
    };
    let (again, who) = (make.clone(), (own, make.sleeps(own).then(|| Arc::clone(&make.naps))));
    let link = move |now: Moment, starts: u32| {
        // Far more than the sessions between two restarts.
        let number = OwnNumber::Stored(number.wrapping_add(starts.wrapping_mul(1_024)));
        let rate = again.setup.rate;
        let config = match again.medium {
            Medium::Wire => Config::uart(rate * 10, number),
            Medium::Radio => Config::datagram(rate, lifetime(&again), number),
        };
        let config = Config { jitter_seed, identity: u64::from(own), ..config };
        match again.medium {
            Medium::Wire => framed(Cobs, who.clone(), config, now),
            Medium::Radio => framed(Datagram, who.clone(), config, now),
        }
    };
    Board::new(Traffic::new(load, dice, boot, Box::new(link)))
}
