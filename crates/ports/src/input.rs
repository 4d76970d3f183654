//! Inputs: messages with their arrival times, delivered on the input's own thread.

use super::feed::Feed;
use super::jack::JackIn;
use super::midi::{Direction, MidiIn, WantedPort};
use super::reader::Reader;
use super::{InputEvent, PortError, PortSpec, PortState};
use crate::monotonic::now;
use crate::urgency::{Role, raise_priority};
use chaconne_time::Ns;
use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering::Relaxed};
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// What an input's thread shares with its handle.
#[derive(Debug)]
pub(crate) struct InputState {
    over: AtomicBool,
    state: AtomicU8,
    strays: AtomicU64,
    ambiguity: Mutex<String>,
}

impl InputState {
    fn new(state: PortState) -> Arc<InputState> {
        let (over, strays) = (AtomicBool::new(false), AtomicU64::new(0));
        let (state, ambiguity) = (AtomicU8::new(state as u8), Mutex::default());
        Arc::new(InputState { over, state, strays, ambiguity })
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

    /// Sets why it is not connected although some ports match its name.
    pub fn set_ambiguity(&self, sentence: String) {
        *self.ambiguity.lock().unwrap_or_else(PoisonError::into_inner) = sentence;
    }
}

/// An open input. Dropping it ends its thread, and the sink is not called again. (On systems other
/// than Unix, a byte port's sink may be called once more.)
pub struct Input {
    name: String,
    shared: Arc<InputState>,
    notice: Option<String>,
    thread: Option<JoinHandle<()>>,
    /// Whether the thread ends soon after a request.
    ends_soon: bool,
}

/// Opens the input that `spec` names. `sink` is called on the input's own thread, with the arrival
/// time on [`now`](crate::now)'s clock. For JACK that is the time of the message's frame, which may
/// be a block ahead; for other ports the clock is read before anything else is done. The sink must
/// not wait for long: except for JACK, messages that arrive meanwhile are stamped late. Active
/// sensing is handled here and not passed on, and a system-exclusive message of more than 65,536
/// bytes is dropped.
///
/// If the port, the JACK server, the device or the FIFO does not exist yet, the input waits for it.
///
/// # Errors
/// If the system's MIDI service or the JACK library is missing, the name matches several ports, or
/// the port cannot be opened.
pub fn open_input(
    spec: &PortSpec,
    sink: impl FnMut(Ns, InputEvent) + Send + 'static,
) -> Result<Input, PortError> {
    let name = spec.to_string();
    let feed = Feed::new(Box::new(sink));
    match spec {
        PortSpec::Sound => Err(PortError::Sound),
        PortSpec::None => {
            let shared = InputState::new(PortState::Silent);
            Ok(Input { name, shared, notice: None, thread: None, ends_soon: true })
        }
        PortSpec::Midi(port) => open_midi(name, port, feed),
        PortSpec::Jack(port) => open_jack(name, port.clone(), feed),
        PortSpec::Bytes(path) => {
            let refused = |why| PortError::Open { spec: name.clone(), why };
            let reader = Reader::open(path).map_err(refused)?;
            let notice = reader.is_absent().then(|| PortError::nothing_at(&name).to_string());
            let state = if notice.is_some() { PortState::Waiting } else { PortState::Open };
            let run = move |shared: &InputState| reader.run(feed, shared);
            let mut input = Input::start(name, state, notice, run)?;
            // Elsewhere a read cannot be interrupted: the thread ends after the next byte.
            input.ends_soon = cfg!(unix);
            Ok(input)
        }
    }
}

/// How often an input's thread checks active sensing and the far end.
const LOOK: Duration = Duration::from_millis(50);

/// The MIDI service calls us on its own thread. Ours checks active sensing, and whether the port
/// still exists.
fn open_midi(name: String, port: &str, feed: Feed) -> Result<Input, PortError> {
    let feed = Arc::new(Mutex::new(feed));
    let mut wanted = WantedPort::new(Direction::In, port);
    let (mut midi, notice) = match wanted.open_in(feed.clone()) {
        Ok(midi) => (Some(midi), None),
        Err(error @ PortError::Unknown { .. }) => (None, Some(error.to_string())),
        Err(error) => return Err(error),
    };
    let state = if midi.is_some() { PortState::Open } else { PortState::Waiting };
    Input::start(name, state, notice, move |shared| {
        while !shared.is_over() {
            look_at_midi(&mut midi, &mut wanted, &feed, shared);
            shared.set_ambiguity(wanted.ambiguity().to_string());
            let mut feed = feed.lock().unwrap_or_else(PoisonError::into_inner);
            feed.look(now());
            shared.set_strays(feed.stray());
            drop(feed);
            thread::park_timeout(LOOK);
        }
    })
}

/// Closes the port if it has gone, and opens it again when it is back.
fn look_at_midi(
    midi: &mut Option<MidiIn>,
    wanted: &mut WantedPort,
    feed: &Arc<Mutex<Feed>>,
    shared: &InputState,
) {
    match (midi.is_some(), wanted.look(midi.is_some())) {
        (true, Some(false)) => {
            *midi = None;
            feed.lock().unwrap_or_else(PoisonError::into_inner).cut(now());
            shared.set_state(PortState::Lost);
        }
        (false, Some(true)) => {
            *midi = wanted.open_in(feed.clone()).ok();
            if midi.is_some() {
                shared.set_state(PortState::Open);
            }
        }
        _ => {}
    }
}

/// Opens the port on the input's own thread, because JACK's callback must wake that thread.
fn open_jack(name: String, port: String, feed: Feed) -> Result<Input, PortError> {
    let (sender, answer) = channel();
    let spec = name.clone();
    let mut input = Input::start(name, PortState::Waiting, None, move |shared| {
        let jack = match JackIn::open(&port) {
            Ok(jack) => jack,
            Err(error) => return drop(sender.send(Err(error))),
        };
        if jack.is_joined() {
            shared.set_state(PortState::Open);
        }
        if sender.send(Ok(jack.notice())).is_ok() {
            jack.run(feed, shared);
        }
    })?;
    // The thread always answers in time.
    let gone = |_| PortError::Open { spec, why: "its thread has stopped".to_string() };
    input.notice = answer.recv().map_err(gone)??;
    Ok(input)
}

impl Input {
    fn start(
        name: String,
        state: PortState,
        notice: Option<String>,
        run: impl FnOnce(&InputState) + Send + 'static,
    ) -> Result<Input, PortError> {
        let shared = InputState::new(state);
        let work = {
            let shared = shared.clone();
            thread::Builder::new().name("input".to_string()).spawn(move || {
                raise_priority(Role::Input);
                run(&shared);
            })
        };
        let refused = |error: std::io::Error| PortError::Open {
            spec: name.clone(),
            why: format!("the system cannot start a thread for it: {error}"),
        };
        let thread = Some(work.map_err(refused)?);
        Ok(Input { name, shared, notice, thread, ends_soon: true })
    }

    /// The port's name: its spec.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Why it was not connected when it was opened, in one sentence. It still waits for its port.
    pub fn notice(&self) -> Option<&str> {
        self.notice.as_deref()
    }

    /// Whether it is connected: [`PortState::Lost`] from when its sender went until the next byte,
    /// [`PortState::Silent`] if nothing more will come.
    pub fn state(&self) -> PortState {
        PortState::from_code(self.shared.state.load(Relaxed))
    }

    /// Why it is not connected although some ports match its name, in one sentence; otherwise empty.
    pub fn ambiguity(&self) -> String {
        self.shared.ambiguity.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// How many data bytes belonged to no complete message.
    pub fn strays(&self) -> u64 {
        self.shared.strays.load(Relaxed)
    }
}

impl Drop for Input {
    fn drop(&mut self) {
        self.shared.over.store(true, Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            if self.ends_soon || thread.is_finished() {
                // A panic in the sink was reported on its own thread.
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
