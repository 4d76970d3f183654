//! The trait that receives the machine's messages, and its answers.

use chaconne_engine::PortIx;
use chaconne_time::Ns;

/// What happened to a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sent {
    /// It was sent, or will be without another call.
    Done,
    /// The port accepts nothing now; no part of the message was sent.
    Full,
    /// The port is gone.
    Lost,
}

/// The ports, as the machine sends to them.
pub trait Sink {
    /// Sends one whole message that was due at `due`. Never waits.
    fn send(&mut self, port: PortIx, due: Ns, bytes: &[u8]) -> Sent;

    /// The present time; `now` is when the machine was last called. A sink with a real clock reads it,
    /// so that lateness is measured up to the moment a message is handed over.
    fn moment(&self, now: Ns) -> Ns {
        now
    }

    /// Continues messages that a port accepted in part; returns whether something is left.
    fn flush(&mut self) -> bool {
        false
    }
}
