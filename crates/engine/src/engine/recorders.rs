//! Time code and machine control, for recorders that follow this transport.
//!
//! In: starts, stops, locates, record on and record off. Out: for ports with MIDI Time Code, a full
//! frame before a start, on a locate and after a stop (the scheduler generates the quarter frames); for
//! ports with MIDI Machine Control, its commands. While the transport is stopped they go out at once.

use super::Engine;
use crate::time_code::{first_quarter, full_frame, time_code_at};
use crate::{Action, Cue, MachineControl, PortIx, Slot};
use chaconne_time::{Ns, Tick, TimeCode};
use std::sync::Arc;

impl Engine {
    /// After a locate: sends the position of the stopped transport.
    pub(super) fn recorders_locate(&mut self) {
        let Some(song) = self.parked_time() else { return };
        self.send_full_frame(song);
        self.control_locate(song);
    }

    /// After a stop was ordered: sends the position from which playing would continue, as time code
    /// only. By machine control a recorder stays where it stopped until the next locate.
    pub(super) fn recorders_stopped(&mut self) {
        if let Some(song) = self.parked_time() {
            self.send_full_frame(song);
        }
    }

    /// The musical time of the position that was kept, in nanoseconds since bar one.
    fn parked_time(&self) -> Option<Ns> {
        Some(self.departure(self.parked_or_top(), 0, 0).ok()?.song)
    }

    fn send_full_frame(&mut self, song: Ns) {
        let ports = self.config.mtc_ports.iter();
        let cues = ports.map(|&(port, rate)| exclusive(port, full_frame(time_code_at(rate, song))));
        self.order(cues.collect());
    }

    /// Before a start: sends the frame with which time code will begin. `song` is the musical time of
    /// the start, in nanoseconds since bar one.
    pub(super) fn recorders_ready(&mut self, song: Ns) {
        let ports = self.config.mtc_ports.iter();
        let cues = ports.map(|&(port, rate)| {
            let first = TimeCode::of(rate, first_quarter(rate, song) / 4);
            exclusive(port, full_frame(first))
        });
        self.order(cues.collect());
        self.control_locate(song);
    }

    /// At a start: sends Play.
    pub(super) fn recorders_roll(&mut self, from: Tick) {
        self.control(from, MachineControl::Play);
    }

    /// Before a stop is ordered: sends Stop with a tick that is already due, so that it goes out even if
    /// the program ends now.
    pub(super) fn recorders_stop(&mut self, now: Ns) {
        let Some(run) = self.transport.run_mut() else { return };
        let at = run.timeline.tick_at(now).max(run.start);
        if std::mem::take(&mut run.strobed) {
            self.control(at, MachineControl::RecordExit);
        }
        self.control(at, MachineControl::Stop);
    }

    /// Sends a record strobe or a record exit if recording has begun or ended since the last one. A
    /// take begins with its count-in, so the recorder has the count-in too.
    pub(super) fn recorders_update(&mut self, now: Ns) {
        let records = self.recorder.takes();
        let Some(run) = self.transport.run_mut().filter(|run| run.strobed != records) else {
            return;
        };
        let at = run.timeline.tick_at(now).max(run.start);
        run.strobed = records;
        let command =
            if records { MachineControl::RecordStrobe } else { MachineControl::RecordExit };
        self.control(at, command);
    }

    fn control_locate(&mut self, song: Ns) {
        let ports = self.config.mmc_ports.iter();
        let locate = |rate| MachineControl::Locate(rate, song).bytes();
        self.order(ports.map(|&(port, rate)| exclusive(port, locate(rate))).collect());
    }

    fn control(&mut self, at: Tick, command: MachineControl) {
        let bytes = command.bytes();
        let ports = self.config.mmc_ports.iter();
        let cue = |port| Cue { at, ..exclusive(port, bytes.clone()) };
        self.order(ports.map(|&(port, _)| cue(port)).collect());
    }
}

fn exclusive(port: PortIx, bytes: Arc<[u8]>) -> Cue {
    Cue { at: Tick::ZERO, slot: Slot::CLOCK, epoch: 0, port, action: Action::SysEx(bytes) }
}
