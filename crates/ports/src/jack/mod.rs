//! Ports of a JACK server, by name: events go out and come in at their frames.
//!
//! | file | job |
//! | --- | --- |
//! | `service.rs` | the library, the server, its ports; one client of ours |
//! | `client_name.rs` | what our clients are called, also after the server was started anew |
//! | `fall.rs` | that the server has gone, as the library tells it |
//! | `keeper.rs` | a thread that keeps a port joined to its peer, whoever goes and comes back |
//! | `line.rs` | the scheduler's end of an output: two wait-free queues |
//! | `callback.rs` | what JACK calls once a block |
//! | `rest.rs` | that it is to do no more, before it is closed |
//! | `pending.rs`, `frames.rs` | its order and its clock, without JACK |
//! | `ear.rs` | an input's thread |
//!
//! The library is opened at run time: without it there are no `jack:` ports and a sentence says
//! so. A server that does not run is waited for, but none is ever started from here.

mod callback;
mod client_name;
mod ear;
mod fall;
mod frames;
mod keeper;
mod line;
mod pending;
mod rest;
mod service;

pub(crate) use ear::Ear;
pub use fall::LastWord;
pub(crate) use line::{JackLine, LEAST_AHEAD};
pub use rest::Rest;
pub use service::{JackGuest, JackPorts, jack_guest, list_jack_ports};

use super::PortError;
use callback::Play;
use keeper::{First, Keeper};
use line::{FarEnd, Shared, line};
use service::{Opened, Side};
use std::sync::Arc;

/// Outputs: our port plays into the peer's input.
struct Out;

impl Side for Out {
    type Process = Play;
    type End = JackLine;
    const KIND: &'static str = "JACK output";
    const PEERS: jack::PortFlags = jack::PortFlags::IS_INPUT;

    fn register(
        &self,
        client: &jack::Client,
        shared: &Arc<Shared>,
    ) -> Result<Opened<Self>, jack::Error> {
        let port = client.register_port("out", jack::MidiOut::default())?;
        let (near, far): (JackLine, FarEnd) = line(shared.clone());
        Ok(Opened { own: port.clone_unowned(), process: Play::new(port, far), end: near })
    }

    fn join(client: &jack::Client, own: &str, peer: &str) -> Result<(), jack::Error> {
        client.connect_ports_by_name(own, peer)
    }
}

/// An output: the scheduler's end, and what looks after it.
pub(crate) struct JackOut {
    /// What the scheduler sends to; `None` where no server is there yet.
    pub line: Option<JackLine>,
    /// Looks after it; to be kept by a thread that may wait, for as long as the port is to play.
    pub keeper: JackKeeper,
    /// Why nobody is at the other end, where that is so.
    pub notice: Option<PortError>,
}

/// Opens an output that plays into the port `name` means, and waits for that port where it is not
/// there, and for a server. An error where there is no JACK at all, or more than one port is meant.
pub(crate) fn open_out(name: &str) -> Result<JackOut, PortError> {
    let (keeper, First { end, notice }) = Keeper::start(Out, name)?;
    Ok(JackOut { line: end, keeper: JackKeeper(keeper), notice })
}

/// Looks after an output.
pub(crate) struct JackKeeper(Keeper<Out>);

impl JackKeeper {
    /// How often our port has been joined to its peer, if it is joined now.
    pub fn joined(&self) -> Option<u64> {
        self.0.joined()
    }

    /// Why our port is joined to none though there are some that could be meant; else empty.
    pub fn hindrance(&self) -> String {
        self.0.hindrance()
    }

    /// The end of a new port, where a new one had to be made because there was no server before.
    pub fn fresh(&self) -> Option<JackLine> {
        self.0.fresh()
    }
}

impl std::fmt::Debug for JackKeeper {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("JackKeeper").field("joined", &self.joined()).finish_non_exhaustive()
    }
}
