//! Breadth first through all states of a case.

use std::{
    collections::HashMap,
    hash::{BuildHasherDefault, DefaultHasher, Hash, Hasher},
    time::Instant,
};

use bellwire::framing::Framing;

use super::{
    act::Act,
    breach::{Breach, Property},
    case::Case,
    diary::Diary,
    heal::{Fair, Stage},
    world::World,
};

/// How far to go.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Cut after so many states.
    pub most: usize,
    pub threads: usize,
    /// Look for a breach of this property only, and follow one fair schedule from every new state at once if it is that of health: for wrong
    /// variants, whose states may have no end.
    pub only: Option<Property>,
}

/// What was found.
#[derive(Debug)]
pub struct Found {
    pub states: usize,
    /// Things that happened, those that led to known states included.
    pub steps: u64,
    pub depth: u32,
    pub complete: bool,
    /// Rounds of timers that the slowest state takes to heal.
    pub rounds: u16,
    pub seconds: f64,
    pub breach: Option<(Breach, String)>,
}

/// States by fingerprint. The fingerprints are as good as random: they need no further hashing.
type Seen = HashMap<u128, u32, BuildHasherDefault<Plain>>;

#[derive(Default)]
struct Plain(u64);

impl Hasher for Plain {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, octets: &[u8]) {
        self.0 = octets.iter().take(8).fold(0, |value, &octet| value << 8 | u64::from(octet));
    }
}

/// The octets that a state feeds to a hasher.
struct Octets(Vec<u8>);

impl Hasher for Octets {
    fn finish(&self) -> u64 {
        0
    }
    fn write(&mut self, octets: &[u8]) {
        self.0.extend_from_slice(octets);
    }
}

/// A fingerprint of 128 bits.
fn mark<F: Framing, const W: usize>(world: &World<F, W>) -> u128 {
    let mut octets = Octets(Vec::with_capacity(1024));
    world.hash(&mut octets);
    let half = |salt: u8| {
        let mut hasher = DefaultHasher::new();
        hasher.write_u8(salt);
        hasher.write(&octets.0);
        u128::from(hasher.finish())
    };
    half(0) << 64 | half(0x5A)
}

/// What one act led to.
struct Step<F: Framing, const W: usize> {
    act: Act,
    fair: bool,
    led: Led<F, W>,
}

enum Led<F: Framing, const W: usize> {
    Known(u32),
    New(u128, Box<World<F, W>>),
    Breach(Breach, Vec<Act>),
    /// Breaks a property that is not looked for.
    Nowhere,
}

struct Search<F: Framing, const W: usize> {
    case: &'static Case,
    limits: Limits,
    seen: Seen,
    /// How each state was first reached: from which one, and by what.
    trail: Vec<(u32, Act)>,
    fair: Fair,
    found: Found,
    next: Vec<World<F, W>>,
}

/// Explores a case.
pub fn explore<F, const W: usize>(case: &'static Case, limits: Limits) -> Found
where
    F: Framing + Default + Send + Sync,
    F::State: Send + Sync,
{
    #[expect(clippy::disallowed_methods, reason = "the row says how long it took")]
    let begun = Instant::now();
    let found =
        Found { states: 0, steps: 0, depth: 0, complete: true, rounds: 0, seconds: 0.0, breach: None };
    let mut search = Search::<F, W> {
        case,
        limits,
        seen: Seen::default(),
        trail: vec![],
        fair: Fair::default(),
        found,
        next: vec![],
    };
    search.run();
    search.found.states = search.trail.len();
    search.found.seconds = begun.elapsed().as_secs_f64();
    search.found
}

impl<F, const W: usize> Search<F, W>
where
    F: Framing + Default + Send + Sync,
    F::State: Send + Sync,
{
    fn run(&mut self) {
        let start = World::new(self.case, None).expect("the boards start");
        let fingerprint = mark(&start);
        self.add(u32::MAX, Act::Round, fingerprint, start);
        while !self.next.is_empty() {
            let level = std::mem::take(&mut self.next);
            let first = self.trail.len() - level.len();
            let mut done = 0;
            for chunk in level.chunks(2048) {
                let steps = self.in_threads(chunk, |search, world| search.expand(world));
                for (at, steps) in steps.into_iter().enumerate() {
                    if self.merge(index(first + done + at), steps) {
                        return;
                    }
                }
                done += chunk.len();
                if self.trail.len() >= self.limits.most {
                    return self.cut(&level[done..], first + done);
                }
            }
            self.found.depth += u32::from(!self.next.is_empty());
        }
        if self.limits.only.is_none() {
            self.heal();
        }
    }

    /// Does the same to each world, on several cores, in order.
    fn in_threads<T: Send>(
        &self,
        worlds: &[World<F, W>],
        task: impl Fn(&Self, &World<F, W>) -> T + Sync,
    ) -> Vec<T> {
        let share = worlds.len().div_ceil(self.limits.threads).max(1);
        let task = &task;
        std::thread::scope(|scope| {
            let threads: Vec<_> = worlds
                .chunks(share)
                .map(|worlds| {
                    scope.spawn(move || worlds.iter().map(|world| task(self, world)).collect::<Vec<_>>())
                })
                .collect();
            threads.into_iter().flat_map(|thread| thread.join().expect("a thread ends")).collect()
        })
    }

    /// Everything that can happen in a state.
    fn expand(&self, world: &World<F, W>) -> Vec<Step<F, W>> {
        let fair = world.fair_acts();
        let step = |act: Act| {
            let mut later = Box::new(world.clone());
            let led = match later.play(act) {
                Err(breach) => self.breach(breach, vec![]),
                Ok(()) => {
                    let fingerprint = mark(&later);
                    match self.seen.get(&fingerprint) {
                        Some(&known) => Led::Known(known),
                        None => match self.sick(&later) {
                            Some((breach, acts)) => self.breach(breach, acts),
                            None => Led::New(fingerprint, later),
                        },
                    }
                }
            };
            Step { act, fair: fair.contains(&act), led }
        };
        world.acts().into_iter().map(step).collect()
    }

    fn breach(&self, breach: Breach, after: Vec<Act>) -> Led<F, W> {
        let wanted = self.limits.only.is_none_or(|only| only == breach.property);
        if wanted { Led::Breach(breach, after) } else { Led::Nowhere }
    }

    /// What goes wrong along one fair schedule, where that must be looked at now.
    fn sick(&self, world: &World<F, W>) -> Option<(Breach, Vec<Act>)> {
        let now = match self.limits.only {
            None => world.is_stuck(),
            Some(only) => only == Property::Heals,
        };
        if now { follow(world) } else { None }
    }

    /// Takes up what a state led to; `true` if a property does not hold.
    fn merge(&mut self, from: u32, steps: Vec<Step<F, W>>) -> bool {
        for Step { act, fair, led } in steps {
            self.found.steps += 1;
            let known = match led {
                Led::Nowhere => continue,
                Led::Known(known) => known,
                Led::New(fingerprint, world) => match self.seen.get(&fingerprint) {
                    Some(&known) => known,
                    None => self.add(from, act, fingerprint, *world),
                },
                Led::Breach(breach, after) => {
                    let mut acts = self.path(from);
                    acts.push(act);
                    acts.extend(after);
                    self.found.depth += 1;
                    self.found.breach = Some((breach, self.ladder(&acts)));
                    return true;
                }
            };
            if fair {
                self.fair.lead(known);
            }
        }
        self.fair.done();
        false
    }

    fn add(&mut self, from: u32, act: Act, fingerprint: u128, world: World<F, W>) -> u32 {
        let new = index(self.trail.len());
        self.seen.insert(fingerprint, new);
        self.trail.push((from, act));
        self.fair.stages.push(Stage::of(&world));
        self.next.push(world);
        new
    }

    /// What led to a state.
    fn path(&self, mut state: u32) -> Vec<Act> {
        let mut acts = vec![];
        while let Some(&(from, act)) = self.trail.get(state as usize).filter(|trail| trail.0 != u32::MAX) {
            acts.push(act);
            state = from;
        }
        acts.reverse();
        acts
    }

    /// Plays it again, for people.
    fn ladder(&self, acts: &[Act]) -> String {
        let mut world = World::<F, W>::new(self.case, Some(Diary::default())).expect("the boards start");
        for &act in acts {
            if world.play(act).is_err() {
                break;
            }
        }
        world.diary.0.map_or(String::new(), |diary| diary.ladder())
    }

    /// From every state every fair schedule must lead to health.
    fn heal(&mut self) {
        match self.fair.rounds() {
            Ok(rounds) => self.found.rounds = rounds,
            Err(circle) => {
                let mut acts = self.path(circle[0]);
                acts.extend(self.fair_path(&circle));
                let breach = Breach::new(Property::Heals, "the last steps repeat for ever");
                self.found.breach = Some((breach, self.ladder(&acts)));
            }
        }
    }

    /// The acts that lead along these states.
    fn fair_path(&self, states: &[u32]) -> Vec<Act> {
        let mut world = World::<F, W>::new(self.case, None).expect("the boards start");
        for act in self.path(states[0]) {
            world.play(act).expect("it went well before");
        }
        let mut acts = vec![];
        for &wanted in &states[1..] {
            let leads = |act: &Act| {
                let mut later = world.clone();
                later.play(*act).is_ok() && self.seen.get(&mark(&later)) == Some(&wanted)
            };
            let act = world.fair_acts().into_iter().find(leads).expect("it led there before");
            world.play(act).expect("it went well before");
            acts.push(act);
        }
        acts
    }

    /// There are more states than allowed. Those at the edge are followed along one fair schedule; all fair schedules inside must
    /// lead to health or to the edge.
    fn cut(&mut self, rest: &[World<F, W>], first: usize) {
        self.found.complete = false;
        if self.limits.only.is_some() {
            return;
        }
        let next = std::mem::take(&mut self.next);
        let edge = index(self.trail.len() - next.len());
        for (worlds, first) in [(rest, index(first)), (&next[..], edge)] {
            let followed = self.in_threads(worlds, |_, world| follow(world));
            let sick = followed.into_iter().zip(first..).find_map(|(sick, state)| Some((sick?, state)));
            if let Some(((breach, after), state)) = sick {
                let mut acts = self.path(state);
                acts.extend(after);
                self.found.breach = Some((breach, self.ladder(&acts)));
                return;
            }
        }
        self.heal();
    }
}

fn index(state: usize) -> u32 {
    u32::try_from(state).expect("fewer than 2^32 states")
}

/// Follows one fair schedule; what went wrong, and the first steps there, if it does not lead to health.
fn follow<F: Framing + Default, const W: usize>(world: &World<F, W>) -> Option<(Breach, Vec<Act>)> {
    let mut world = world.clone();
    let (mut acts, mut rounds) = (vec![], 0);
    while let Some(&act) = world.fair_acts().first() {
        acts.push(act);
        rounds += u32::from(matches!(act, Act::Round | Act::Nudge));
        if let Err(breach) = world.play(act) {
            return Some((breach, acts));
        }
        if rounds > 20 || acts.len() > 300 {
            acts.truncate(6);
            let breach =
                Breach::new(Property::Heals, "20 rounds later it is not so; the first steps stand last");
            return Some((breach, acts));
        }
    }
    None
}
