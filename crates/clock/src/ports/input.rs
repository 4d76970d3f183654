//! Inputs: messages with the moment they arrived, told on a thread of the input's own.

use super::feed::Feed;
use super::midi::MidiIn;
use super::reader::Reader;
use super::{PortError, PortSpec, PortState};
use crate::monotonic::now;
use crate::urgency::{Role, hurry};
use chaconne_engine::Message;
use chaconne_time::Ns;
use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// What an input tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum InputEvent {
    /// A message. Active sensing is not told: it is used up here.
    Message(Message),
    /// A system-exclusive message, whole, F0 and F7 included, at most 65,536 bytes.
    SysEx(Vec<u8>),
    /// Whoever played is gone (unplugged, closed, or silent after active sensing): what is held
    /// must be released. The input goes on listening.
    Lost,
}

/// What an input's thread shares with its handle.
#[derive(Debug)]
pub(crate) struct Shared {
    over: AtomicBool,
    state: AtomicU8,
    strays: AtomicU64,
}

impl Shared {
    fn new(state: PortState) -> Arc<Shared> {
        let (over, strays) = (AtomicBool::new(false), AtomicU64::new(0));
        Arc::new(Shared { over, state: AtomicU8::new(state as u8), strays })
    }

    pub fn is_over(&self) -> bool {
        self.over.load(Relaxed)
    }

    pub fn set_state(&self, state: PortState) {
        self.state.store(state as u8, Relaxed);
    }

    pub fn set_strays(&self, strays: u64) {
        self.strays.store(strays, Relaxed);
    }
}

/// An open input. Dropping it ends its thread; on Unix the sink is not called any more after
/// that.
pub struct Input {
    name: String,
    shared: Arc<Shared>,
    midi: Option<MidiIn>,
    thread: Option<JoinHandle<()>>,
}

/// Opens the input that `spec` names. `sink` is called on a thread of the input's own, with the
/// moment of arrival on [`now`](crate::now)'s clock, taken before anything else is done. It must
/// not wait for long: what arrives meanwhile is stamped late.
pub fn open_input(
    spec: &PortSpec,
    sink: impl FnMut(Ns, InputEvent) + Send + 'static,
) -> Result<Input, PortError> {
    let name = spec.to_string();
    let feed = Feed::new(Box::new(sink));
    match spec {
        PortSpec::None => {
            let shared = Shared::new(PortState::Silent);
            Ok(Input { name, shared, midi: None, thread: None })
        }
        PortSpec::Midi(port) => open_midi(name, port, feed),
        PortSpec::Bytes(path) => {
            let refused = |why| PortError::Open { spec: name.clone(), why };
            let reader = Reader::open(path).map_err(refused)?;
            let run = move |shared: &Shared| reader.run(feed, shared);
            Input::start(name, None, run)
        }
    }
}

/// A port of the system's service calls by itself; the thread looks after active sensing.
fn open_midi(name: String, port: &str, feed: Feed) -> Result<Input, PortError> {
    let feed = Arc::new(Mutex::new(feed));
    let midi = MidiIn::open(port, feed.clone())?;
    Input::start(name, Some(midi), move |shared| {
        while !shared.is_over() {
            let mut feed = feed.lock().unwrap_or_else(PoisonError::into_inner);
            feed.look(now());
            shared.set_strays(feed.stray());
            drop(feed);
            thread::park_timeout(Duration::from_millis(50));
        }
    })
}

impl Input {
    fn start(
        name: String,
        midi: Option<MidiIn>,
        run: impl FnOnce(&Shared) + Send + 'static,
    ) -> Result<Input, PortError> {
        let shared = Shared::new(PortState::Open);
        let work = {
            let shared = shared.clone();
            thread::Builder::new().name("input".to_string()).spawn(move || {
                hurry(Role::Input);
                run(&shared);
            })
        };
        let refused = |error: std::io::Error| PortError::Open {
            spec: name.clone(),
            why: format!("no thread for it: {error}"),
        };
        let thread = Some(work.map_err(refused)?);
        Ok(Input { name, shared, midi, thread })
    }

    /// What the port is called: its spec.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is there: [`PortState::Lost`] from the time its sender went until the next
    /// byte, [`PortState::Silent`] where nothing more will come.
    pub fn state(&self) -> PortState {
        PortState::from_code(self.shared.state.load(Relaxed))
    }

    /// How many bytes belonged to no message.
    pub fn strays(&self) -> u64 {
        self.shared.strays.load(Relaxed)
    }
}

impl Drop for Input {
    fn drop(&mut self) {
        self.midi = None;
        self.shared.over.store(true, Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // Elsewhere a read cannot be broken off: the thread ends after the next byte.
            if cfg!(unix) || thread.is_finished() {
                // A panic in the sink has been reported on its own thread.
                let _ = thread.join();
            }
        }
    }
}

impl fmt::Debug for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Input").field("name", &self.name).field("state", &self.state()).finish()
    }
}
