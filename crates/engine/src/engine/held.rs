//! What is still held down when its round is over: the pass is there at once, and learns the true
//! length of a note or pedal stroke when it is let go, in the same step of undo.

use super::Engine;
use crate::assemble::pedal_points;
use crate::feel;
use chaconne_song::{Control, Edit, Feel, Lane, NoteId, PassEdit, PassId, Release};
use chaconne_time::{Ns, Tick};
use std::sync::Arc;

impl Engine {
    /// A key came up: where its note is already in a pass, the pass learns its true length.
    pub(super) fn released(&mut self, now: Ns, note: NoteId) {
        let Some(index) = self.held.notes.iter().position(|held| held.0 == note) else { return };
        let (_, id) = self.held.notes.swap_remove(index);
        let Some(caught) = self.capture.note(note).copied() else { return };
        let Some(pass) = self.song.pass(id) else { return };
        let most = pass.length;
        let end = caught.end.unwrap_or(caught.start + most);
        let length = (end - caught.start).min(most).max(Tick(1));
        let edit = PassEdit::Played(vec![Release { note, length, release: caught.release }]);
        self.complete(now, id, caught.start, vec![edit]);
    }

    /// A pedal moved on or came up: where its stroke is already in a pass, the pass learns it.
    pub(super) fn stamped(&mut self, now: Ns, number: u64) {
        let Some(index) = self.held.stamps.iter().position(|held| held.0 == number) else { return };
        let (_, id, from) = self.held.stamps[index];
        let Some(stamp) = self.capture.stamp(number).cloned() else { return };
        if stamp.up {
            self.held.stamps.swap_remove(index);
        }
        let Some(pass) = self.song.pass(id) else { return };
        let sustain =
            |lane: &&Lane| lane.channel == stamp.channel && lane.control == Control::SUSTAIN;
        let Some(known) = pass.lanes().iter().find(sustain) else { return };
        let (mut lane, old) = (known.clone(), known.id());
        // The stroke held over the seam is the lane's last; its moves so far are there already.
        let known = lane.points.last().map_or(Tick::MIN, |point| point.at);
        let (points, to) = pedal_points(&stamp, from, pass.length);
        lane.points.extend(points.into_iter().filter(|point| point.at > known));
        lane.span.to = to;
        let edits = vec![PassEdit::RemoveLane(old), PassEdit::AddLane(lane)];
        self.complete(now, id, stamp.start(), edits);
    }

    /// Applies what a release or other late input completed, in the same step as the pass itself;
    /// `start` is where that was played.
    pub(super) fn complete(&mut self, now: Ns, id: PassId, start: Tick, edits: Vec<PassEdit>) {
        let edits = edits.into_iter().map(|edit| Edit::Pass(id, edit));
        if Edit::apply_all(edits, Arc::make_mut(&mut self.song)).is_err() {
            return;
        }
        self.revision += 1;
        self.compile();
        let Some(pass) = self.song.pass(id) else { return };
        // Only where the next sounding is already performed is there anything to mend.
        let (track, next) = (pass.track, start + pass.length);
        if next - feel::half_step(&Feel::off(false)) * 8 < self.performer.until() {
            self.revise_track(now, track);
        }
    }

    /// Everything still held is let go now, and the passes learn it.
    pub(super) fn let_go_of_everything(&mut self, now: Ns) {
        let Some(at) = self.tick_at(now) else { return };
        for note in self.capture.release_all(at) {
            self.released(now, note);
        }
        for number in self.capture.lift_pedals(at) {
            self.stamped(now, number);
        }
    }

    /// What is still held of passes about to be taken away gets the length it has by now, so
    /// that they come back whole.
    pub(super) fn finish(&mut self, now: Ns, passes: &[PassId]) {
        let Some(at) = self.tick_at(now) else { return };
        let notes = self.held.notes.iter().filter(|held| passes.contains(&held.1));
        for note in notes.map(|held| held.0).collect::<Vec<_>>() {
            if let Some(caught) = self.capture.note_mut(note) {
                caught.end = Some(at.max(caught.start + Tick(1)));
            }
            self.released(now, note);
        }
        self.held.stamps.retain(|held| !passes.contains(&held.1));
    }
}
