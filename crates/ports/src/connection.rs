//! The connection through which an output sends, and the keeper that watches its far end.

use super::jack::{JackKeeper, JackLine, JackOut, open_out};
use super::link::{Link, LinkKeeper};
use super::midi::{MidiOut, WantedPort};
use super::stream::ByteStream;
use super::{PortError, PortState};
use std::path::PathBuf;

/// A connection of an output. It is created and dropped on threads that may wait, and used by the
/// scheduler.
#[derive(Debug)]
pub(crate) enum Connection {
    /// A byte stream.
    Bytes(ByteStream),
    /// A port of the system's MIDI service.
    Midi(MidiOut),
    /// A JACK port.
    Jack(JackLine),
    /// A link provided by the caller.
    Linked(Box<dyn Link>),
}

/// Watches the far end of an output. It may wait.
#[derive(Debug)]
pub(crate) enum Keeper {
    /// Looks for a reader of the stream.
    Bytes(PathBuf),
    /// Looks for the port in the service's list.
    Midi(WantedPort),
    /// Asks the thread that looks after the JACK port.
    Jack(JackWatch),
    /// Asks the caller's keeper.
    Linked(Box<dyn LinkKeeper>),
}

/// A JACK port's keeper, and what the scheduler already knows of it.
#[derive(Debug)]
pub(crate) struct JackWatch {
    keeper: JackKeeper,
    /// The number of the connection that the scheduler knows.
    known: u64,
    /// The scheduler's end of a new port, kept here until the port is connected.
    held: Option<JackLine>,
}

/// A change that the scheduler must know about.
#[derive(Debug)]
pub(crate) enum News {
    /// The far end is gone.
    Gone,
    /// The far end is back, on the same connection.
    Found,
    /// The far end is connected, through a new connection.
    Opened(Connection),
}

/// Opens a JACK port. Returns the scheduler's end (if a server is running), the port's keeper, and
/// why it is not connected yet.
pub(crate) fn open_jack(
    name: &str,
) -> Result<(Option<JackLine>, JackWatch, Option<PortError>), PortError> {
    let JackOut { line, keeper, notice } = open_out(name)?;
    let known = keeper.joined().unwrap_or(0);
    Ok((line, JackWatch { keeper, known, held: None }, notice))
}

impl Keeper {
    /// Why the port is not connected although some ports match its name, in one sentence; otherwise
    /// empty.
    pub fn ambiguity(&self) -> String {
        match self {
            Keeper::Bytes(_) | Keeper::Linked(_) => String::new(),
            Keeper::Midi(wanted) => wanted.ambiguity().to_string(),
            Keeper::Jack(watch) => watch.keeper.ambiguity(),
        }
    }
}

impl JackWatch {
    /// What has changed, if the scheduler believes the port is in `state`.
    pub fn look(&mut self, state: PortState) -> Option<News> {
        // Read this first: the keeper hands over a new end before it connects it, so a connected
        // port's end is already here.
        let joined = self.keeper.joined();
        if let Some(line) = self.keeper.fresh() {
            self.held = Some(line);
        }
        match (state, joined) {
            (PortState::Open, Some(join)) if join == self.known && self.held.is_none() => None,
            // A connection lost and restored between two looks counts as gone.
            (PortState::Open, _) => Some(News::Gone),
            (_, Some(join)) => {
                self.known = join;
                let opened = |line| News::Opened(Connection::Jack(line));
                Some(self.held.take().map_or(News::Found, opened))
            }
            (_, None) => None,
        }
    }
}
