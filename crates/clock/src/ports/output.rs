//! Outputs: one type for all kinds, called by the scheduler thread.

use super::bytes::BytesOut;
use super::line::Line;
use super::midi::MidiOut;
use super::watch::{Captured, Watch, watch};
use super::{MemoryPort, PortError, PortSpec, PortState};
use crate::din::Grain;
use crate::machine::Sent;
use crate::monotonic::now;
use chaconne_time::Ns;
use std::fmt;

/// A port that events go to.
pub struct Output {
    name: String,
    kind: Kind,
    watch: Option<Watch>,
}

enum Kind {
    Nowhere,
    Memory(MemoryPort),
    Bytes(BytesOut),
    Midi(MidiOut),
}

/// Opens the output that `spec` names. Does not wait: a FIFO that nobody reads yet is
/// [`PortState::Waiting`], and the scheduler opens it when a reader comes.
///
/// A path where nothing is becomes a new file; a file that has something in it is refused.
pub fn open_output(spec: &PortSpec) -> Result<Output, PortError> {
    let name = spec.to_string();
    let kind = match spec {
        PortSpec::None => Kind::Nowhere,
        PortSpec::Midi(name) => Kind::Midi(MidiOut::open(name)?),
        PortSpec::Bytes(path) => {
            let open = BytesOut::open(path);
            Kind::Bytes(open.map_err(|why| PortError::Open { spec: name.clone(), why })?)
        }
    };
    Ok(Output { name, kind, watch: None })
}

impl Output {
    /// An output that records what is sent, and the test's end of it.
    pub fn memory(name: &str) -> (Output, MemoryPort) {
        let port = MemoryPort::default();
        let kind = Kind::Memory(port.clone());
        (Output { name: name.to_string(), kind, watch: None }, port)
    }

    /// An output that goes nowhere, and what was handed to it: for measuring. `places` is how many
    /// messages there is room for between two looks.
    pub fn capture(places: usize) -> (Output, Captured) {
        let (name, kind) = ("capture".to_string(), Kind::Nowhere);
        Output { name, kind, watch: None }.watched(places)
    }

    /// The same output, and what was handed to it, as with [`Output::capture`].
    pub fn watched(self, places: usize) -> (Output, Captured) {
        let (watch, captured) = watch(places);
        (Output { watch: Some(watch), ..self }, captured)
    }

    /// What the port is called: its spec.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is there.
    pub fn state(&self) -> PortState {
        match &self.kind {
            Kind::Nowhere => PortState::Silent,
            Kind::Bytes(bytes) if bytes.line().is_none() => PortState::Waiting,
            _ => PortState::Open,
        }
    }

    /// How long before it goes out a message must be handed to this port, in nanoseconds.
    pub fn ahead(&self) -> Ns {
        0
    }

    /// In which pieces it can be sent to at the pace of a serial line.
    pub(crate) fn grain(&self) -> Grain {
        match &self.kind {
            Kind::Midi(_) => Grain::Messages,
            _ => Grain::Bytes,
        }
    }

    pub(crate) fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        if self.watch.is_none() {
            return self.write(due, bytes);
        }
        let at = now();
        let sent = self.write(due, bytes);
        if let (Sent::Done, Some(watch)) = (sent, &mut self.watch) {
            watch.note(due, at, bytes);
        }
        sent
    }

    fn write(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        match &mut self.kind {
            Kind::Nowhere => Sent::Done,
            Kind::Memory(port) => port.send(due, bytes),
            Kind::Bytes(port) => port.send(bytes),
            Kind::Midi(port) => port.send(bytes),
        }
    }

    /// Writes on at a message that is half out; whether something of it is left.
    pub(crate) fn flush(&mut self) -> bool {
        match &mut self.kind {
            Kind::Bytes(port) if port.is_unfinished() => port.finish() == Sent::Full,
            _ => false,
        }
    }

    /// Whether closing it at once could lose what was last sent.
    pub(crate) fn needs_time_to_drain(&self) -> bool {
        matches!(self.kind, Kind::Midi(_))
    }

    pub(crate) fn bytes(&self) -> Option<&BytesOut> {
        match &self.kind {
            Kind::Bytes(port) => Some(port),
            _ => None,
        }
    }

    /// Nobody is at the other end any more.
    pub(crate) fn lose(&mut self) {
        if let Kind::Bytes(port) = &mut self.kind {
            port.lose();
        }
    }

    /// The stream, where nobody reads it any more.
    pub(crate) fn take_gone(&mut self) -> Option<Line> {
        match &mut self.kind {
            Kind::Bytes(port) => port.take_gone(),
            _ => None,
        }
    }

    /// Takes another stream, and gives back what is to be closed elsewhere.
    pub(crate) fn replace(&mut self, line: Line) -> Option<Line> {
        match &mut self.kind {
            Kind::Bytes(port) => port.replace(line),
            _ => Some(line),
        }
    }
}

impl fmt::Debug for Output {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Output").field("name", &self.name).finish_non_exhaustive()
    }
}
