//! What joins an output to whoever is at the other end, and what looks after that.

use super::jack::{JackKeeper, JackLine, JackOut, open_out};
use super::line::Line;
use super::link::{Link, LinkKeeper};
use super::midi::{MidiOut, MidiSeat};
use super::{PortError, PortState};
use std::path::PathBuf;

/// Something to send through. Made and dropped on threads that may wait, used by the scheduler's.
#[derive(Debug)]
pub(crate) enum Connection {
    /// A byte stream.
    Line(Line),
    /// A port of the system's MIDI service.
    Midi(MidiOut),
    /// A JACK port.
    Jack(JackLine),
    /// What was made elsewhere.
    Linked(Box<dyn Link>),
}

/// What looks after the far end of an output. It may wait.
#[derive(Debug)]
pub(crate) enum Keeper {
    /// Looks for whoever reads the stream.
    Line(PathBuf),
    /// Looks for the port in the service's list.
    Midi(MidiSeat),
    /// Asks the JACK port's own thread.
    Jack(JackWatch),
    /// Asks whoever made it.
    Linked(Box<dyn LinkKeeper>),
}

/// A JACK port's keeper, and what of it was dealt with.
#[derive(Debug)]
pub(crate) struct JackWatch {
    keeper: JackKeeper,
    /// Which join the scheduler knows of.
    known: u64,
    /// The end of a new port, until that is joined.
    held: Option<JackLine>,
}

/// What there is to tell the scheduler of a port.
#[derive(Debug)]
pub(crate) enum News {
    /// Nobody is at the other end any more.
    Gone,
    /// The peer is back, on the same connection.
    Found,
    /// Somebody is there, on a new connection.
    Opened(Connection),
}

/// A JACK port, opened: the scheduler's end, where a server is there, its keeper, and why nobody
/// is at the other end yet.
pub(crate) fn open_jack(
    name: &str,
) -> Result<(Option<JackLine>, JackWatch, Option<PortError>), PortError> {
    let JackOut { line, keeper, notice } = open_out(name)?;
    let known = keeper.joined().unwrap_or(0);
    Ok((line, JackWatch { keeper, known, held: None }, notice))
}

impl Keeper {
    /// Why nothing is opened though there are ports that could be meant, in one sentence; else
    /// empty.
    pub fn hindrance(&self) -> String {
        match self {
            Keeper::Line(_) | Keeper::Linked(_) => String::new(),
            Keeper::Midi(seat) => seat.hindrance().to_string(),
            Keeper::Jack(watch) => watch.keeper.hindrance(),
        }
    }
}

impl JackWatch {
    /// What has changed, for a scheduler that takes the port to be in this state.
    pub fn look(&mut self, state: PortState) -> Option<News> {
        // Asked before: a new end is told before it is joined, so it is not missed after that.
        let joined = self.keeper.joined();
        if let Some(line) = self.keeper.fresh() {
            self.held = Some(line);
        }
        match (state, joined) {
            (PortState::Open, Some(join)) if join == self.known && self.held.is_none() => None,
            // One that went and came back in between has gone, too.
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
