//! Pure ALOHA: S = G e^(-2G), and a frame is lost with odds 1 - e^(-2G) (Abramson, AFIPS Fall Joint Computer Conference 37, 1970), with listening and resends
//! off and Poisson traffic from a thousand boards on the channel of the virtual-time network.

use crate::station::{FRAME, Kind, run};
use bellwire_tests::seed;

const BATCHES: u64 = 100;
/// Frame times in a batch.
const FRAMES: u64 = 1_000;

/// The mean of the batches, and five standard errors of it.
fn mean_of(batches: &[f64]) -> (f64, f64) {
    let count = batches.len() as f64;
    let mean = batches.iter().sum::<f64>() / count;
    let variance = batches.iter().map(|batch| (batch - mean).powi(2)).sum::<f64>() / (count - 1.0);
    (mean, 5.0 * (variance / count).sqrt())
}

#[test]
fn throughput_and_loss_without_listening_are_those_of_pure_aloha() {
    let seed = seed("throughput_and_loss_without_listening_are_those_of_pure_aloha");
    println!("pure ALOHA, 1000 boards, {BATCHES} batches of {FRAMES} frame times, seed {:#x}", seed.value());
    println!("     G   S measured   S theory  +-5 sigma   lost   lost by theory");
    for (part, load) in (0..).zip([0.1_f64, 0.25, 0.5, 1.0, 2.0]) {
        let frames = BATCHES * FRAMES;
        let kind = Kind { boards: 1_000, load, frames, listens: false, switch: 0, wait: 0, tries: 1 };
        let gave = run(kind, seed.value() ^ part);
        let mut good = vec![0.0; usize::try_from(BATCHES).expect("few")];
        for time in &gave.times {
            let batch = time.nanos() / (1_000 * FRAME * FRAMES);
            // The last frame may end behind the last batch.
            if let Some(batch) = good.get_mut(usize::try_from(batch).expect("few")) {
                *batch += 1.0 / FRAMES as f64;
            }
        }
        let (mean, bound) = mean_of(&good);
        let theory = load * (-2.0 * load).exp();
        let lost = gave.collided as f64 / gave.sendings as f64;
        let lost_by_theory = 1.0 - (-2.0 * load).exp();
        println!(
            "  {load:>4.2}       {mean:.4}     {theory:.4}     {bound:.4}  {lost:.4}           {lost_by_theory:.4}"
        );
        // Five standard errors of so many batches are passed once in some hundred thousand runs.
        assert!((mean - theory).abs() < bound, "G = {load}: {mean} is not {theory} within {bound}");
        assert!(bound < 0.01 * (1.0 + theory), "the interval means something");
        // The share that gets through is S / G; the offered load is itself measured to about its root.
        let offered = gave.sendings as f64 / frames as f64;
        let root = 5.0 * (load / frames as f64).sqrt();
        assert!((offered - load).abs() < root, "{offered} frames a frame time, {load} wanted");
        let bound = (bound + root) / load;
        assert!((lost - lost_by_theory).abs() < bound, "G = {load}: {lost} lost, {lost_by_theory} by theory");
    }
}
