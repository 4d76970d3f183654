//! The engine thread: the one place where the engine lives while it runs on the real clock.
//!
//! In: requests and what is played, each with the moment it was stamped. Out: orders to the
//! scheduler, the target of through-play, snapshots, and jobs for the disk. It may wait and
//! allocate; the scheduler, which may not, is 100 ms behind.

use crate::disk::{DiskState, Job};
use crate::export::Extent;
use crate::following::Following;
use crate::replace::{Replace, WriteError};
use chaconne_engine::{
    Action, Command, Engine, Input, LiveTarget, Order, PortIx, Refused, Status, Transport,
};
use chaconne_ports::{Monitor, Orders, PortState, Switch, ThruTarget, now};
use chaconne_song::Song;
use chaconne_time::{Ns, Tick};
use crossbeam_channel::{Receiver, Sender, TryRecvError, select};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How far ahead of the clock the song is performed: 100 ms.
const AHEAD: Ns = 100_000_000;
/// How often it turns while the transport runs.
const TURN: Duration = Duration::from_millis(5);
/// How often it turns while nothing moves.
const IDLE: Duration = Duration::from_millis(50);
/// How often the ports are looked at.
const LOOK: Duration = Duration::from_millis(50);
/// A hold-up longer than this stops the transport: 2 s. The process was stopped, and what it has
/// missed must not come all at once.
const HELD_UP: Ns = 2_000_000_000;
/// How many requests and messages are taken a turn.
const MOST: usize = 4096;
/// How long the scheduler may take to read its queue at the end.
const LONGEST_END: Duration = Duration::from_millis(500);

/// A request, and the moment it was made.
#[derive(Debug)]
pub(crate) struct Asked {
    pub stamp: Ns,
    pub request: Request,
}

/// What can be asked of the engine thread.
#[derive(Debug)]
pub(crate) enum Request {
    /// Something about the music.
    Command(Command, Sender<Result<(), Refused>>),
    /// A tap for the tempo, made at that moment.
    Tap(Ns),
    /// Another song in this one's place, and the file it has; told once it is there.
    Open(Box<Song>, Option<PathBuf>, Sender<()>),
    /// A song that was read back from this rescue copy, in this one's place; told once it is there.
    Restore(Box<Song>, PathBuf, Sender<()>),
    /// The rescue copy is not wanted.
    RemoveRescue,
    /// The song to the disk.
    Save(Option<PathBuf>, Replace),
    /// A Standard MIDI File to the disk.
    Export(PathBuf, Extent, Replace, Sender<Result<usize, WriteError>>),
    /// When a tick falls, where that is known yet.
    When(Tick, Sender<Option<Ns>>),
    /// Stop, release everything, and end the thread.
    End,
}

/// Something played.
#[derive(Debug)]
pub(crate) struct Played {
    pub stamp: Ns,
    pub source: u8,
    pub input: Input,
}

/// What the engine thread shares with whoever watches.
#[derive(Debug)]
pub(crate) struct Shared {
    status: Mutex<Arc<Status>>,
    /// Orders that wait for room in the scheduler's queue.
    pub waiting: AtomicUsize,
    /// Messages that found no room in the queue to the engine.
    pub unheard: AtomicU64,
}

impl Shared {
    pub fn new(status: Status) -> Shared {
        let status = Mutex::new(Arc::new(status));
        Shared { status, waiting: AtomicUsize::new(0), unheard: AtomicU64::new(0) }
    }

    pub fn status(&self) -> Arc<Status> {
        Arc::clone(&self.status.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn publish(&self, status: Status) {
        let status = Arc::new(status);
        let mut place = self.status.lock().unwrap_or_else(PoisonError::into_inner);
        let before = std::mem::replace(&mut *place, status);
        drop(place);
        // The last one may hold the only copy of a song: it is freed after the lock is let go.
        drop(before);
    }
}

/// How far ahead the engine must perform where rounds are closed so long after their seam: input
/// that is stamped before the seam and comes a little later still finds its round open.
pub(crate) fn lookahead(grace: Ns) -> Ns {
    AHEAD + grace
}

/// The engine and all it is joined to.
pub(crate) struct EngineThread {
    pub engine: Engine,
    pub requests: Receiver<Asked>,
    pub played: Receiver<Played>,
    pub orders: Orders,
    pub switch: Switch,
    pub monitor: Monitor,
    /// The through-play of every input.
    pub targets: Vec<ThruTarget>,
    pub jobs: Sender<Job>,
    pub disk: DiskState,
    pub shared: Arc<Shared>,
    /// How long after its seam a round is closed.
    pub grace: Ns,
    /// How much before it is due the earliest port is served, as the engine knows it.
    pub early: Ns,
    /// The clock that is followed, if any.
    pub following: Option<Following>,
}

impl EngineThread {
    /// Turns through-play to the armed track, so that keys are heard from the start on.
    pub fn prepare(self) -> Turning {
        let mut turning = Turning {
            backlog: VecDeque::new(),
            target: None,
            polled: now(),
            open: open_ports(&self.monitor),
            looked: Instant::now(),
            all_free: self.orders.room(),
            thread: self,
        };
        let target = turning.thread.engine.live_target();
        turning.aim(target);
        turning
    }

    /// Waits for something to do; what came.
    fn wait(&self, limit: Duration) -> Vec<Came> {
        let mut came = Vec::new();
        select! {
            recv(self.requests) -> asked => came.push(asked.map_or_else(gone, Came::from)),
            recv(self.played) -> played => came.extend(played.ok().map(Came::from)),
            default(limit) => {}
        }
        while came.len() < MOST {
            match self.requests.try_recv() {
                Ok(asked) => came.push(asked.into()),
                Err(TryRecvError::Empty | TryRecvError::Disconnected) => break,
            }
        }
        while came.len() < MOST {
            let Ok(played) = self.played.try_recv() else { break };
            came.push(played.into());
        }
        came.sort_by_key(Came::stamp);
        came
    }
}

/// Something that came to the engine thread.
enum Came {
    Asked(Asked),
    Played(Played),
}

impl From<Asked> for Came {
    fn from(asked: Asked) -> Came {
        Came::Asked(asked)
    }
}

impl From<Played> for Came {
    fn from(played: Played) -> Came {
        Came::Played(played)
    }
}

impl Came {
    fn stamp(&self) -> Ns {
        match self {
            Came::Asked(asked) => asked.stamp,
            Came::Played(played) => played.stamp,
        }
    }
}

/// Nobody is left to ask: the same as being told to end.
fn gone(_: crossbeam_channel::RecvError) -> Came {
    Came::Asked(Asked { stamp: now(), request: Request::End })
}

/// An answer that is given once the snapshot shows what it is about.
type Answer = (Sender<Result<(), Refused>>, Result<(), Refused>);

/// The thread's own state.
pub(crate) struct Turning {
    thread: EngineThread,
    /// Orders that found the queue full, in their order.
    backlog: VecDeque<Order>,
    target: Option<LiveTarget>,
    /// The moment the engine was last polled with.
    polled: Ns,
    /// Which ports were open when they were last looked at.
    open: Vec<bool>,
    looked: Instant,
    /// The room there is in an empty queue of orders.
    all_free: usize,
}

impl Turning {
    /// Turns until it is told to end, or nobody is left to ask.
    pub fn run(mut self) {
        self.hand_on();
        while self.turn() {}
        self.end();
    }

    /// One turn; whether there is another.
    fn turn(&mut self) -> bool {
        let moves = self.thread.shared.status().transport != Transport::Stopped;
        let limit = match (self.backlog.is_empty(), moves) {
            (false, _) => Duration::from_millis(1),
            (true, true) => TURN,
            (true, false) => IDLE,
        };
        let came = self.thread.wait(limit);
        if moves && now() - self.polled > HELD_UP {
            // Stopping is never refused. It counts from before the hold-up.
            let _ = self.thread.engine.command(self.polled, Command::Stop);
        }
        let mut answers = Vec::new();
        let mut goes_on = true;
        for one in came {
            match one {
                Came::Played(played) => self.take(played),
                Came::Asked(Asked { stamp, request }) => {
                    goes_on &= self.obey(stamp, request, &mut answers);
                }
            }
        }
        let now = now();
        if let Some(following) = &mut self.thread.following {
            following.look(&mut self.thread.engine, now);
        }
        // Only recording has rounds that wait for what comes late.
        let recording = self.thread.shared.status().recording;
        let grace = if recording { self.thread.grace } else { 0 };
        self.polled = self.polled.max(now - grace);
        self.keep_ahead();
        self.thread.engine.poll(self.polled);
        self.look_at_ports();
        let target = self.thread.engine.live_target();
        self.aim(target);
        self.hand_on();
        self.publish(now);
        for (reply, answer) in answers {
            // Whoever asked may have stopped waiting.
            let _ = reply.send(answer);
        }
        goes_on
    }

    /// Takes what was played, or what the clock that is followed says.
    fn take(&mut self, played: Played) {
        let Played { stamp, source, input } = played;
        let EngineThread { engine, following, .. } = &mut self.thread;
        if let Some(following) = following
            && following.hear(stamp, source, &input, engine, now())
        {
            return;
        }
        engine.input(stamp, source, input);
    }

    /// Does what is asked; whether the thread goes on.
    fn obey(&mut self, stamp: Ns, request: Request, answers: &mut Vec<Answer>) -> bool {
        let engine = &mut self.thread.engine;
        match request {
            Request::Command(command, reply) => {
                answers.push((reply, engine.command(stamp, command)));
            }
            Request::Tap(at) => {
                // A refusal is in the status; there is nobody to answer.
                let _ = engine.tapped(stamp, at);
            }
            Request::Open(song, path, reply) => {
                if engine.command(stamp, Command::Open(song)).is_ok() {
                    let revision = engine.revision();
                    self.write(Job::Opened { path, revision, reply });
                }
            }
            Request::Restore(song, copy, reply) => {
                if engine.command(stamp, Command::Open(song)).is_ok() {
                    let revision = engine.revision();
                    self.write(Job::Restored { copy, revision, reply });
                }
            }
            Request::RemoveRescue => self.write(Job::RemoveRescue),
            Request::Save(path, replace) => {
                let (song, revision) = (Arc::clone(engine.song()), engine.revision());
                self.write(Job::Save { song, revision, path, replace });
            }
            Request::Export(path, extent, replace, reply) => {
                let song = Arc::clone(engine.song());
                self.write(Job::Export { song, extent, path, replace, reply });
            }
            Request::When(at, reply) => {
                let known = engine.tick_at(self.polled + lookahead(self.thread.grace));
                let ns = known.filter(|&known| at <= known).and_then(|_| engine.ns_at(at));
                // Whoever asked may have stopped waiting.
                let _ = reply.send(ns);
            }
            Request::End => return false,
        }
        true
    }

    fn write(&self, job: Job) {
        if self.thread.jobs.send(job).is_err() {
            let mut disk = self.thread.disk.get();
            disk.attempts += 1;
            let sentence = "nothing can be written: the disk thread has ended".to_string();
            disk.error = Some(sentence.into());
        }
    }

    /// Has the engine perform earlier or later where the scheduler must get its orders so. What is
    /// due in the first moments after a port has come back is then ordered at once.
    fn keep_ahead(&mut self) {
        let early = self.thread.monitor.early();
        let more = early - self.thread.early;
        if more != 0 {
            self.thread.early = early;
            self.thread.engine.be_earlier(more);
        }
    }

    /// Turns through-play to the armed track.
    fn aim(&mut self, target: Option<LiveTarget>) {
        if target != self.target {
            self.target = target;
            let to = target.map(|target| (target.port, target.channel));
            self.thread.targets.iter().for_each(|thru| thru.set(to));
        }
    }

    /// Sends the settings of a port's tracks again when it has come back.
    fn look_at_ports(&mut self) {
        if self.looked.elapsed() < LOOK {
            return;
        }
        self.looked = Instant::now();
        let open = open_ports(&self.thread.monitor);
        for (index, (&is, &was)) in open.iter().zip(&self.open).enumerate() {
            if is && !was {
                self.thread.engine.set_up_port(PortIx(index as u8));
            }
        }
        self.open = open;
    }

    /// Hands orders on in their order, as far as there is room; the rest waits. The scheduler is
    /// woken only where it would not read them in time by itself.
    fn hand_on(&mut self) {
        self.backlog.extend(self.thread.engine.take_orders());
        let mut urgent = false;
        while let Some(order) = self.backlog.pop_front() {
            let hurries = self.hurries(&order);
            // Places are kept free for lifts and for orders that are not cues; a cue is not even
            // tried there, since each try that fails is counted as a loss.
            let refused = if self.thread.orders.room() == 0 && is_deferrable(&order) {
                Err(order)
            } else {
                self.thread.orders.put(order)
            };
            urgent |= hurries || refused.is_err();
            if let Err(order) = refused {
                self.backlog.push_front(order);
                break;
            }
        }
        if urgent {
            self.thread.orders.wake();
        }
        self.thread.shared.waiting.store(self.backlog.len(), Relaxed);
    }

    /// Whether the scheduler must read an order before it would by itself: all but cues that are
    /// far ahead.
    fn hurries(&self, order: &Order) -> bool {
        let Order::Play(cue) = order else { return true };
        let soon = now() + self.thread.early + 2 * Orders::UNREAD;
        self.thread.engine.ns_at(cue.at).is_none_or(|due| due < soon)
    }

    fn publish(&self, now: Ns) {
        self.thread.shared.publish(self.thread.engine.status(now));
    }

    /// Stops, and waits until the scheduler has read it.
    fn end(&mut self) {
        // After a signal the scheduler is shut: what is on its way is void, and only then it may
        // be opened for the messages that stop others.
        self.drain();
        self.thread.switch.resume();
        // Stopping is never refused.
        let _ = self.thread.engine.command(now(), Command::Stop);
        self.drain();
        self.publish(now());
    }

    fn drain(&mut self) {
        let start = Instant::now();
        self.hand_on();
        while start.elapsed() < LONGEST_END {
            if self.backlog.is_empty() && self.thread.orders.room() >= self.all_free {
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
            self.hand_on();
        }
    }
}

/// Which ports take what is sent.
fn open_ports(monitor: &Monitor) -> Vec<bool> {
    let ports = monitor.stats().ports;
    ports.iter().map(|port| port.state == PortState::Open).collect()
}

/// Whether an order can wait for room: a cue that is no lift.
fn is_deferrable(order: &Order) -> bool {
    matches!(order, Order::Play(cue) if !matches!(cue.action, Action::Lift { .. }))
}
