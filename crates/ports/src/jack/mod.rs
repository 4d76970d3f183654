//! Ports of a JACK server, by name. Messages go out and come in at their exact frames.
//!
//! | file | job |
//! | --- | --- |
//! | `service.rs` | the library, the server, its ports; one client of ours |
//! | `client_name.rs` | our clients' names, kept when the server restarts |
//! | `shutdown.rs` | the library's report that the server has gone |
//! | `keeper.rs` | the thread that keeps a port connected to its peer |
//! | `line.rs` | the scheduler's end of an output: two wait-free queues |
//! | `callback.rs` | the process callbacks, called once per block |
//! | `rest.rs` | makes a callback do nothing before its client is closed |
//! | `pending.rs`, `frames.rs` | the callback's message order and its clock, without JACK |
//! | `input.rs` | an input's thread |
//!
//! The library is opened at run time. Without it there are no `jack:` ports, and an error says so. If
//! no server is running, the ports wait for one; they never start it.

mod callback;
mod client_name;
mod frames;
mod input;
mod keeper;
mod line;
mod pending;
mod rest;
mod service;
mod shutdown;

pub(crate) use input::JackIn;
pub(crate) use line::{JackLine, LEAST_AHEAD};
pub use rest::Rest;
pub use service::{JackGuest, JackPorts, jack_guest, list_jack_ports};
pub use shutdown::ShutdownNotice;

use super::PortError;
use callback::Play;
use keeper::{First, Keeper};
use line::{CallbackState, FarEnd, line};
use service::{Opened, Side};
use std::sync::Arc;

/// The output side: our port plays into the peer's input.
struct Out;

impl Side for Out {
    type Process = Play;
    type End = JackLine;
    const KIND: &'static str = "JACK output";
    const PEERS: jack::PortFlags = jack::PortFlags::IS_INPUT;

    fn register(
        &self,
        client: &jack::Client,
        shared: &Arc<CallbackState>,
    ) -> Result<Opened<Self>, jack::Error> {
        let port = client.register_port("out", jack::MidiOut::default())?;
        let (near, far): (JackLine, FarEnd) = line(shared.clone());
        Ok(Opened { own: port.clone_unowned(), process: Play::new(port, far), end: near })
    }

    fn join(client: &jack::Client, own: &str, peer: &str) -> Result<(), jack::Error> {
        client.connect_ports_by_name(own, peer)
    }
}

/// An output: the scheduler's end, and its keeper.
pub(crate) struct JackOut {
    /// What the scheduler sends to; `None` if no server is running yet.
    pub line: Option<JackLine>,
    /// Watches the port. Keep it, on a thread that may wait, for as long as the port is in use.
    pub keeper: JackKeeper,
    /// Why it is not connected, if so.
    pub notice: Option<PortError>,
}

/// Opens an output that plays into the port `name`. If that port or a server does not exist yet, the
/// output waits for it. An error if JACK is not installed or more than one port matches.
pub(crate) fn open_out(name: &str) -> Result<JackOut, PortError> {
    let (keeper, First { end, notice }) = Keeper::start(Out, name)?;
    Ok(JackOut { line: end, keeper: JackKeeper(keeper), notice })
}

/// Watches an output.
pub(crate) struct JackKeeper(Keeper<Out>);

impl JackKeeper {
    /// How many times our port has been connected, if it is connected now.
    pub fn joined(&self) -> Option<u64> {
        self.0.joined()
    }

    /// Why our port is not connected although some ports match its name; otherwise empty.
    pub fn ambiguity(&self) -> String {
        self.0.ambiguity()
    }

    /// The end of a new port, created because there was no server before.
    pub fn fresh(&self) -> Option<JackLine> {
        self.0.fresh()
    }
}

impl std::fmt::Debug for JackKeeper {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("JackKeeper").field("joined", &self.joined()).finish_non_exhaustive()
    }
}
