//! A source that is recorded as it passes: the record comes first, whoever looks at it comes second.

use std::{
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
        mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use super::recorder::Recorder;
use crate::{
    clock,
    endpoint::{Item, Note, PortInfo, Source},
    fail::Fail,
};

/// Longest time that an item waits to be written while others keep coming.
const HELD: Duration = Duration::from_millis(50);
/// Items that may wait to be shown.
const WAITING: usize = 1 << 16;

/// Passes a source on after recording it. What it gives is already in the file, so whatever has been shown can be read back after a kill;
/// a reader who stops reading does not stop the recording: what waits too long is recorded and not shown.
pub struct Recorded {
    items: Receiver<(Vec<PortInfo>, Item)>,
    ports: Vec<PortInfo>,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Closed>>,
    live: bool,
    sides: Option<[String; 2]>,
    preamble: Vec<String>,
    ended: bool,
    fail: Option<Fail>,
    closing: Vec<String>,
}

#[derive(Default)]
struct Shared {
    stop: AtomicBool,
}

/// What the thread leaves behind.
struct Closed {
    closing: Vec<String>,
    fail: Option<Fail>,
}

impl Recorded {
    /// Records `source` with `recorder`.
    #[must_use]
    pub fn new(source: Box<dyn Source>, mut recorder: Recorder) -> Self {
        let (sender, items) = sync_channel(WAITING);
        let shared = Arc::new(Shared::default());
        recorder.ports(source.ports());
        let mut recorded = Recorded {
            items,
            ports: source.ports().to_vec(),
            shared: Arc::clone(&shared),
            thread: None,
            live: source.is_live(),
            sides: source.sides(),
            preamble: source.preamble(),
            ended: false,
            fail: None,
            closing: Vec::new(),
        };
        let keeper = Keeper { known: source.ports().len(), skipped: 0, source, recorder, sender, shared };
        recorded.thread = Some(thread::spawn(move || keeper.run()));
        recorded
    }

    /// Stops recording and waits for the file to be closed. What is waiting to be shown can be read afterwards.
    fn stop(&mut self) {
        self.shared.stop.store(true, Ordering::Relaxed);
        if let Some(Ok(closed)) = self.thread.take().map(JoinHandle::join) {
            self.fail = closed.fail;
            self.closing = closed.closing;
        }
    }
}

impl Source for Recorded {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        if !self.ended {
            match self.items.recv_timeout(wait) {
                Ok((ports, item)) => {
                    self.ports.extend(ports);
                    return Ok(Some(item));
                }
                Err(RecvTimeoutError::Timeout) => return Ok(None),
                Err(RecvTimeoutError::Disconnected) => self.ended = true,
            }
            self.stop();
        }
        self.fail.take().map_or(Ok(Some(Item::End)), Err)
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    fn is_live(&self) -> bool {
        self.live
    }

    fn sides(&self) -> Option<[String; 2]> {
        self.sides.clone()
    }

    fn preamble(&self) -> Vec<String> {
        self.preamble.clone()
    }

    fn closing(&mut self) -> Vec<String> {
        self.stop();
        std::mem::take(&mut self.closing)
    }
}

impl Drop for Recorded {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The thread: source to file, then on.
struct Keeper {
    source: Box<dyn Source>,
    recorder: Recorder,
    sender: SyncSender<(Vec<PortInfo>, Item)>,
    shared: Arc<Shared>,
    known: usize,
    /// Items recorded and not shown since the last one shown.
    skipped: u64,
}

impl Keeper {
    fn run(mut self) -> Closed {
        let fail = self.keep().err();
        let fail = fail.or(self.recorder.finish().err());
        let mut closing = self.source.closing();
        closing.push(self.recorder.told());
        Closed { closing, fail }
    }

    fn keep(&mut self) -> Result<(), Fail> {
        let mut held = Vec::new();
        loop {
            let ended = self.gather(&mut held);
            self.recorder.flush()?;
            for item in held.drain(..) {
                self.pass_on(item);
            }
            if ended? || self.shared.stop.load(Ordering::Relaxed) {
                return Ok(());
            }
        }
    }

    /// Takes what is there into the recorder, for at most [`HELD`]; true at the end.
    fn gather(&mut self, held: &mut Vec<(Vec<PortInfo>, Item)>) -> Result<bool, Fail> {
        let mut wait = HELD;
        let start = Instant::now();
        while let Some(item) = self.source.next(wait)? {
            if item == Item::End {
                return Ok(true);
            }
            let ports = self.source.ports();
            self.recorder.item(&item, ports)?;
            let new = ports.get(self.known..).unwrap_or_default().to_vec();
            self.known = ports.len();
            held.push((new, item));
            if start.elapsed() >= HELD {
                break;
            }
            wait = Duration::ZERO;
        }
        Ok(false)
    }

    /// Hands an item on to be shown. A live source cannot wait for whoever looks; a recording can.
    fn pass_on(&mut self, item: (Vec<PortInfo>, Item)) {
        if self.skipped > 0 {
            let text = format!("the output was too slow: {} pieces are recorded but not shown", self.skipped);
            let note = Item::Note(Note { at: clock::now(), port: item.1.port().unwrap_or(0), text });
            if self.sender.try_send((Vec::new(), note)).is_ok() {
                self.skipped = 0;
            }
        }
        let mut waiting = item;
        loop {
            match self.sender.try_send(waiting) {
                Ok(()) | Err(TrySendError::Disconnected(_)) => return,
                Err(TrySendError::Full(item)) => waiting = item,
            }
            if self.source.is_live() || self.shared.stop.load(Ordering::Relaxed) {
                self.known -= waiting.0.len(); // its ports are told with the next item
                self.skipped += 1;
                return;
            }
            thread::sleep(Duration::from_millis(1));
        }
    }
}
