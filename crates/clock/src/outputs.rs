//! The ports as the scheduler thread sees them: one sink for all.

use crate::machine::{Sent, Sink};
use crate::monotonic::now;
use crate::ports::Output;
use crate::ports::line::Line;
use chaconne_engine::PortIx;
use chaconne_time::Ns;

/// The open outputs, by [`PortIx`].
#[derive(Debug)]
pub(crate) struct Outputs(pub Vec<Output>);

impl Outputs {
    /// Gives a port another stream; what is to be closed elsewhere comes back.
    pub fn replace(&mut self, port: PortIx, line: Line) -> Option<Line> {
        match self.0.get_mut(usize::from(port.0)) {
            Some(output) => output.replace(line),
            None => Some(line),
        }
    }

    /// Nobody is at the other end of a port any more.
    pub fn lose(&mut self, port: PortIx) {
        if let Some(output) = self.0.get_mut(usize::from(port.0)) {
            output.lose();
        }
    }

    /// A stream that nobody reads any more, one at a time, to be closed elsewhere.
    pub fn take_gone(&mut self) -> Option<Line> {
        self.0.iter_mut().find_map(Output::take_gone)
    }
}

impl Sink for Outputs {
    fn send(&mut self, port: PortIx, due: Ns, bytes: &[u8]) -> Sent {
        self.0.get_mut(usize::from(port.0)).map_or(Sent::Lost, |output| output.send(due, bytes))
    }

    fn moment(&self, _now: Ns) -> Ns {
        now()
    }

    fn flush(&mut self) -> bool {
        // Every port is asked, also behind one that is stuck.
        self.0.iter_mut().fold(false, |left, output| output.flush() | left)
    }
}
