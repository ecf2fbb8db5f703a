//! An endpoint that lives: a thread that reads it, stamps what it reads, and waits for it to come back.

use std::{
    io::{self, ErrorKind},
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicBool, Ordering},
        mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use super::{
    Chunk, Direction, Endpoint, Gap, Item, Loss, Note, PortInfo, Source,
    pipe::{Heard, Reading, Writing},
    relay::Relay,
};
use crate::{clock, exit::Exit, fail::Fail};

/// One connection: until the other side is gone.
pub(super) struct Connection {
    pub(super) reading: Box<dyn Reading>,
    /// Goes to the outlet as soon as the connection is used.
    pub(super) writing: Option<Box<dyn Writing>>,
    /// A remark for the record.
    pub(super) note: Option<String>,
}

/// Makes connections, the first and those after a loss.
pub(super) trait Connector: Send {
    /// Tries once, waiting at most `wait`; `None` if nobody is there yet.
    fn connect(&mut self, wait: Duration) -> Result<Option<Connection>, Fail>;

    /// How long to pause after so many tries in vain.
    fn pause(&self, tries: u32) -> Duration {
        Duration::from_millis(50 << tries.min(4))
    }
}

/// Items that wait for their reader; beyond that the endpoint is left to the system's own buffer.
const WAITING: usize = 1 << 14;
/// Octets read at a time: also the longest datagram.
const PIECE: usize = 1 << 16;
/// How often a waiting thread looks whether it should stop.
const GLANCE: Duration = Duration::from_millis(50);
/// How long a write may wait for room.
const WRITE: Duration = Duration::from_secs(5);

/// The writing side of an endpoint while it is there.
#[derive(Clone, Default)]
pub(super) struct Outlet(Arc<Mutex<Option<Box<dyn Writing>>>>);

impl Outlet {
    fn lock(&self) -> MutexGuard<'_, Option<Box<dyn Writing>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn set(&self, writing: Option<Box<dyn Writing>>) {
        *self.lock() = writing;
    }

    /// Takes the writing side of a connection, unless it has been taken already.
    pub(super) fn take_over(&self, connection: &mut Option<Connection>) {
        if let Some(writing) = connection.as_mut().and_then(|connection| connection.writing.take()) {
            self.set(Some(writing));
        }
    }

    /// Writes if somebody is there; false if nobody is. A broken connection counts as nobody: the reader tells of it.
    pub(super) fn write(&self, octets: &[u8], wait: Duration) -> io::Result<bool> {
        let mut writing = self.lock();
        match writing.as_mut().map(|writing| writing.write(octets, wait)) {
            None => Ok(false),
            Some(Ok(())) => Ok(true),
            Some(Err(error)) if error.kind() == ErrorKind::TimedOut => Err(error),
            Some(Err(_)) => {
                *writing = None;
                Ok(false)
            }
        }
    }
}

/// A live endpoint. Dropping it ends its thread.
pub(super) struct Live {
    ports: [PortInfo; 1],
    items: Receiver<Item>,
    outlet: Outlet,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    ended: bool,
}

/// Where to begin: with a connection already made, or with none yet.
pub(super) struct Start {
    pub(super) port: PortInfo,
    pub(super) connector: Box<dyn Connector>,
    pub(super) connection: Option<Connection>,
    pub(super) loss: Loss,
    /// Where to pass on what is read.
    pub(super) relay: Option<Relay>,
    /// Shared with others who write to this endpoint.
    pub(super) outlet: Outlet,
}

impl Live {
    pub(super) fn start(start: Start) -> Self {
        let (sender, items) = sync_channel(WAITING);
        let stop = Arc::new(AtomicBool::new(false));
        let (ports, outlet) = ([start.port], start.outlet);
        let reader = Reader {
            items: sender,
            outlet: outlet.clone(),
            stop: Arc::clone(&stop),
            relay: start.relay,
            untold: (0, 0),
        };
        let (connector, mut connection, loss) = (start.connector, start.connection, start.loss);
        outlet.take_over(&mut connection); // now, so that whoever opened it can write at once
        let thread = thread::spawn(move || {
            let _ = reader.run(connector, connection, loss);
        });
        Live { ports, items, outlet, stop, thread: Some(thread), ended: false }
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        // A thread that waits for room must find the channel closed.
        let (_, closed) = sync_channel(0);
        self.items = closed;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Source for Live {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        if self.ended {
            return Ok(Some(Item::End));
        }
        match self.items.recv_timeout(wait) {
            Ok(item) => Ok(Some(item)),
            Err(RecvTimeoutError::Timeout) => Ok(None),
            Err(RecvTimeoutError::Disconnected) => {
                self.ended = true;
                Ok(Some(Item::End))
            }
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }
}

impl Endpoint for Live {
    fn write(&mut self, octets: &[u8]) -> Result<(), Fail> {
        match self.outlet.write(octets, WRITE) {
            Ok(_) => Ok(()),
            Err(_) => {
                Err(Fail::new(Exit::Unavailable, format!("no octets were taken for {} s", WRITE.as_secs()))
                    .at(&self.ports[0].name)
                    .next("does the other side read? Is its flow control holding us off?"))
            }
        }
    }

    fn unsent(&self) -> usize {
        self.outlet.lock().as_ref().map_or(0, |writing| writing.unsent())
    }

    fn present(&self) -> bool {
        self.outlet.lock().is_some()
    }
}

/// Nobody takes items any more, or we were asked to stop.
struct Stopped;

struct Reader {
    items: SyncSender<Item>,
    outlet: Outlet,
    stop: Arc<AtomicBool>,
    relay: Option<Relay>,
    /// Pieces and octets that were passed on while nobody took items.
    untold: (u64, u64),
}

impl Reader {
    fn run(
        mut self,
        mut connector: Box<dyn Connector>,
        mut now: Option<Connection>,
        loss: Loss,
    ) -> Result<(), Stopped> {
        let mut gap: Option<Gap> = None;
        loop {
            let connection = match now.take() {
                Some(connection) => connection,
                None => self.wait_for(connector.as_mut())?,
            };
            if let Some(gap) = gap.take() {
                self.tell(Item::Gap(Gap { to: Some(clock::now()), ..gap }))?;
            }
            if let Some(text) = connection.note {
                self.tell(Item::Note(Note { at: clock::now(), port: 0, text }))?;
            }
            if connection.writing.is_some() {
                self.outlet.set(connection.writing);
            }
            let heard = self.listen(connection.reading)?;
            self.outlet.set(None);
            let Some(why) = heard else { return Ok(()) };
            let open = Gap { port: 0, from: clock::now(), to: None, why };
            self.tell(Item::Gap(open.clone()))?;
            if loss == Loss::End {
                return Ok(());
            }
            gap = Some(open);
        }
    }

    /// Reads until the other side is gone and gives the reason, or to the end.
    fn listen(&mut self, mut reading: Box<dyn Reading>) -> Result<Option<String>, Stopped> {
        let mut buffer = vec![0; PIECE];
        loop {
            self.glance()?;
            match reading.read(&mut buffer, GLANCE) {
                Heard::Nothing => {}
                Heard::Gone(why) => return Ok(Some(why)),
                Heard::End => return Ok(None),
                Heard::Octets(len) => {
                    let at = clock::now();
                    let octets = buffer[..len].to_vec();
                    if let Some(text) = self.relay.as_mut().and_then(|relay| relay.pass(&octets, at)) {
                        self.tell(Item::Note(Note { at, port: 0, text }))?;
                    }
                    self.tell(Item::Chunk(Chunk { at, port: 0, direction: Direction::In, octets }))?;
                }
            }
        }
    }

    fn wait_for(&self, connector: &mut dyn Connector) -> Result<Connection, Stopped> {
        let mut tries = 0;
        loop {
            self.glance()?;
            if let Ok(Some(connection)) = connector.connect(GLANCE) {
                return Ok(connection);
            }
            let until = Instant::now() + connector.pause(tries);
            tries = tries.saturating_add(1);
            while let Some(left) = until.checked_duration_since(Instant::now()) {
                self.glance()?;
                thread::sleep(left.min(GLANCE));
            }
        }
    }

    fn glance(&self) -> Result<(), Stopped> {
        if self.stop.load(Ordering::Relaxed) { Err(Stopped) } else { Ok(()) }
    }

    /// Hands an item on. While too many are waiting, passing on goes before telling: what is passed on meanwhile is counted and told later. Who passes nothing on waits, and then says for how
    /// long the line was not read.
    fn tell(&mut self, item: Item) -> Result<(), Stopped> {
        if self.relay.is_some() {
            return self.tell_or_count(item);
        }
        let item = match self.items.try_send(item) {
            Ok(()) => return Ok(()),
            Err(TrySendError::Disconnected(_)) => return Err(Stopped),
            Err(TrySendError::Full(item)) => item,
        };
        let since = Instant::now();
        self.items.send(item).map_err(|_| Stopped)?;
        let text =
            format!("the output is too slow: the line was not read for {} ms", since.elapsed().as_millis());
        self.items.send(Item::Note(Note { at: clock::now(), port: 0, text })).map_err(|_| Stopped)
    }

    fn tell_or_count(&mut self, item: Item) -> Result<(), Stopped> {
        let (pieces, octets) = self.untold;
        if pieces > 0 {
            let text = format!(
                "the output is too slow: {pieces} pieces, {octets} octets, were passed on and are not in this log"
            );
            match self.items.try_send(Item::Note(Note { at: clock::now(), port: 0, text })) {
                Ok(()) => self.untold = (0, 0),
                Err(TrySendError::Full(_)) => {}
                Err(TrySendError::Disconnected(_)) => return Err(Stopped),
            }
        }
        let item = match self.items.try_send(item) {
            Ok(()) => return Ok(()),
            Err(TrySendError::Disconnected(_)) => return Err(Stopped),
            Err(TrySendError::Full(item)) => item,
        };
        match item {
            Item::Chunk(chunk) => {
                let (pieces, octets) = self.untold;
                self.untold = (pieces + 1, octets + chunk.octets.len() as u64);
                Ok(())
            }
            // While a side is away nothing passes.
            Item::Gap(_) => self.items.send(item).map_err(|_| Stopped),
            // A remark holds nothing up.
            Item::Note(_) | Item::End => Ok(()),
        }
    }
}
