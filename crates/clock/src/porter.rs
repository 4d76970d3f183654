//! The porter: what the scheduler thread must not do itself, on a thread that may wait.
//!
//! It opens byte ports when somebody comes to the other end, tells the scheduler when somebody
//! has gone from one, and drops what the scheduler is done with.

use crate::meter::Meter;
use crate::ports::PortState;
use crate::ports::line::Line;
use crate::spares::Spares;
use chaconne_engine::PortIx;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// How often it goes round.
const ROUND: Duration = Duration::from_millis(50);
/// How long until a port that is not there is tried again.
const RETRY: Duration = Duration::from_millis(250);

/// What it tells the scheduler.
#[derive(Debug)]
pub(crate) enum Arrival {
    /// Somebody is at the other end.
    Opened(PortIx, Line),
    /// Nobody is there any more.
    Gone(PortIx),
}

/// What the scheduler is done with: it is only to be dropped.
#[derive(Debug)]
#[expect(dead_code, reason = "held to be dropped")]
pub(crate) enum Discard {
    /// A system-exclusive message.
    Bytes(Arc<[u8]>),
    /// A stream that was replaced.
    Line(Line),
}

/// A port to be looked after.
#[derive(Debug)]
pub(crate) struct Watch {
    pub port: PortIx,
    pub path: PathBuf,
    /// When it is tried next.
    next: Instant,
}

impl Watch {
    pub fn new(port: PortIx, path: PathBuf) -> Watch {
        Watch { port, path, next: Instant::now() }
    }
}

/// The porter's thread; it ends when this is dropped.
#[derive(Debug)]
pub(crate) struct Porter {
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// What the thread works with.
pub(crate) struct Round {
    pub watches: Vec<Watch>,
    pub patience: Duration,
    pub arrivals: rtrb::Producer<Arrival>,
    pub discards: rtrb::Consumer<Discard>,
    pub scheduler: Thread,
    pub meter: Arc<Meter>,
    pub spares: Arc<Spares>,
}

impl Porter {
    pub fn start(mut round: Round) -> std::io::Result<Porter> {
        let over = Arc::new(AtomicBool::new(false));
        let start = Instant::now();
        let thread = {
            let over = over.clone();
            thread::Builder::new().name("porter".to_string()).spawn(move || {
                while !over.load(Relaxed) {
                    round.go(start);
                    thread::park_timeout(ROUND);
                }
                round.drop_discards();
            })?
        };
        Ok(Porter { over, thread: Some(thread) })
    }
}

impl Drop for Porter {
    fn drop(&mut self) {
        self.over.store(true, Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // Its panic has been reported on its own thread.
            let _ = thread.join();
        }
    }
}

impl Round {
    fn go(&mut self, start: Instant) {
        self.drop_discards();
        let mut watches = std::mem::take(&mut self.watches);
        for watch in &mut watches {
            self.look_after(watch, start);
        }
        self.watches = watches;
    }

    fn drop_discards(&mut self) {
        while self.discards.pop().is_ok() {}
    }

    fn look_after(&mut self, watch: &mut Watch, start: Instant) {
        let index = usize::from(watch.port.0);
        match self.meter.state(index) {
            PortState::Open if self.spares.is_gone(index) => {
                self.spares.set(index, None);
                self.tell(Arrival::Gone(watch.port));
            }
            PortState::Open => {}
            state => {
                // The scheduler closes the stream; this hold on it must not keep it open.
                self.spares.set(index, None);
                if state == PortState::Waiting && start.elapsed() > self.patience {
                    self.meter.set_state(index, PortState::Silent);
                }
                self.try_to_open(watch);
            }
        }
    }

    fn try_to_open(&mut self, watch: &mut Watch) {
        if Instant::now() < watch.next {
            return;
        }
        watch.next = Instant::now() + RETRY;
        if let Ok(Some(line)) = Line::reopen(&watch.path) {
            self.spares.set(usize::from(watch.port.0), Some(&line));
            self.tell(Arrival::Opened(watch.port, line));
        }
    }

    /// Where the scheduler has not taken what it was told before, it is told again next time.
    fn tell(&mut self, arrival: Arrival) {
        let _ = self.arrivals.push(arrival);
        self.scheduler.unpark();
    }
}
