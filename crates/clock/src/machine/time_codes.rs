//! Generates time code for all ports that receive it.
//!
//! Each port's quarter frames are shifted like its other messages (see [`Service::shift`]).

use super::outlet::Service;
use chaconne_engine::PortIx;
use chaconne_midi::{Message, QuarterFrames};
use chaconne_time::Ns;

/// The time code of one port.
#[derive(Debug)]
struct One {
    port: PortIx,
    shift: Ns,
    frames: QuarterFrames,
}

/// The time code of all ports that receive it.
#[derive(Debug)]
pub(crate) struct TimeCodes(Box<[One]>);

impl TimeCodes {
    /// Stopped time code for the ports of these services.
    pub fn new(services: &[Service]) -> TimeCodes {
        let one = |(index, service): (usize, &Service)| {
            let frames = QuarterFrames::new(service.mtc?);
            Some(One { port: PortIx(index as u8), shift: service.shift, frames })
        };
        TimeCodes(services.iter().take(PortIx::MOST).enumerate().filter_map(one).collect())
    }

    /// Sets the shift of a port, in nanoseconds.
    pub fn set_shift(&mut self, port: PortIx, shift: Ns) {
        self.0.iter_mut().filter(|one| one.port == port).for_each(|one| one.shift = shift);
    }

    /// Starts time code: at `ns` the musical time is `song`.
    pub fn start(&mut self, ns: Ns, song: Ns) {
        self.0.iter_mut().for_each(|one| one.frames.start(ns, song));
    }

    /// Stops time code.
    pub fn stop(&mut self) {
        self.0.iter_mut().for_each(|one| one.frames.stop());
    }

    /// When the next quarter frame of any port is due.
    pub fn next_due(&self) -> Option<Ns> {
        self.0.iter().filter_map(One::due).min()
    }

    /// Takes the next quarter frame that is due by `now`: when it is due, its port, and the message.
    pub fn take(&mut self, now: Ns) -> Option<(Ns, PortIx, Message)> {
        let due = self.next_due().filter(|&due| due <= now)?;
        let one = self.0.iter_mut().find(|one| one.due() == Some(due))?;
        Some((due, one.port, one.frames.take()?))
    }
}

impl One {
    fn due(&self) -> Option<Ns> {
        Some(self.frames.next_due()?.saturating_add(self.shift))
    }
}
