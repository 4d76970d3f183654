//! The JACK library and its server: what ports there are, and one client of ours with one port.
//!
//! Everything here may wait for the server, and is called on threads that may.

use super::client_name::{ClientName, Wish};
use super::fall::{Fall, LastWord, is_fallen, missed, rise};
use super::frames;
use super::line::{Shared, ahead};
use crate::quiet::{aloud, quietly};
use crate::{PortError, PortList};
use chaconne_time::Ns;
use jack::{AsyncClient, Client, ClientOptions, Port, PortFlags, ProcessHandler, Unowned};
use std::sync::atomic::{
    AtomicUsize,
    Ordering::{Relaxed, SeqCst},
};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// What the server shows whoever only looks as: none of the names that ports go by.
const LOOKER: &str = "chaconne-list";
/// What JACK calls the type of MIDI ports.
const MIDI: &str = "8 bit raw midi";
/// A client whose callback has not been called for so long has lost its server: 700 ms, or four
/// blocks where that is more.
const SILENCE: Duration = Duration::from_millis(700);
/// How long a callback may take to rest, beside three blocks: 50 ms.
const RESTS: Duration = Duration::from_millis(50);
/// How long it may take until a port that was joined shows it: 500 ms.
const JOIN: Duration = Duration::from_millis(500);

/// The ports of a JACK server, and how it plays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JackPorts {
    /// The ports that `jack:NAME` can name.
    pub ports: PortList,
    /// How many frames a block has.
    pub block: u32,
    /// How many frames a second has.
    pub rate: u32,
    /// How early events are handed over to it, in nanoseconds.
    pub ahead: Ns,
}

/// The MIDI ports of the JACK server. An error where none answers.
pub fn list_jack_ports() -> Result<JackPorts, PortError> {
    // A server that hangs would keep us waiting for ever.
    let (tell, told) = std::sync::mpsc::channel();
    let work = move || look_once(|list| tell.send(list).ok());
    let spawned = std::thread::Builder::new().name("jack".to_string()).spawn(work);
    spawned.map_err(|_| PortError::NoJack)?;
    told.recv_timeout(super::keeper::ANSWER).unwrap_or_else(|_| {
        aloud();
        Err(PortError::NoJack)
    })
}

/// Told before the client is closed, since that can hang, too.
fn look_once<T>(tell: impl FnOnce(Result<JackPorts, PortError>) -> T) -> T {
    let _opening = Opening::begin();
    match ask_for_client(&Wish::Like(LOOKER.to_string())) {
        Ok((client, _own)) => {
            let told = tell(Ok(look(&client)));
            // Not quietly: what was told may be on its way to standard error.
            drop(client);
            told
        }
        Err(Denied::Absent(error)) => tell(Err(error)),
        Err(Denied::Taken) => tell(Err(PortError::NoJack)),
    }
}

fn look(client: &Client) -> JackPorts {
    let list = |flags| names(client, flags);
    let ports = PortList { inputs: list(PortFlags::IS_OUTPUT), outputs: list(PortFlags::IS_INPUT) };
    let (block, rate) = (client.buffer_size(), client.sample_rate());
    JackPorts { ports, block, rate, ahead: ahead(frames::length(block, rate)) }
}

/// The names of all MIDI ports of a kind but this process's own.
fn names(client: &Client, flags: PortFlags) -> Vec<String> {
    let mut names = client.ports(None, Some(MIDI), flags);
    let own = house();
    names.retain(|name| {
        let owner = name.split_once(':').map_or("", |(client, _)| client);
        !own.clients.iter().any(|client| client == owner)
    });
    names
}

/// The clients of this process. The library keeps one place for all of them: one for a new server
/// may only be opened when those of a server that is gone are closed.
#[derive(Default)]
struct House {
    clients: Vec<String>,
}

fn house() -> MutexGuard<'static, House> {
    static HOUSE: Mutex<House> = Mutex::new(House { clients: Vec::new() });
    HOUSE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A client's place in the house; to be dropped after the client.
#[derive(Debug)]
struct Tenant(String);

impl Tenant {
    fn new(name: &str) -> Tenant {
        house().clients.push(name.to_string());
        Tenant(name.to_string())
    }
}

impl Drop for Tenant {
    fn drop(&mut self) {
        let mut house = house();
        if let Some(index) = house.clients.iter().position(|name| *name == self.0) {
            house.clients.swap_remove(index);
        }
        if house.clients.is_empty() {
            rise();
        }
    }
}

/// How many clients of this process are being opened.
static OPENINGS: AtomicUsize = AtomicUsize::new(0);
/// How long one waits for another: 1 s.
const TURN: Duration = Duration::from_secs(1);

/// A client is being opened. Until that is done nobody tells it that its server has gone, so the next
/// one waits: it may find a new server already, while the library still has a place on the old one.
#[derive(Debug)]
struct Opening;

impl Opening {
    fn begin() -> Opening {
        let begin = Instant::now();
        while OPENINGS.compare_exchange(0, 1, SeqCst, SeqCst).is_err() {
            if begin.elapsed() > TURN {
                // One that hangs keeps nobody waiting.
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

/// A client of this process that is opened elsewhere, as for the sound; to be held for as long as
/// that is open, and let go after it is closed.
#[derive(Debug)]
pub struct JackGuest {
    last_word: LastWord,
    /// Until it is open.
    opening: Option<Opening>,
    _tenant: Tenant,
}

impl JackGuest {
    /// The client is open, so that it would be told if its server went: others may be opened.
    pub fn opened(&mut self) {
        self.opening = None;
    }

    /// Whether the server of this process's clients is gone: then this client is to be closed, too,
    /// though it may be one of a server that has come meanwhile.
    pub fn is_over(&self) -> bool {
        is_fallen()
    }

    /// What is to be told when the client is told that its server goes.
    pub fn last_word(&self) -> LastWord {
        self.last_word.clone()
    }

    /// Where the server is going, waits until it has told the client all, for two seconds at most.
    /// To be called before the client is closed: the library cannot close it in between.
    pub fn wait_for_end(&self) {
        self.last_word.wait();
    }
}

/// A place for a client of this process on the JACK server, to be taken before it is opened. `None`
/// while clients of a server that is gone are not closed yet: a new one would crash the library.
pub fn jack_guest() -> Option<JackGuest> {
    let (last_word, opening) = (LastWord::default(), Some(Opening::begin()));
    (!is_fallen()).then(|| JackGuest { last_word, opening, _tenant: Tenant::new("") })
}

/// Why there is no client.
enum Denied {
    /// Another has the name.
    Taken,
    /// There is no server, or no library.
    Absent(PortError),
}

/// No server answers.
const NO_SERVER: Denied = Denied::Absent(PortError::NoJack);

/// A client of the name it is to have.
fn open_client(name: &mut ClientName) -> Result<(Client, Tenant), PortError> {
    loop {
        let wish = name.wish();
        match ask_for_client(&wish) {
            Ok((client, tenant)) => {
                name.given(client.name());
                return Ok((client, tenant));
            }
            Err(Denied::Absent(error)) => return Err(error),
            Err(Denied::Taken) => name.refused(),
        }
        if name.wish() == wish {
            // It is asked for again later.
            return Err(PortError::NoJack);
        }
    }
}

fn ask_for_client(wish: &Wish) -> Result<(Client, Tenant), Denied> {
    if is_fallen() {
        return Err(Denied::Absent(PortError::NoJack));
    }
    quietly(|| {
        // Asked first: every other call to the library panics where it is missing.
        jack::jack_sys::library().map_err(|_| Denied::Absent(PortError::NoJackLibrary))?;
        jack::set_logger(jack::LoggerType::None);
        let name = match wish {
            Wish::Exactly(name) => name,
            Wish::Like(name) => return ask(name, ClientOptions::empty()).ok_or(NO_SERVER),
        };
        if let Some(client) = ask(name, ClientOptions::USE_EXACT_NAME) {
            return Ok(client);
        }
        // The library does not say whether the name was the reason. Where the server answers to
        // another, and not to this one after that, it was.
        let _looker = ask(LOOKER, ClientOptions::empty()).ok_or(NO_SERVER)?;
        ask(name, ClientOptions::USE_EXACT_NAME).ok_or(Denied::Taken)
    })
}

fn ask(name: &str, options: ClientOptions) -> Option<(Client, Tenant)> {
    let (client, _) = Client::new(name, options | ClientOptions::NO_START_SERVER).ok()?;
    let tenant = Tenant::new(client.name());
    Some((client, tenant))
}

/// What an output and an input do differently.
pub(super) trait Side: Send + Sync + 'static {
    /// What JACK calls.
    type Process: ProcessHandler + 'static;
    /// The other end of it.
    type End: Send + 'static;
    /// What is looked for, in words.
    const KIND: &'static str;
    /// Which ports can be joined.
    const PEERS: PortFlags;

    /// Makes our port.
    fn register(&self, client: &Client, shared: &Arc<Shared>) -> Result<Opened<Self>, jack::Error>
    where
        Self: Sized;

    /// Joins our port to another.
    fn join(client: &Client, own: &str, peer: &str) -> Result<(), jack::Error>;
}

/// Our port, made.
pub(super) struct Opened<S: Side> {
    pub own: Port<Unowned>,
    pub process: S::Process,
    pub end: S::End,
}

/// A client of ours that plays or listens.
pub(super) struct Session<S: Side> {
    client: Option<AsyncClient<Fall, S::Process>>,
    own: Port<Unowned>,
    shared: Arc<Shared>,
    /// How many blocks there were when that last changed, and when it did.
    beat: (u64, Instant),
    last_word: LastWord,
    /// How long a block was when that was last asked.
    period: Ns,
    _tenant: Tenant,
}

impl<S: Side> Session<S> {
    /// A new client with our port, not joined to anything.
    pub fn open(side: &S, name: &mut ClientName) -> Result<(Session<S>, S::End), PortError> {
        let _opening = Opening::begin();
        let (client, tenant) = open_client(name)?;
        let shared = Shared::new(client.buffer_size(), client.sample_rate());
        let opened = side.register(&client, &shared).map_err(|_| PortError::NoJack)?;
        let Opened { own, process, end } = opened;
        let last_word = LastWord::default();
        let fall = Fall::new(shared.clone(), last_word.clone());
        let client = quietly(|| client.activate_async(fall, process));
        let client = Some(client.map_err(|_| PortError::NoJack)?);
        let (beat, period) = ((0, Instant::now()), shared.period());
        Ok((Session { client, own, shared, beat, last_word, period, _tenant: tenant }, end))
    }

    /// The ports that ours can be joined to.
    pub fn peers(&self) -> Vec<String> {
        self.client.as_ref().map_or(Vec::new(), |client| names(client.as_client(), S::PEERS))
    }

    /// Joins our port to a peer. Whether it is joined, which shows at the next block.
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

    /// Whether our port is joined to any.
    pub fn is_joined(&self) -> bool {
        self.own.connected_count().is_ok_and(|count| count > 0)
    }

    /// Whether the server is gone: it has said so to any client of this process, or it has not
    /// called for long. A server that is back by now is another, of which this client knows nothing;
    /// one that was opened meanwhile is closed with the rest, since only then a new one may be.
    pub fn is_dead(&mut self) -> bool {
        if self.shared.gone.load(SeqCst) || is_fallen() {
            return true;
        }
        let blocks = self.shared.blocks.load(Relaxed);
        if blocks != self.beat.0 {
            self.beat = (blocks, Instant::now());
        }
        let blocks = Duration::from_nanos(4 * self.shared.period().max(0) as u64);
        self.beat.1.elapsed() > SILENCE.max(blocks)
    }

    /// Whether the server has another length of blocks than when this was last asked.
    pub fn changes_blocks(&mut self) -> bool {
        let period = self.shared.period();
        std::mem::replace(&mut self.period, period) != period
    }

    /// The server is gone: whoever holds the other end is told.
    pub fn fall(&self) {
        missed(&self.shared);
    }
}

impl<S: Side> Drop for Session<S> {
    fn drop(&mut self) {
        self.last_word.wait();
        if !self.shared.gone.load(SeqCst) {
            let blocks = Duration::from_nanos(3 * self.shared.period().max(0) as u64);
            self.shared.rest.ask(blocks + RESTS);
        }
        let client = self.client.take();
        quietly(|| drop(client));
    }
}
