//! The engine thread: the one place where the engine lives while it runs on the real clock.
//!
//! In: requests and what is played, each with the moment it was stamped. Out: orders to the
//! scheduler, the target of through-play, snapshots, and jobs for the disk. It may wait and
//! allocate; the scheduler, which may not, is 100 ms behind.

use crate::disk::{DiskState, Job};
use crate::export::Extent;
use crate::fingering::Announcer;
use crate::following::Following;
use crate::replace::{Replace, WriteError};
use crate::songs::AsOf;
use chaconne_engine::{
    Action, Command, Engine, Input, LiveTarget, Order, PortIx, Refused, Status, Transport,
};
use chaconne_ports::{Monitor, Orders, PortState, Switch, ThruTarget, now};
use chaconne_song::{Song, U7};
use chaconne_time::{Ns, Tick};
use crossbeam_channel::{Receiver, Sender, TryRecvError, select};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How far ahead of the clock the song is performed: 100 ms.
const AHEAD: Ns = 100_000_000;
/// The longest wait between turns while the transport runs.
const TURN: Duration = Duration::from_millis(5);
/// The longest wait between turns while the transport is stopped.
const IDLE: Duration = Duration::from_millis(50);
/// How often the ports are checked.
const LOOK: Duration = Duration::from_millis(50);
/// An interruption longer than this stops the transport: 2 s. The process was suspended, and what
/// it missed must not come out all at once.
const HELD_UP: Ns = 2_000_000_000;
/// The most requests and messages in one turn.
const MOST: usize = 4096;
/// How long to wait for the scheduler to read its queue at the end.
const LONGEST_END: Duration = Duration::from_millis(500);

/// A request, and when it was made, in nanoseconds.
#[derive(Debug)]
pub(crate) struct Asked {
    pub stamp: Ns,
    pub request: Request,
}

/// The requests to the engine thread.
#[derive(Debug)]
pub(crate) enum Request {
    /// A command to the engine.
    Command(Command, Sender<Result<(), Refused>>),
    /// A tap at this time, and how hard it was struck, if that is known.
    Tap(Ns, Option<U7>),
    /// Open another song, with its file, unless the song at hand has changed since then; the reply
    /// says whether it is open.
    Open(Box<Song>, Option<PathBuf>, Option<AsOf>, Sender<bool>),
    /// Open the song of this rescue copy, unless the song at hand has changed since then; the reply
    /// says whether it is open.
    Restore(Box<Song>, PathBuf, AsOf, Sender<bool>),
    /// Remove the rescue copy.
    RemoveRescue,
    /// Save the song.
    Save(Option<PathBuf>, Replace),
    /// Export a Standard MIDI File.
    Export(PathBuf, Extent, Replace, Sender<Result<usize, WriteError>>),
    /// When a tick falls, if that is known yet.
    When(Tick, Sender<Option<Ns>>),
    /// Stop, release everything, and end the thread.
    End,
}

/// A message from an input, with the time at which it was played, in nanoseconds.
#[derive(Debug)]
pub(crate) struct Played {
    pub stamp: Ns,
    pub source: u8,
    pub input: Input,
}

/// What the engine thread shares with the others.
#[derive(Debug)]
pub(crate) struct EngineShared {
    status: Mutex<Arc<Status>>,
    /// Orders that wait for room in the scheduler's queue.
    pub waiting: AtomicUsize,
    /// Messages that found the queue to the engine full.
    pub unheard: AtomicU64,
}

impl EngineShared {
    pub fn new(status: Status) -> EngineShared {
        let status = Mutex::new(Arc::new(status));
        EngineShared { status, waiting: AtomicUsize::new(0), unheard: AtomicU64::new(0) }
    }

    pub fn status(&self) -> Arc<Status> {
        Arc::clone(&self.status.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn publish(&self, status: Status) {
        let status = Arc::new(status);
        let mut place = self.status.lock().unwrap_or_else(PoisonError::into_inner);
        let before = std::mem::replace(&mut *place, status);
        drop(place);
        // It may hold the last reference to a song: free that after releasing the lock.
        drop(before);
    }
}

/// How far ahead the engine performs, in nanoseconds, if a round is closed `grace` after its seam.
/// Input that is stamped before the seam and arrives a little later still finds its round open.
pub(crate) fn lookahead(grace: Ns) -> Ns {
    AHEAD + grace
}

/// The engine and everything it is connected to.
pub(crate) struct EngineThread {
    pub engine: Engine,
    pub requests: Receiver<Asked>,
    pub played: Receiver<Played>,
    pub orders: Orders,
    pub switch: Switch,
    pub monitor: Monitor,
    /// The through-play of every input.
    pub targets: Vec<ThruTarget>,
    /// Tells every input what its keys play.
    pub announcer: Announcer,
    pub jobs: Sender<Job>,
    pub disk: DiskState,
    pub shared: Arc<EngineShared>,
    /// How long after its seam a round is closed, in nanoseconds.
    pub grace: Ns,
    /// How early the earliest port is served, in nanoseconds; the engine already performs that much
    /// earlier.
    pub early: Ns,
    /// The clock it follows, if any.
    pub following: Option<Following>,
}

impl EngineThread {
    /// Points through-play at the armed track, so that keys sound from the start.
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
        turning.tell_keys(now());
        turning
    }

    /// Waits for requests and played messages, and returns them in order of time.
    fn wait(&self, limit: Duration) -> Vec<Arrival> {
        let mut arrived = Vec::new();
        select! {
            recv(self.requests) -> asked => arrived.push(asked.map_or_else(gone, Arrival::from)),
            recv(self.played) -> played => arrived.extend(played.ok().map(Arrival::from)),
            default(limit) => {}
        }
        while arrived.len() < MOST {
            match self.requests.try_recv() {
                Ok(asked) => arrived.push(asked.into()),
                Err(TryRecvError::Empty | TryRecvError::Disconnected) => break,
            }
        }
        while arrived.len() < MOST {
            let Ok(played) = self.played.try_recv() else { break };
            arrived.push(played.into());
        }
        arrived.sort_by_key(Arrival::stamp);
        arrived
    }
}

/// What arrived at the engine thread.
enum Arrival {
    Asked(Asked),
    Played(Played),
}

impl From<Asked> for Arrival {
    fn from(asked: Asked) -> Arrival {
        Arrival::Asked(asked)
    }
}

impl From<Played> for Arrival {
    fn from(played: Played) -> Arrival {
        Arrival::Played(played)
    }
}

impl Arrival {
    fn stamp(&self) -> Ns {
        match self {
            Arrival::Asked(asked) => asked.stamp,
            Arrival::Played(played) => played.stamp,
        }
    }
}

/// Treats the loss of all senders as a request to end.
fn gone(_: crossbeam_channel::RecvError) -> Arrival {
    Arrival::Asked(Asked { stamp: now(), request: Request::End })
}

/// An answer, to be sent once the snapshot shows the effect.
type Answer = (Sender<Result<(), Refused>>, Result<(), Refused>);

/// The thread's state.
pub(crate) struct Turning {
    thread: EngineThread,
    /// Orders that found the queue full, in order.
    backlog: VecDeque<Order>,
    target: Option<LiveTarget>,
    /// The time of the last poll of the engine.
    polled: Ns,
    /// Which ports were open at the last check.
    open: Vec<bool>,
    looked: Instant,
    /// The capacity of the queue of orders.
    all_free: usize,
}

impl Turning {
    /// Runs until a request to end, or until all senders are gone.
    pub fn run(mut self) {
        self.hand_on();
        while self.turn() {}
        self.end();
    }

    /// One turn; returns whether there is another.
    fn turn(&mut self) -> bool {
        let moves = self.thread.shared.status().transport != Transport::Stopped;
        let limit = match (self.backlog.is_empty(), moves) {
            (false, _) => Duration::from_millis(1),
            (true, true) => TURN,
            (true, false) => IDLE,
        };
        let arrived = self.thread.wait(limit);
        if moves && now() - self.polled > HELD_UP {
            // Stop is never refused. It takes effect before the interruption.
            let _ = self.thread.engine.command(self.polled, Command::Stop);
        }
        let mut answers = Vec::new();
        let mut continues = true;
        for one in arrived {
            match one {
                Arrival::Played(played) => self.take(played),
                Arrival::Asked(Asked { stamp, request }) => {
                    continues &= self.obey(stamp, request, &mut answers);
                }
            }
        }
        let now = now();
        if let Some(following) = &mut self.thread.following {
            following.look(&mut self.thread.engine, now);
        }
        // Rounds only wait for late input while recording.
        let recording = self.thread.shared.status().recording;
        let grace = if recording { self.thread.grace } else { 0 };
        self.polled = self.polled.max(now - grace);
        self.keep_ahead();
        self.thread.engine.poll(self.polled);
        self.look_at_ports();
        let target = self.thread.engine.live_target();
        self.aim(target);
        self.tell_keys(now);
        self.hand_on();
        self.publish(now);
        for (reply, answer) in answers {
            // The caller may have stopped waiting.
            let _ = reply.send(answer);
        }
        continues
    }

    /// Takes a played message, or one of the followed clock.
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

    /// Carries out a request; returns whether the thread continues.
    fn obey(&mut self, stamp: Ns, request: Request, answers: &mut Vec<Answer>) -> bool {
        let engine = &mut self.thread.engine;
        match request {
            Request::Command(command, reply) => {
                answers.push((reply, engine.command(stamp, command)));
            }
            Request::Tap(at, struck) => {
                // A refusal shows in the status; no caller waits for an answer.
                let _ = engine.tapped(stamp, at, struck);
            }
            Request::Open(_, _, Some(as_of), reply) | Request::Restore(_, _, as_of, reply)
                if !as_of.holds(&engine.status(stamp)) =>
            {
                // The caller may have stopped waiting.
                let _ = reply.send(false);
            }
            Request::Open(song, path, _, reply) => {
                // Stopping is never refused.
                let _ = engine.command(stamp, Command::Stop);
                if engine.command(stamp, Command::Open(song)).is_ok() {
                    let revision = engine.revision();
                    let song = Arc::clone(engine.song());
                    self.write(Job::Opened { song, path, revision, reply });
                }
            }
            Request::Restore(song, copy, _, reply) => {
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
                // The caller may have stopped waiting.
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

    /// Makes the engine perform as early as the scheduler needs its orders. After a port has come
    /// back, the engine then orders at once what is due in the first moments.
    fn keep_ahead(&mut self) {
        let early = self.thread.monitor.early();
        let more = early - self.thread.early;
        if more != 0 {
            self.thread.early = early;
            self.thread.engine.perform_earlier(more);
        }
    }

    /// Tells the inputs what the keys of the armed track play.
    fn tell_keys(&mut self, now: Ns) {
        let EngineThread { engine, announcer, .. } = &mut self.thread;
        announcer.tell(engine, now);
    }

    /// Points through-play at the armed track.
    fn aim(&mut self, target: Option<LiveTarget>) {
        if target != self.target {
            self.target = target;
            let to = target.map(|target| (target.port, target.channel));
            self.thread.targets.iter().for_each(|thru| thru.set(to));
        }
    }

    /// Sends the settings of a port's tracks again after it has come back.
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

    /// Hands over as many orders as there is room for; the rest wait. Wakes the scheduler only if
    /// it would not read them in time by itself.
    fn hand_on(&mut self) {
        self.backlog.extend(self.thread.engine.take_orders());
        let mut urgent = false;
        while let Some(order) = self.backlog.pop_front() {
            let is_urgent = self.is_urgent(&order);
            // Some places are reserved for lifts and for orders that are not cues. A cue does not
            // even try them, since each failed try counts as a loss.
            let refused = if self.thread.orders.room() == 0 && is_deferrable(&order) {
                Err(order)
            } else {
                self.thread.orders.put(order)
            };
            urgent |= is_urgent || refused.is_err();
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

    /// Whether to wake the scheduler for an order: yes, except for cues far ahead.
    fn is_urgent(&self, order: &Order) -> bool {
        let Order::Play(cue) = order else { return true };
        let soon = now() + self.thread.early + 2 * Orders::UNREAD;
        self.thread.engine.ns_at(cue.at).is_none_or(|due| due < soon)
    }

    fn publish(&self, now: Ns) {
        self.thread.shared.publish(self.thread.engine.status(now));
    }

    /// Stops, and waits until the scheduler has read all orders.
    fn end(&mut self) {
        // After a signal the switch is off, and the scheduler discards what is queued. The switch
        // may only be turned on after that, to send the messages that stop other gear.
        self.drain();
        self.thread.switch.resume();
        // Stop is never refused.
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

/// Which ports are open.
fn open_ports(monitor: &Monitor) -> Vec<bool> {
    let ports = monitor.stats().ports;
    ports.iter().map(|port| port.state == PortState::Open).collect()
}

/// Whether an order can wait for room: cues can, except lifts.
fn is_deferrable(order: &Order) -> bool {
    matches!(order, Order::Play(cue) if !matches!(cue.action, Action::Lift { .. }))
}
