//! What the machine sends to, and what it is told back.

use chaconne_engine::PortIx;
use chaconne_time::Ns;

/// What became of a message that was given to a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sent {
    /// It is out, or will be without further asking.
    Done,
    /// The port takes nothing now; nothing of the message was sent.
    Full,
    /// The port is gone.
    Lost,
}

/// Where the machine sends to.
pub trait Sink {
    /// Sends one whole message that was due at `due`. Never waits.
    fn send(&mut self, port: PortIx, due: Ns, bytes: &[u8]) -> Sent;

    /// The present moment; `now` is when the machine was last called. A sink on a real clock reads
    /// it, so that lateness counts to the moment a message is handed over.
    fn moment(&self, now: Ns) -> Ns {
        now
    }

    /// Writes on at messages that a port took in part; whether something of them is left.
    fn flush(&mut self) -> bool {
        false
    }
}
