//! Health from every state: what happens if nothing is lost and timers are fair.

use bellwire::framing::Framing;

use super::world::World;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Frames are under way.
    Delivers,
    /// Nothing is under way: timers are next.
    Waits,
    /// Both are up in one session, all is told.
    Settled,
}

impl Stage {
    pub fn of<F: Framing + Default, const W: usize>(world: &World<F, W>) -> Self {
        match (world.is_settled(), world.wires.iter().all(Vec::is_empty)) {
            (true, _) => Self::Settled,
            (false, true) => Self::Waits,
            (false, false) => Self::Delivers,
        }
    }
}

/// Where fair steps lead from each state. States that were not expanded lead nowhere.
#[derive(Debug, Default)]
pub struct Fair {
    pub stages: Vec<Stage>,
    targets: Vec<u32>,
    /// Where the targets of each expanded state end.
    ends: Vec<usize>,
}

/// How far a state has been looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Look {
    Not,
    /// Its targets from this one on are still to be looked at.
    Open(usize),
    /// It heals within so many rounds.
    Heals(u16),
}

impl Fair {
    /// A fair step of the present state leads there.
    pub fn lead(&mut self, target: u32) {
        self.targets.push(target);
    }

    /// The present state is done.
    pub fn done(&mut self) {
        self.ends.push(self.targets.len());
    }

    fn targets(&self, state: usize) -> &[u32] {
        let Some(&end) = self.ends.get(state) else { return &[] };
        let start = if state == 0 { 0 } else { self.ends[state - 1] };
        &self.targets[start..end]
    }

    /// The most rounds that any state takes, whatever the order of fair steps; or a path into a circle, from the earliest
    /// state that can get into one, with one turn of the circle.
    pub fn rounds(&self) -> Result<u16, Vec<u32>> {
        let mut looks = vec![Look::Not; self.stages.len()];
        let mut most = 0;
        for root in 0..self.stages.len() {
            most = most.max(self.look(root, &mut looks)?);
        }
        Ok(most)
    }

    fn look(&self, root: usize, looks: &mut [Look]) -> Result<u16, Vec<u32>> {
        let mut path = vec![root];
        while let Some(&state) = path.last() {
            let place = match looks[state] {
                Look::Heals(_) => {
                    path.pop();
                    continue;
                }
                Look::Not => 0,
                Look::Open(place) => place,
            };
            match self.targets(state).get(place) {
                None => looks[state] = Look::Heals(self.worst(state, looks)),
                Some(&target) => {
                    looks[state] = Look::Open(place + 1);
                    if let Look::Open(_) = looks[target as usize] {
                        path.push(target as usize);
                        return Err(path
                            .into_iter()
                            .map(|state| u32::try_from(state).unwrap_or(0))
                            .collect());
                    }
                    path.push(target as usize);
                }
            }
        }
        match looks[root] {
            Look::Heals(rounds) => Ok(rounds),
            Look::Not | Look::Open(_) => Ok(0),
        }
    }

    fn worst(&self, state: usize, looks: &[Look]) -> u16 {
        let rounds =
            |&target: &u32| if let Look::Heals(rounds) = looks[target as usize] { rounds } else { 0 };
        let later = self.targets(state).iter().map(rounds).max().unwrap_or(0);
        later + u16::from(self.stages[state] == Stage::Waits)
    }
}
