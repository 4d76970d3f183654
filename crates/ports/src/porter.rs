//! The porter: does the scheduler's slow work on a thread that may wait.
//!
//! It opens ports when something connects, reports to the scheduler when a far end is gone, and
//! frees what the scheduler no longer needs. It also restores standard error if a library that was
//! silenced hangs.

use crate::connection::{Connection, Keeper, News};
use crate::midi::WantedPort;
use crate::quiet::restore_stderr_if_hung;
use crate::spares::Spares;
use crate::stream::ByteStream;
use crate::{LinkKeeper, LinkNews, PortState};
use chaconne_clock::Meter;
use chaconne_engine::PortIx;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// How often it checks everything.
const INTERVAL: Duration = Duration::from_millis(50);
/// How long it waits before it tries an absent port again.
const RETRY: Duration = Duration::from_millis(250);

/// What it reports to the scheduler.
#[derive(Debug)]
pub(crate) enum Arrival {
    /// The port is connected, through a new connection.
    Opened(PortIx, Connection),
    /// The port is connected again, through the old connection.
    Found(PortIx),
    /// The far end is gone.
    Gone(PortIx),
}

/// What the scheduler no longer needs, to be freed.
#[derive(Debug)]
#[expect(dead_code, reason = "held to be dropped")]
pub(crate) enum Discard {
    /// A system-exclusive message.
    Bytes(Arc<[u8]>),
    /// A connection that was replaced or cannot be used again.
    Connection(Connection),
}

/// A port to watch.
#[derive(Debug)]
pub(crate) struct WatchedPort {
    pub port: PortIx,
    keeper: Keeper,
    /// When to try it next.
    next: Instant,
}

impl WatchedPort {
    pub fn new(port: PortIx, keeper: Keeper) -> WatchedPort {
        WatchedPort { port, keeper, next: Instant::now() }
    }
}

/// The porter's thread; it ends when this is dropped.
#[derive(Debug)]
pub(crate) struct Porter {
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<PorterWork>>,
}

/// The thread's state.
#[derive(Debug)]
pub(crate) struct PorterWork {
    pub watches: Vec<WatchedPort>,
    pub patience: Duration,
    pub arrivals: rtrb::Producer<Arrival>,
    pub discards: rtrb::Consumer<Discard>,
    pub scheduler: Thread,
    pub meter: Arc<Meter>,
    pub spares: Arc<Spares>,
}

impl Porter {
    pub fn start(mut work: PorterWork) -> std::io::Result<Porter> {
        let over = Arc::new(AtomicBool::new(false));
        let start = Instant::now();
        let thread = {
            let over = over.clone();
            thread::Builder::new().name("porter".to_string()).spawn(move || {
                while !over.load(Relaxed) {
                    work.go(start);
                    thread::park_timeout(INTERVAL);
                }
                work.drop_discards();
                work
            })?
        };
        Ok(Porter { over, thread: Some(thread) })
    }

    /// Ends the thread and returns its state. Dropping that closes the ports it watches.
    pub fn end(mut self) -> Option<PorterWork> {
        self.stop()
    }

    fn stop(&mut self) -> Option<PorterWork> {
        self.over.store(true, Relaxed);
        let thread = self.thread.take()?;
        thread.thread().unpark();
        // Its panic was reported on its own thread.
        thread.join().ok()
    }
}

impl Drop for Porter {
    fn drop(&mut self) {
        self.stop();
    }
}

impl PorterWork {
    fn go(&mut self, start: Instant) {
        self.drop_discards();
        restore_stderr_if_hung();
        let mut watches = std::mem::take(&mut self.watches);
        for watch in &mut watches {
            self.look_after(watch, start);
        }
        self.watches = watches;
    }

    fn drop_discards(&mut self) {
        while self.discards.pop().is_ok() {}
    }

    fn look_after(&mut self, watch: &mut WatchedPort, start: Instant) {
        // Without room to report news, do not look for any.
        if self.arrivals.is_full() {
            return;
        }
        let index = usize::from(watch.port.0);
        let state = self.meter.state(index);
        if state == PortState::Waiting && start.elapsed() > self.patience {
            self.meter.set_state(index, PortState::Silent);
        }
        let news = match &mut watch.keeper {
            Keeper::Bytes(path) => self.look_at_stream(index, state, path, &mut watch.next),
            Keeper::Midi(wanted) => look_at_midi(state, wanted),
            Keeper::Jack(jack) => jack.look(state),
            Keeper::Linked(keeper) => look_at_link(state, &mut **keeper),
        };
        self.meter.set_ambiguity(index, watch.keeper.ambiguity());
        let arrival = match news {
            None => return,
            Some(News::Gone) => Arrival::Gone(watch.port),
            Some(News::Found) => Arrival::Found(watch.port),
            Some(News::Opened(connection)) => Arrival::Opened(watch.port, connection),
        };
        // Only this thread fills the queue, so there is room.
        let _ = self.arrivals.push(arrival);
        self.scheduler.unpark();
    }

    fn look_at_stream(
        &self,
        index: usize,
        state: PortState,
        path: &Path,
        next: &mut Instant,
    ) -> Option<News> {
        if state == PortState::Open {
            let is_gone = self.spares.is_gone(index);
            if is_gone {
                self.spares.set(index, None);
            }
            return is_gone.then_some(News::Gone);
        }
        // The scheduler closes the stream; this handle must not keep it open.
        self.spares.set(index, None);
        if Instant::now() < *next {
            return None;
        }
        *next = Instant::now() + RETRY;
        let stream = ByteStream::reopen(path).ok()??;
        self.spares.set(index, Some(&stream));
        Some(News::Opened(Connection::Bytes(stream)))
    }
}

/// A port that is listed but cannot be opened is tried again at the next look.
fn look_at_midi(state: PortState, wanted: &mut WantedPort) -> Option<News> {
    let is_open = state == PortState::Open;
    match (is_open, wanted.look(is_open)?) {
        (true, false) => Some(News::Gone),
        (false, true) => wanted.open_out().ok().map(|out| News::Opened(Connection::Midi(out))),
        _ => None,
    }
}

fn look_at_link(state: PortState, keeper: &mut dyn LinkKeeper) -> Option<News> {
    Some(match keeper.look(state == PortState::Open)? {
        LinkNews::Gone => News::Gone,
        LinkNews::Opened(link) => News::Opened(Connection::Linked(link)),
    })
}
