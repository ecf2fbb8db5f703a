//! Which mutant runs: woven into a copy of the core by tests/mutants, never part of the crate.

use std::{
    env,
    fs::OpenOptions,
    io::Write,
    sync::{
        OnceLock,
        atomic::{AtomicBool, Ordering},
    },
};

static CHOSEN: OnceLock<(u32, bool)> = OnceLock::new();
static REACHED: [AtomicBool; 4096] = [const { AtomicBool::new(false) }; 4096];

/// The number of the mutant to run, as it is called by the function of that number; 0, the original, in constant expressions.
#[inline]
pub(crate) const fn chosen(function: usize) -> u32 {
    core::intrinsics::const_eval_select((function,), original, at_run_time)
}

const fn original(_function: usize) -> u32 {
    0
}

#[inline]
fn at_run_time(function: usize) -> u32 {
    let &(mutant, tells) = CHOSEN.get_or_init(|| {
        let mutant = env::var("BELLWIRE_MUTANT").ok().and_then(|number| number.parse().ok()).unwrap_or(0);
        (mutant, env::var_os("BELLWIRE_REACHED").is_some())
    });
    if tells && !REACHED[function].swap(true, Ordering::Relaxed) {
        tell(function);
    }
    mutant
}

#[cold]
fn tell(function: usize) {
    let path = env::var_os("BELLWIRE_REACHED").expect("asked before");
    let mut file = OpenOptions::new().create(true).append(true).open(path).expect("a file to write to");
    file.write_all(std::format!("{function}\n").as_bytes()).expect("written");
}
