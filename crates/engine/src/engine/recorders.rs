//! What recorders are told that go by this transport: where it stands, that it rolls, records,
//! stops.
//!
//! In: the moments at which these change. Out: to the ports that get time code a full frame
//! before a start, on locate and after a stop (the quarter frames are the scheduler's own); to
//! those that get MIDI Machine Control its commands. What is told while nothing rolls goes out at once.

use super::Engine;
use crate::time_code::{first_quarter, full_frame, time_code_at};
use crate::{Action, Cue, MachineControl, PortIx, Slot};
use chaconne_time::{Ns, Tick, TimeCode};
use std::sync::Arc;

impl Engine {
    /// A stopped transport has gone to the position that is kept.
    pub(super) fn recorders_locate(&mut self) {
        let Some(song) = self.standing_at() else { return };
        self.tell_time_code(song);
        self.control_locate(song);
    }

    /// The transport has stopped, and that is ordered: time code tells where it stands now, which
    /// is where it would go on. Machine control is told nothing more: a recorder stays where its
    /// stop has brought it until it is located.
    pub(super) fn recorders_stand(&mut self) {
        if let Some(song) = self.standing_at() {
            self.tell_time_code(song);
        }
    }

    /// The musical time of the position that is kept, in nanoseconds since bar one.
    fn standing_at(&self) -> Option<Ns> {
        Some(self.departure(self.parked_or_top(), 0).ok()?.song)
    }

    fn tell_time_code(&mut self, song: Ns) {
        let ports = self.config.mtc_ports.iter();
        let cues = ports.map(|&(port, rate)| exclusive(port, full_frame(time_code_at(rate, song))));
        self.order(cues.collect());
    }

    /// The transport is about to start from a musical time, in nanoseconds since bar one: time
    /// code tells the frame it will begin with.
    pub(super) fn recorders_ready(&mut self, song: Ns) {
        let ports = self.config.mtc_ports.iter();
        let cues = ports.map(|&(port, rate)| {
            let first = TimeCode::of(rate, first_quarter(rate, song) / 4);
            exclusive(port, full_frame(first))
        });
        self.order(cues.collect());
        self.control_locate(song);
    }

    /// The transport rolls from a tick.
    pub(super) fn recorders_roll(&mut self, from: Tick) {
        self.control(from, MachineControl::Play);
    }

    /// The transport is about to stop. It is told before that is ordered, as what is due already:
    /// so it goes out too where the program ends with it.
    pub(super) fn recorders_stop(&mut self, now: Ns) {
        let Some(run) = self.transport.run_mut() else { return };
        let at = run.timeline.tick_at(now).max(run.start);
        if std::mem::take(&mut run.told_recording) {
            self.control(at, MachineControl::RecordExit);
        }
        self.control(at, MachineControl::Stop);
    }

    /// Tells that recording has begun or ended since this was last asked. In a count-in it has
    /// begun: what comes before bar one is on the tape.
    pub(super) fn recorders_follow(&mut self, now: Ns) {
        let begun = self.recorder.takes();
        let Some(run) = self.transport.run_mut().filter(|run| run.told_recording != begun) else {
            return;
        };
        let at = run.timeline.tick_at(now).max(run.start);
        run.told_recording = begun;
        let command = if begun { MachineControl::RecordStrobe } else { MachineControl::RecordExit };
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
