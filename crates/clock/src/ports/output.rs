//! Outputs: one type for all kinds, called by the scheduler thread.

use super::{MemoryPort, PortError, PortSpec, PortState};
use crate::machine::Sent;
use chaconne_time::Ns;

/// A port that events go to.
#[derive(Debug)]
pub struct Output {
    name: String,
    kind: Kind,
}

#[derive(Debug)]
enum Kind {
    Nowhere,
    Memory(MemoryPort),
}

/// Opens the output that `spec` names. Does not wait: a FIFO that nobody reads yet is
/// [`PortState::Waiting`], and the scheduler opens it when a reader comes.
pub fn open_output(spec: &PortSpec) -> Result<Output, PortError> {
    Ok(Output { name: spec.to_string(), kind: Kind::Nowhere })
}

impl Output {
    /// An output that records what is sent, and the test's end of it.
    pub fn memory(name: &str) -> (Output, MemoryPort) {
        let port = MemoryPort::default();
        (Output { name: name.to_string(), kind: Kind::Memory(port.clone()) }, port)
    }

    /// What the port is called: its spec.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is there.
    pub fn state(&self) -> PortState {
        match &self.kind {
            Kind::Nowhere => PortState::Silent,
            Kind::Memory(_) => PortState::Open,
        }
    }

    pub(crate) fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        match &mut self.kind {
            Kind::Nowhere => Sent::Done,
            Kind::Memory(port) => port.send(due, bytes),
        }
    }
}
