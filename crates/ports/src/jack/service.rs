//! The JACK library and its server: the ports that exist, and a client of ours with one port.
//!
//! Everything here may wait for the server, and is called only on threads that may wait.

use super::client_name::{ClientName, Wish};
use super::frames;
use super::line::{CallbackState, ahead};
use super::shutdown::{
    ShutdownHandler, ShutdownNotice, allow_new_server, is_server_gone, server_missed,
};
use crate::quiet::{quietly, restore_stderr};
use crate::{PortError, PortList};
use chaconne_time::Ns;
use jack::{AsyncClient, Client, ClientOptions, Port, PortFlags, ProcessHandler, Unowned};
use std::sync::atomic::{
    AtomicUsize,
    Ordering::{Relaxed, SeqCst},
};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// The client name used only to list ports, so that it takes none of the ports' own names.
const LIST_CLIENT: &str = "chaconne-list";
/// JACK's name for the type of MIDI ports.
const MIDI: &str = "8 bit raw midi";
/// A client whose callback has not been called for this long has lost its server: 700 ms, or four
/// blocks if that is longer.
const SILENCE: Duration = Duration::from_millis(700);
/// How long a callback may take to rest, in addition to three blocks: 50 ms.
const RESTS: Duration = Duration::from_millis(50);
/// How long a new connection may take to show: 500 ms.
const JOIN: Duration = Duration::from_millis(500);

/// The ports of a JACK server, and its timing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JackPorts {
    /// The ports that `jack:NAME` can name.
    pub ports: PortList,
    /// The number of frames per block.
    pub block: u32,
    /// The number of frames per second.
    pub rate: u32,
    /// How early messages are handed over to it, in nanoseconds before their due time.
    pub ahead: Ns,
}

/// The MIDI ports of the JACK server.
///
/// # Errors
/// If no server answers.
pub fn list_jack_ports() -> Result<JackPorts, PortError> {
    // A server that hangs would block this thread for ever.
    let (sender, answer) = std::sync::mpsc::channel();
    let work = move || look_once(|list| sender.send(list).ok());
    let spawned = std::thread::Builder::new().name("jack".to_string()).spawn(work);
    spawned.map_err(|_| PortError::NoJack)?;
    answer.recv_timeout(super::keeper::ANSWER).unwrap_or_else(|_| {
        restore_stderr();
        Err(PortError::NoJack)
    })
}

/// Passes the list to `report` before it closes the client, because closing can hang too.
fn look_once<T>(report: impl FnOnce(Result<JackPorts, PortError>) -> T) -> T {
    let _opening = Opening::begin();
    match ask_for_client(&Wish::Like(LIST_CLIENT.to_string())) {
        Ok((client, _own)) => {
            let reported = report(Ok(look(&client)));
            // Standard error is not silenced here: the caller may already be writing the answer to
            // it.
            drop(client);
            reported
        }
        Err(Denied::Absent(error)) => report(Err(error)),
        Err(Denied::Taken) => report(Err(PortError::NoJack)),
    }
}

fn look(client: &Client) -> JackPorts {
    let list = |flags| names(client, flags);
    let ports = PortList { inputs: list(PortFlags::IS_OUTPUT), outputs: list(PortFlags::IS_INPUT) };
    let (block, rate) = (client.buffer_size(), client.sample_rate());
    JackPorts { ports, block, rate, ahead: ahead(frames::length(block, rate)) }
}

/// The names of all MIDI ports with these flags, except this process's own.
fn names(client: &Client, flags: PortFlags) -> Vec<String> {
    let mut names = client.ports(None, Some(MIDI), flags);
    let own = own_clients();
    names.retain(|name| {
        let owner = name.split_once(':').map_or("", |(client, _)| client);
        !own.clients.iter().any(|client| client == owner)
    });
    names
}

/// The clients of this process. The library has one state for all of them: a client on a new server
/// may only be opened when those of the old server are closed.
#[derive(Default)]
struct OwnClients {
    clients: Vec<String>,
}

fn own_clients() -> MutexGuard<'static, OwnClients> {
    static OWN_CLIENTS: Mutex<OwnClients> = Mutex::new(OwnClients { clients: Vec::new() });
    OWN_CLIENTS.lock().unwrap_or_else(PoisonError::into_inner)
}

/// An entry in [`OwnClients`]. Drop it after the client.
#[derive(Debug)]
struct ClientPlace(String);

impl ClientPlace {
    fn new(name: &str) -> ClientPlace {
        own_clients().clients.push(name.to_string());
        ClientPlace(name.to_string())
    }
}

impl Drop for ClientPlace {
    fn drop(&mut self) {
        let mut own_clients = own_clients();
        if let Some(index) = own_clients.clients.iter().position(|name| *name == self.0) {
            own_clients.clients.swap_remove(index);
        }
        if own_clients.clients.is_empty() {
            allow_new_server();
        }
    }
}

/// How many clients of this process are being opened.
static OPENINGS: AtomicUsize = AtomicUsize::new(0);
/// How long opening one client waits for another: 1 s.
const TURN: Duration = Duration::from_secs(1);

/// Held while a client is being opened; the next client waits until it is dropped. A client that is
/// not yet open does not learn that its server has gone, so the next one could already reach a new
/// server while the library still has state of the old one.
#[derive(Debug)]
struct Opening;

impl Opening {
    fn begin() -> Opening {
        let begin = Instant::now();
        while OPENINGS.compare_exchange(0, 1, SeqCst, SeqCst).is_err() {
            if begin.elapsed() > TURN {
                // If the other one hangs, stop waiting for it.
                OPENINGS.fetch_add(1, SeqCst);
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        Opening
    }
}

impl Drop for Opening {
    fn drop(&mut self) {
        OPENINGS.fetch_sub(1, SeqCst);
    }
}

/// A client of this process that is opened elsewhere, such as the sound's. Hold this while the
/// client is open, and drop it after the client is closed.
#[derive(Debug)]
pub struct JackGuest {
    shutdown_notice: ShutdownNotice,
    /// Held until the client is open.
    opening: Option<Opening>,
    _place: ClientPlace,
}

impl JackGuest {
    /// Call this once the client is open: it will now learn when its server has gone, so others may be
    /// opened.
    pub fn opened(&mut self) {
        self.opening = None;
    }

    /// Whether the server of this process's clients is gone. Then this client must be closed too,
    /// even if it belongs to a server that has started since.
    pub fn is_over(&self) -> bool {
        is_server_gone()
    }

    /// The handler to notify when the client learns that its server is shutting down.
    pub fn shutdown_notice(&self) -> ShutdownNotice {
        self.shutdown_notice.clone()
    }

    /// If the server is shutting down, waits until it has told the client everything, for at most
    /// two seconds. Call this before closing the client: the library cannot close it in between.
    pub fn wait_for_end(&self) {
        self.shutdown_notice.wait();
    }
}

/// A place for a client of this process on the JACK server; take it before opening the client. `None`
/// until all clients of an old server are closed, because a new client would crash the library.
pub fn jack_guest() -> Option<JackGuest> {
    let (shutdown_notice, opening) = (ShutdownNotice::default(), Some(Opening::begin()));
    (!is_server_gone()).then(|| JackGuest {
        shutdown_notice,
        opening,
        _place: ClientPlace::new(""),
    })
}

/// Why a client could not be opened.
enum Denied {
    /// Another client has the name.
    Taken,
    /// There is no server, or no library.
    Absent(PortError),
}

/// No server answers.
const NO_SERVER: Denied = Denied::Absent(PortError::NoJack);

/// Opens a client under the name it should have.
fn open_client(name: &mut ClientName) -> Result<(Client, ClientPlace), PortError> {
    loop {
        let wish = name.wish();
        match ask_for_client(&wish) {
            Ok((client, place)) => {
                name.given(client.name());
                return Ok((client, place));
            }
            Err(Denied::Absent(error)) => return Err(error),
            Err(Denied::Taken) => name.refused(),
        }
        if name.wish() == wish {
            // It will be asked for again later.
            return Err(PortError::NoJack);
        }
    }
}

fn ask_for_client(wish: &Wish) -> Result<(Client, ClientPlace), Denied> {
    if is_server_gone() {
        return Err(Denied::Absent(PortError::NoJack));
    }
    quietly(|| {
        // Check first: every other call into the library panics if it is missing.
        jack::jack_sys::library().map_err(|_| Denied::Absent(PortError::NoJackLibrary))?;
        jack::set_logger(jack::LoggerType::None);
        let name = match wish {
            Wish::Exactly(name) => name,
            Wish::Like(name) => return ask(name, ClientOptions::empty()).ok_or(NO_SERVER),
        };
        if let Some(client) = ask(name, ClientOptions::USE_EXACT_NAME) {
            return Ok(client);
        }
        // The library does not say whether the name was the reason. If the server accepts another
        // name but still not this one, it was.
        let _list_client = ask(LIST_CLIENT, ClientOptions::empty()).ok_or(NO_SERVER)?;
        ask(name, ClientOptions::USE_EXACT_NAME).ok_or(Denied::Taken)
    })
}

fn ask(name: &str, options: ClientOptions) -> Option<(Client, ClientPlace)> {
    let (client, _) = Client::new(name, options | ClientOptions::NO_START_SERVER).ok()?;
    let place = ClientPlace::new(client.name());
    Some((client, place))
}

/// What differs between an output and an input.
pub(super) trait Side: Send + Sync + 'static {
    /// The process callback.
    type Process: ProcessHandler + 'static;
    /// The other end of the callback's queue.
    type End: Send + 'static;
    /// The kind of port, for error messages.
    const KIND: &'static str;
    /// The flags of the ports to which it can be connected.
    const PEERS: PortFlags;

    /// Creates our port.
    fn register(
        &self,
        client: &Client,
        shared: &Arc<CallbackState>,
    ) -> Result<Opened<Self>, jack::Error>
    where
        Self: Sized;

    /// Connects our port to a peer's.
    fn join(client: &Client, own: &str, peer: &str) -> Result<(), jack::Error>;
}

/// Our port, once it is open.
pub(super) struct Opened<S: Side> {
    pub own: Port<Unowned>,
    pub process: S::Process,
    pub end: S::End,
}

/// A client of ours with its port.
pub(super) struct Session<S: Side> {
    client: Option<AsyncClient<ShutdownHandler, S::Process>>,
    own: Port<Unowned>,
    shared: Arc<CallbackState>,
    /// The block count when it last changed, and when that was.
    beat: (u64, Instant),
    shutdown_notice: ShutdownNotice,
    /// The length of a block when that was last checked.
    period: Ns,
    _place: ClientPlace,
}

impl<S: Side> Session<S> {
    /// A new client with our port, not connected to anything.
    pub fn open(side: &S, name: &mut ClientName) -> Result<(Session<S>, S::End), PortError> {
        let _opening = Opening::begin();
        let (client, place) = open_client(name)?;
        let shared = CallbackState::new(client.buffer_size(), client.sample_rate());
        let opened = side.register(&client, &shared).map_err(|_| PortError::NoJack)?;
        let Opened { own, process, end } = opened;
        let shutdown_notice = ShutdownNotice::default();
        let handler = ShutdownHandler::new(shared.clone(), shutdown_notice.clone());
        let client = quietly(|| client.activate_async(handler, process));
        let client = Some(client.map_err(|_| PortError::NoJack)?);
        let (beat, period) = ((0, Instant::now()), shared.period());
        Ok((Session { client, own, shared, beat, shutdown_notice, period, _place: place }, end))
    }

    /// The ports that ours can be connected to.
    pub fn peers(&self) -> Vec<String> {
        self.client.as_ref().map_or(Vec::new(), |client| names(client.as_client(), S::PEERS))
    }

    /// Connects our port to a peer, and waits for the next block, when the connection shows. Returns
    /// whether it is connected.
    pub fn join(&self, peer: &str) -> bool {
        if let Some(client) = &self.client
            && let Ok(own) = self.own.name()
            && quietly(|| S::join(client.as_client(), &own, peer)).is_ok()
        {
            let start = Instant::now();
            while !self.is_joined() && start.elapsed() < JOIN {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
        self.is_joined()
    }

    /// Whether our port is connected to any other.
    pub fn is_joined(&self) -> bool {
        self.own.connected_count().is_ok_and(|count| count > 0)
    }

    /// Whether the server is gone: it has told any client of this process so, or it has made no call
    /// for too long. If a server is running again, it is a new one that does not know this client. A
    /// client that was opened on the new server meanwhile is closed too, because new clients may be
    /// opened only when all old ones are closed.
    pub fn is_dead(&mut self) -> bool {
        if self.shared.gone.load(SeqCst) || is_server_gone() {
            return true;
        }
        let blocks = self.shared.blocks.load(Relaxed);
        if blocks != self.beat.0 {
            self.beat = (blocks, Instant::now());
        }
        let blocks = Duration::from_nanos(4 * self.shared.period().max(0) as u64);
        self.beat.1.elapsed() > SILENCE.max(blocks)
    }

    /// Whether the length of a block has changed since the last call.
    pub fn changes_blocks(&mut self) -> bool {
        let period = self.shared.period();
        std::mem::replace(&mut self.period, period) != period
    }

    /// Tells the other end of the queue that the server is gone.
    pub fn lose_server(&self) {
        server_missed(&self.shared);
    }
}

impl<S: Side> Drop for Session<S> {
    fn drop(&mut self) {
        self.shutdown_notice.wait();
        if !self.shared.gone.load(SeqCst) {
            let blocks = Duration::from_nanos(3 * self.shared.period().max(0) as u64);
            self.shared.rest.ask(blocks + RESTS);
        }
        let client = self.client.take();
        quietly(|| drop(client));
    }
}
