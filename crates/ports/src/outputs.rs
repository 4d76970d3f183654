//! All outputs as the scheduler thread sees them: one sink.

use crate::Output;
use crate::connection::Connection;
use crate::monotonic::now;
use chaconne_clock::{Sent, Sink};
use chaconne_engine::PortIx;
use chaconne_time::Ns;
use std::cell::Cell;
use std::thread;
use std::time::{Duration, Instant};

/// How long the last messages may take to go out at the end: 500 ms.
const LONGEST_DRAIN: Duration = Duration::from_millis(500);

/// The open outputs, by [`PortIx`].
#[derive(Debug)]
pub(crate) struct Outputs {
    ports: Vec<Output>,
    /// When the first message was sent since the last [`Outputs::forget_first`].
    first: Cell<Option<Ns>>,
}

impl Outputs {
    pub fn new(ports: Vec<Output>) -> Outputs {
        Outputs { ports, first: Cell::new(None) }
    }

    /// When the first message was sent since the last [`Outputs::forget_first`].
    pub fn first(&self) -> Option<Ns> {
        self.first.get()
    }

    /// Forgets when the first message was sent.
    pub fn forget_first(&self) {
        self.first.set(None);
    }

    /// Gives a port another connection; returns the old one, to be closed elsewhere.
    pub fn replace(&mut self, port: PortIx, connection: Connection) -> Option<Connection> {
        match self.ports.get_mut(usize::from(port.0)) {
            Some(output) => output.replace(connection),
            None => Some(connection),
        }
    }

    /// Records that a port's far end is gone.
    pub fn lose(&mut self, port: PortIx) {
        if let Some(output) = self.ports.get_mut(usize::from(port.0)) {
            output.lose();
        }
    }

    /// How early a message must be handed to a port, in nanoseconds before its due time.
    pub fn ahead(&self, port: PortIx) -> Ns {
        self.ports.get(usize::from(port.0)).map_or(0, Output::ahead)
    }

    /// Waits until everything sent has gone out, but not for ever.
    pub fn drain(&self) {
        let start = Instant::now();
        while !self.ports.iter().all(Output::is_drained) && start.elapsed() < LONGEST_DRAIN {
            thread::sleep(Duration::from_millis(1));
        }
        thread::sleep(self.ports.iter().map(Output::drain).max().unwrap_or_default());
    }

    /// A connection that cannot be used again, one at a time, to be closed elsewhere.
    pub fn take_gone(&mut self) -> Option<Connection> {
        self.ports.iter_mut().find_map(Output::take_gone)
    }
}

impl Sink for Outputs {
    fn send(&mut self, port: PortIx, due: Ns, bytes: &[u8]) -> Sent {
        self.ports.get_mut(usize::from(port.0)).map_or(Sent::Lost, |output| output.send(due, bytes))
    }

    fn moment(&self, _now: Ns) -> Ns {
        let at = now();
        if self.first.get().is_none() {
            self.first.set(Some(at));
        }
        at
    }

    fn flush(&mut self) -> bool {
        // Flush every port, even behind one that is stuck.
        self.ports.iter_mut().fold(false, |left, output| output.flush() | left)
    }
}
