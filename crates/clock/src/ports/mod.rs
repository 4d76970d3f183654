//! Ports: where events go and come from.
//!
//! | kind | spec | output | input |
//! | --- | --- | --- | --- |
//! | system MIDI | `midi:NAME` | sent whole, at once; back again under its name | stamped in the callback |
//! | JACK | `jack:NAME` | placed at its frame; full, lost and back again are told | stamped by its frame |
//! | raw bytes | `bytes:PATH` | never blocks; full, lost and back again are told | own thread |
//! | sound | `sound` | made elsewhere, see [`Wire`]; lost and back again are told | (no input) |
//! | memory | (tests) | recorded; full and lost at will | – |
//! | none | `none` | counted, goes nowhere | nothing comes |
//!
//! Any output can be watched for measuring: see [`Output::watched`].

pub(crate) mod bytes;
pub(crate) mod connection;
mod feed;
mod input;
mod jack;
#[cfg_attr(unix, path = "line_unix.rs")]
#[cfg_attr(not(unix), path = "line_plain.rs")]
pub(crate) mod line;
mod memory;
pub(crate) mod midi;
mod names;
mod output;
mod quiet;
#[cfg_attr(unix, path = "reader_unix.rs")]
#[cfg_attr(not(unix), path = "reader_plain.rs")]
mod reader;
mod spec;
mod watch;
mod wired;

pub use input::{Input, InputEvent, open_input};
pub use jack::{JackGuest, JackPorts, LastWord, Rest, jack_guest, list_jack_ports};
pub use memory::{MemoryPort, Sending};
pub use midi::list_ports;
pub use output::{Output, open_output};
pub(crate) use quiet::aloud_in_time;
pub use quiet::{aloud, quietly};
pub use spec::{PortError, PortSpec};
pub use watch::{Captured, Handed};
pub use wired::{Wire, WireKeeper, WireNews};

/// Whether a port is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum PortState {
    /// It takes what is sent, or gives what comes.
    Open,
    /// Nobody is at the other end yet; it is tried again and again.
    Waiting,
    /// Nobody came while it was waited for, or the port is `none`: plays silently. It is still
    /// opened when somebody comes.
    Silent,
    /// It was there and is gone; it is opened again when it comes back.
    Lost,
}

impl PortState {
    pub(crate) fn from_code(code: u8) -> PortState {
        [PortState::Open, PortState::Waiting, PortState::Silent]
            .into_iter()
            .find(|&state| state as u8 == code)
            .unwrap_or(PortState::Lost)
    }
}

/// The MIDI ports that a service offers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortList {
    /// What `--in` can name.
    pub inputs: Vec<String>,
    /// What `--out` can name.
    pub outputs: Vec<String>,
}
