//! Several sources as one, in one order of time.

use std::{
    collections::VecDeque,
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    thread,
    time::{Duration, Instant},
};

use super::{Item, PortInfo, Source};
use crate::fail::Fail;

/// How long an item of a live source waits for earlier ones of the others: longer than it takes to hand an item on, shorter than
/// anybody notices.
const HOLD: Duration = Duration::from_millis(20);
/// Items of one source that wait.
const WAITING: usize = 1 << 10;
/// How often a waiting thread looks whether it should stop.
const GLANCE: Duration = Duration::from_millis(50);

/// Several sources as one. Items come in order of time: of recordings strictly, of live sources as far as they arrive within
/// 20 ms of each other.
pub struct Gather {
    shelf: Arc<Shelf>,
    ports: Vec<PortInfo>,
    /// For each source, our index of each of its ports.
    indices: Vec<Vec<u16>>,
    said: Said,
}

/// What the sources say of themselves.
struct Said {
    live: bool,
    preamble: Vec<String>,
    sides: Option<[String; 2]>,
}

#[derive(Default)]
struct Shelf {
    queues: Mutex<Vec<Queue>>,
    changed: Condvar,
}

impl Shelf {
    fn lock(&self) -> MutexGuard<'_, Vec<Queue>> {
        self.queues.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[derive(Default)]
struct Queue {
    items: VecDeque<(Instant, Result<Item, Fail>)>,
    ports: Vec<PortInfo>,
    ended: bool,
    /// Nobody wants items any more.
    stop: bool,
    closing: Vec<String>,
}

impl Gather {
    /// Gathers these sources, each read by a thread of its own.
    #[must_use]
    pub fn new(sources: Vec<Box<dyn Source>>) -> Self {
        let said = Said {
            live: sources.iter().any(|source| source.is_live()),
            preamble: sources.iter().flat_map(|source| source.preamble()).collect(),
            sides: sources.iter().find_map(|source| source.sides()),
        };
        let shelf = Arc::new(Shelf::default());
        shelf.lock().resize_with(sources.len(), Queue::default);
        let mut gather = Gather {
            shelf: Arc::clone(&shelf),
            ports: Vec::new(),
            indices: vec![Vec::new(); sources.len()],
            said,
        };
        for (index, source) in sources.iter().enumerate() {
            gather.learn(index, source.ports());
        }
        for (index, source) in sources.into_iter().enumerate() {
            let shelf = Arc::clone(&shelf);
            thread::spawn(move || fill(&shelf, index, source));
        }
        gather
    }

    /// Takes in the ports of a source, those already known left out.
    fn learn(&mut self, source: usize, ports: &[PortInfo]) {
        for port in ports.iter().skip(self.indices[source].len()) {
            self.indices[source].push(u16::try_from(self.ports.len()).unwrap_or(u16::MAX));
            self.ports.push(port.clone());
        }
    }
}

/// Reads a source onto its place on the shelf until it ends or nobody wants more.
fn fill(shelf: &Shelf, index: usize, mut source: Box<dyn Source>) {
    loop {
        let next = source.next(GLANCE);
        let mut queues = shelf.lock();
        while queues[index].items.len() >= WAITING && !queues[index].stop {
            queues = shelf.changed.wait(queues).unwrap_or_else(PoisonError::into_inner);
        }
        let queue = &mut queues[index];
        queue.ports = source.ports().to_vec();
        let item = next.transpose();
        let last = matches!(item, Some(Err(_) | Ok(Item::End)));
        queue
            .items
            .extend(item.filter(|item| !matches!(item, Ok(Item::End))).map(|item| (Instant::now(), item)));
        if last || queue.stop {
            queue.ended = true;
            queue.closing = source.closing();
            shelf.changed.notify_all();
            return;
        }
        shelf.changed.notify_all();
    }
}

/// The queue whose first item is next, and how long to wait at most for something earlier to come.
fn first(queues: &[Queue]) -> Option<(usize, Duration)> {
    let at = |queue: &Queue| match queue.items.front() {
        Some((_, Ok(item))) => item.at(),
        _ => None,
    };
    let filled = queues.iter().enumerate().filter(|(_, queue)| !queue.items.is_empty());
    let (index, queue) = filled.min_by_key(|(_, queue)| at(queue).unwrap_or(0))?;
    let complete = queues.iter().all(|queue| queue.ended || !queue.items.is_empty());
    let (arrived, _) = queue.items.front()?;
    Some((index, if complete { Duration::ZERO } else { HOLD.saturating_sub(arrived.elapsed()) }))
}

impl Source for Gather {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let until = Instant::now() + wait;
        let shelf = Arc::clone(&self.shelf);
        let mut queues = shelf.lock();
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let pause = match first(&queues) {
                Some((index, Duration::ZERO)) => {
                    let ports = queues[index].ports.clone();
                    let taken = queues[index].items.pop_front();
                    shelf.changed.notify_all();
                    drop(queues);
                    self.learn(index, &ports);
                    let Some((_, item)) = taken else { return Ok(None) };
                    let mut item = item?;
                    let port =
                        item.port().and_then(|port| self.indices[index].get(usize::from(port)).copied());
                    item.set_port(port.unwrap_or(0));
                    return Ok(Some(item));
                }
                Some((_, hold)) => hold.min(left),
                None if queues.iter().all(|queue| queue.ended) => return Ok(Some(Item::End)),
                None => left,
            };
            if left.is_zero() {
                return Ok(None);
            }
            queues = shelf.changed.wait_timeout(queues, pause).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    fn is_live(&self) -> bool {
        self.said.live
    }

    fn sides(&self) -> Option<[String; 2]> {
        self.said.sides.clone()
    }

    fn preamble(&self) -> Vec<String> {
        self.said.preamble.clone()
    }

    fn closing(&mut self) -> Vec<String> {
        self.stop();
        let until = Instant::now() + 4 * GLANCE;
        let mut queues = self.shelf.lock();
        while !queues.iter().all(|queue| queue.ended) && Instant::now() < until {
            queues =
                self.shelf.changed.wait_timeout(queues, GLANCE).unwrap_or_else(PoisonError::into_inner).0;
        }
        queues.iter_mut().flat_map(|queue| std::mem::take(&mut queue.closing)).collect()
    }
}

impl Gather {
    fn stop(&self) {
        self.shelf.lock().iter_mut().for_each(|queue| queue.stop = true);
        self.shelf.changed.notify_all();
    }
}

impl Drop for Gather {
    /// The threads end at their next glance; a twin's link is removed by then.
    fn drop(&mut self) {
        let _ = self.closing();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::endpoint::Note;

    struct Told(VecDeque<Item>, [PortInfo; 1]);

    impl Source for Told {
        fn next(&mut self, _wait: Duration) -> Result<Option<Item>, Fail> {
            Ok(Some(self.0.pop_front().unwrap_or(Item::End)))
        }
        fn ports(&self) -> &[PortInfo] {
            &self.1
        }
        fn is_live(&self) -> bool {
            false
        }
        fn closing(&mut self) -> Vec<String> {
            vec![format!("{} is done", self.1[0].name)]
        }
    }

    #[test]
    fn recordings_are_merged_by_time_and_keep_their_ports() {
        let lists: [Vec<u64>; 3] = [(0..3000).map(|at| at * 3).collect(), vec![5, 5, 7000], vec![]];
        let sources = lists.iter().enumerate().map(|(index, times)| {
            let items =
                times.iter().map(|&at| Item::Note(Note { at, port: 0, text: index.to_string() })).collect();
            Box::new(Told(items, [PortInfo::named(index.to_string())])) as Box<dyn Source>
        });
        let mut gather = Gather::new(sources.collect());
        let mut found = Vec::new();
        while let Some(item) = gather.next(Duration::from_secs(20)).unwrap() {
            match item {
                Item::Note(note) => {
                    assert_eq!(gather.ports()[usize::from(note.port)].name, note.text);
                    found.push(note.at);
                }
                _ => break,
            }
        }
        let mut wanted: Vec<_> = lists.concat();
        wanted.sort_unstable();
        assert_eq!(found, wanted);
        assert!(!gather.is_live());
        assert_eq!(gather.closing().len(), 3);
    }
}
