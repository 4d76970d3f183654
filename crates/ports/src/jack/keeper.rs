//! A thread that keeps one of our JACK ports connected to its peer.
//!
//! In: a name. Out: whether the port is connected, how many times it has been connected, and the end
//! of a new port when a server is back. It is a separate thread because a server that hangs blocks
//! its callers: then only this thread is stuck.

use super::client_name::ClientName;
use super::service::{Session, Side};
use crate::PortError;
use crate::names::{ambiguity, find_again, pick};
use crate::quiet::restore_stderr;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::SeqCst};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How often it checks.
const LOOK: Duration = Duration::from_millis(100);
/// How long it waits before it tries an absent server again.
const RETRY: Duration = Duration::from_millis(500);
/// How long a server may take to answer.
pub(super) const ANSWER: Duration = Duration::from_secs(3);

/// What the thread and its handle share.
#[derive(Debug, Default)]
struct KeeperState {
    over: AtomicBool,
    joined: AtomicBool,
    joins: AtomicU64,
    ambiguity: Mutex<String>,
}

/// The result of the first attempt.
pub(super) struct First<S: Side> {
    /// `None` if no server is running yet.
    pub end: Option<S::End>,
    /// Why our port is not connected, if so.
    pub notice: Option<PortError>,
}

/// The thread's handle. Dropping it closes our port.
pub(super) struct Keeper<S: Side> {
    shared: Arc<KeeperState>,
    fresh: Receiver<S::End>,
    thread: Option<JoinHandle<()>>,
}

impl<S: Side> Keeper<S> {
    /// Opens our port, connects it if its peer exists, and looks after it from then on. If no
    /// server is running, the port is opened when one starts.
    pub fn start(side: S, name: &str) -> Result<(Keeper<S>, First<S>), PortError> {
        let shared = Arc::new(KeeperState::default());
        let (tell_first, first) = channel();
        let (tell_fresh, fresh) = channel();
        let work = Work {
            side,
            name: name.to_string(),
            full: None,
            client: ClientName::new(),
            session: None,
            next: Instant::now(),
            shared: shared.clone(),
            fresh: tell_fresh,
        };
        let refused = |why: String| PortError::Open { spec: format!("jack:{name}"), why };
        let spawn = thread::Builder::new().name("jack".to_string());
        let thread = spawn.spawn(move || work.run(&tell_first));
        let thread = Some(thread.map_err(|error| {
            refused(format!("the system cannot start a thread for it: {error}"))
        })?);
        let keeper = Keeper { shared, fresh, thread };
        match first.recv_timeout(ANSWER) {
            Ok(first) => first.map(|first| (keeper, first)),
            Err(_) => {
                restore_stderr();
                Err(refused("the JACK server does not answer".to_string()))
            }
        }
    }

    /// How many times our port has been connected, if it is connected now.
    pub fn joined(&self) -> Option<u64> {
        let joins = self.shared.joins.load(SeqCst);
        self.shared.joined.load(SeqCst).then_some(joins)
    }

    /// Why our port is not connected although some ports match its name, in one sentence; otherwise
    /// empty.
    pub fn ambiguity(&self) -> String {
        self.shared.ambiguity.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The end of a new port, if one had to be created. It is available before that port is
    /// [connected](Keeper::joined).
    pub fn fresh(&self) -> Option<S::End> {
        self.fresh.try_iter().last()
    }
}

impl<S: Side> Drop for Keeper<S> {
    fn drop(&mut self) {
        self.shared.over.store(true, SeqCst);
        let Some(thread) = self.thread.take() else { return };
        thread.thread().unpark();
        let start = Instant::now();
        while !thread.is_finished() && start.elapsed() < ANSWER {
            thread::sleep(Duration::from_millis(1));
        }
        if thread.is_finished() {
            // Its panic was reported on its own thread.
            let _ = thread.join();
        }
    }
}

/// The thread's state.
struct Work<S: Side> {
    side: S,
    name: String,
    /// The peer's full name, once it has been found.
    full: Option<String>,
    session: Option<Session<S>>,
    /// Our client's name, free for others once the client is closed.
    client: ClientName,
    /// When to look for a server next.
    next: Instant,
    shared: Arc<KeeperState>,
    fresh: Sender<S::End>,
}

impl<S: Side> Work<S> {
    fn run(mut self, first: &Sender<Result<First<S>, PortError>>) {
        let opened = self.open_first();
        let is_open = opened.is_ok();
        if first.send(opened).is_err() || !is_open {
            return;
        }
        while !self.shared.over.load(SeqCst) {
            thread::park_timeout(LOOK);
            self.look();
        }
    }

    fn open_first(&mut self) -> Result<First<S>, PortError> {
        let (session, end) = match Session::open(&self.side, &mut self.client) {
            Ok(opened) => opened,
            Err(PortError::NoJack) => {
                self.next = Instant::now() + RETRY;
                let notice = Some(PortError::no_server_for(&self.name));
                return Ok(First { end: None, notice });
            }
            Err(error) => return Err(error),
        };
        let peers = session.peers();
        let mut notice = None;
        match pick(S::KIND, &self.name, &peers) {
            Ok(index) if self.join(&session, &peers[index]) => {}
            Ok(_) => {
                let why = "JACK refuses to connect to it".to_string();
                notice = Some(PortError::Open { spec: format!("jack:{}", self.name), why });
            }
            Err(error @ PortError::Unknown { .. }) => notice = Some(error),
            Err(error) => return Err(error),
        }
        self.session = Some(session);
        Ok(First { end: Some(end), notice })
    }

    fn look(&mut self) {
        let Some(mut session) = self.session.take() else { return self.open_again() };
        if session.is_dead() {
            self.shared.joined.store(false, SeqCst);
            self.set_ambiguity(String::new());
            session.lose_server();
            return;
        }
        if session.changes_blocks() && self.shared.joined.load(SeqCst) {
            // Report a new connection, because the port now needs its messages earlier or later.
            self.joined();
        }
        self.look_at_peer(&session);
        self.session = Some(session);
    }

    /// Checks whether a server is running again.
    fn open_again(&mut self) {
        if Instant::now() < self.next {
            return;
        }
        self.next = Instant::now() + RETRY;
        if let Ok((session, end)) = Session::open(&self.side, &mut self.client) {
            // Sent before the port is connected, so that whoever sees it connected has its end.
            // Fails only if the handle is gone, and then nobody needs it.
            let _ = self.fresh.send(end);
            self.look_at_peer(&session);
            self.session = Some(session);
        }
    }

    fn look_at_peer(&mut self, session: &Session<S>) {
        if session.is_joined() {
            // Someone may have connected it by hand.
            if !self.shared.joined.load(SeqCst) {
                self.set_ambiguity(String::new());
                self.joined();
            }
            return;
        }
        self.shared.joined.store(false, SeqCst);
        let peers = session.peers();
        let again = self.full.as_deref().and_then(|full| find_again(full, &peers));
        match again.map_or_else(|| pick(S::KIND, &self.name, &peers), Ok) {
            Ok(index) => {
                self.set_ambiguity(String::new());
                self.join(session, &peers[index]);
            }
            Err(error) => self.set_ambiguity(ambiguity(&error)),
        }
    }

    fn set_ambiguity(&self, sentence: String) {
        *self.shared.ambiguity.lock().unwrap_or_else(PoisonError::into_inner) = sentence;
    }

    fn join(&mut self, session: &Session<S>, peer: &str) -> bool {
        let is_joined = session.join(peer);
        if is_joined {
            self.full = Some(peer.to_string());
            self.joined();
        }
        is_joined
    }

    fn joined(&self) {
        self.shared.joins.fetch_add(1, SeqCst);
        self.shared.joined.store(true, SeqCst);
    }
}
