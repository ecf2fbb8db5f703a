//! Pure ALOHA: S = G e^(-2G) (Abramson, AFIPS Fall Joint Computer Conference 37, 1970), with listening and resends off and Poisson traffic, each
//! frame from a source of its own.

use bellwire::{
    star::{Allowance, Chance, Rules, Step},
    time::Duration,
};
use bellwire_tests::{Seed, seed};

/// Airtime of a frame, us.
pub(crate) const FRAME: u64 = 10_000;

/// The time to the next arrival, us, at `load` frames a frame time.
pub(crate) fn pause(rng: &mut impl rand::Rng, load: f64) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let mean = FRAME as f64 / load;
    -mean * (1.0 - rng.random::<f64>()).ln()
}

/// A sender that neither waits nor looks.
fn blunt() -> Chance<4> {
    let allowance = Allowance { airtime: 1_000_000, slice: Duration::from_ticks(1_000_000) };
    let us = Duration::from_ticks;
    Chance::new(Rules { wait: us(0), doublings: 0, looks: 1, resends: 0, allowance, seed: 0 })
}

const BATCHES: usize = 200;

/// The throughput in each batch of 1000 frame times.
fn throughput(seed: &Seed, part: u64, load: f64) -> Vec<f64> {
    let mut rng = seed.part(part);
    let frames = 1_000.0;
    #[allow(clippy::cast_precision_loss)]
    let end = frames * BATCHES as f64 * FRAME as f64;
    let (mut at, mut starts) = (0.0, Vec::new());
    while at < end {
        at += pause(&mut rng, load);
        let mut source = blunt();
        assert!(source.want(Duration::from_ticks(10_000), 0));
        assert_eq!(source.poll(), Step::Look, "without a random wait it goes at once");
        source.looked(true);
        assert_eq!(source.poll(), Step::Send);
        source.sent();
        starts.push(at);
    }
    #[allow(clippy::cast_precision_loss)]
    let frame = FRAME as f64;
    let mut good = vec![0.0; BATCHES];
    for three in starts.windows(3) {
        let alone = three[1] - three[0] >= frame && three[2] - three[1] >= frame;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let batch = (three[1] / (frames * frame)) as usize;
        if alone && batch < BATCHES {
            good[batch] += 1.0 / frames;
        }
    }
    good
}

#[test]
fn throughput_and_loss_without_listening_are_those_of_pure_aloha() {
    let seed = seed("throughput_and_loss_without_listening_are_those_of_pure_aloha");
    println!("pure ALOHA, 200 batches of 1000 frame times, seed {:#x}", seed.value());
    println!("     G   S measured   S theory  +-5 sigma");
    for (part, load) in [0.1_f64, 0.25, 0.5, 1.0, 2.0].into_iter().enumerate() {
        let good = throughput(&seed, part as u64, load);
        #[allow(clippy::cast_precision_loss)]
        let count = good.len() as f64;
        let mean = good.iter().sum::<f64>() / count;
        let variance = good.iter().map(|batch| (batch - mean).powi(2)).sum::<f64>() / (count - 1.0);
        let bound = 5.0 * (variance / count).sqrt();
        let theory = load * (-2.0 * load).exp();
        println!("  {load:>4.2}       {mean:.4}     {theory:.4}     {bound:.4}");
        // Batch means of 200 batches: five standard errors are passed once in a million and a half.
        assert!((mean - theory).abs() < bound, "G = {load}: {mean} is not {theory} within {bound}");
        assert!(bound < 0.01 * (1.0 + theory), "the interval means something");
    }
}
