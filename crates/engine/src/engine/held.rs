//! Keys and pedals still down when their round ends: the round becomes a pass at once, and the pass
//! gets the true length of the note or pedal stroke at its release, in the same step of undo.

use super::Engine;
use super::commit::How;
use super::states::Completed;
use crate::assemble::pedal_points;
use crate::feel;
use chaconne_song::{Commit, Control, Edit, Feel, Label, Lane, NoteId, PassEdit, PassId, Release};
use chaconne_time::{Ns, Tick};
use std::collections::BTreeSet;

impl Engine {
    /// Notes the release of a key. If its note is already in a pass, the next poll sets its true
    /// length.
    pub(super) fn released(&mut self, note: NoteId) {
        let Some(id) = self.played.held.notes.remove(&note) else { return };
        let Some(caught) = self.played.capture.note(note).copied() else { return };
        let Some(most) = self.song.pass(id).map(|pass| pass.length) else { return };
        let end = caught.end.unwrap_or(caught.start + most);
        let length = (end - caught.start).min(most).max(Tick(1));
        let release = Release { note, length, release: caught.release };
        let (first, releases) =
            self.played.completed.notes.entry(id).or_insert((caught.start, Vec::new()));
        *first = caught.start.min(*first);
        releases.push(release);
    }

    /// Notes that a pedal moved or came up. If its stroke is already in a pass, the next poll
    /// completes it.
    pub(super) fn stamped(&mut self, number: u64) {
        if self.played.held.stamps.iter().any(|held| held.0 == number) {
            self.played.completed.stamps.insert(number);
        }
    }

    /// Sets the lengths and completes the pedal strokes that are known by now, one edit per pass.
    pub(super) fn complete_held(&mut self, now: Ns) {
        let Completed { notes, stamps } = std::mem::take(&mut self.played.completed);
        for (id, (first, mut releases)) in notes {
            // A note may have been removed while it was held.
            let notes = self.song.pass(id).map_or(&[][..], |pass| pass.notes());
            let there: BTreeSet<NoteId> = notes.iter().map(|note| note.id).collect();
            releases.retain(|release| there.contains(&release.note));
            if !releases.is_empty() {
                self.complete(now, id, first, vec![PassEdit::Played(releases)]);
            }
        }
        for number in stamps {
            self.complete_stroke(now, number);
        }
    }

    fn complete_stroke(&mut self, now: Ns, number: u64) {
        let held = &mut self.played.held.stamps;
        let Some(index) = held.iter().position(|held| held.0 == number) else { return };
        let (_, id, from) = held[index];
        let Some(stamp) = self.played.capture.stamp(number).cloned() else { return };
        if stamp.up {
            held.swap_remove(index);
        }
        let Some(pass) = self.song.pass(id) else { return };
        let sustain =
            |lane: &&Lane| lane.channel == stamp.channel && lane.control == Control::SUSTAIN;
        let Some(known) = pass.lanes().iter().find(sustain) else { return };
        let (mut lane, old) = (known.clone(), known.id());
        // The stroke held over the seam is the lane's last, and the lane has its moves so far.
        let known = lane.points.last().map_or(Tick::MIN, |point| point.at);
        let (points, to) = pedal_points(&stamp, from, pass.length);
        lane.points.extend(points.into_iter().filter(|point| point.at > known));
        lane.span.to = to;
        let edits = vec![PassEdit::RemoveLane(old), PassEdit::AddLane(lane)];
        self.complete(now, id, stamp.start(), edits);
    }

    /// Commits the edits of a release or other late input, in the same step as the pass itself.
    /// `start` is the tick at which the note or stroke began.
    pub(super) fn complete(&mut self, now: Ns, id: PassId, start: Tick, edits: Vec<PassEdit>) {
        let edits = edits.into_iter().map(|edit| Edit::Pass(id, edit)).collect();
        let commit = Commit::new(Label::PlayedLength, edits);
        if self.commit(now, commit, How::Amend(id)).is_err() {
            return;
        }
        let Some(pass) = self.song.pass(id) else { return };
        // There is something to revise only if the next repeat is already performed ahead. In a
        // section entered since, the pass repeats at any time.
        let (track, next) = (pass.track, start + pass.length);
        let visit = self.tick_at(now).and_then(|at| self.visit(at));
        let entered = visit.is_some_and(|visit| visit.entry.at > start);
        if entered || next - feel::half_step(&Feel::off(false)) * 8 < self.performer.until() {
            self.revise_track(now, track);
        }
    }

    /// Releases everything that is still held, and completes the passes.
    pub(super) fn let_go_of_everything(&mut self, now: Ns) {
        let Some(at) = self.tick_at(now) else { return };
        for note in self.played.capture.release_all(at) {
            self.released(note);
        }
        for number in self.played.capture.lift_pedals(at) {
            self.stamped(number);
        }
        self.settle(now);
    }

    /// Ends the held notes of passes that are about to be removed, so that undo brings them back
    /// whole.
    pub(super) fn finish(&mut self, now: Ns, passes: &[PassId]) {
        let Some(at) = self.tick_at(now) else { return };
        let notes = self.played.held.notes.iter().filter(|(_, pass)| passes.contains(pass));
        for note in notes.map(|held| *held.0).collect::<Vec<_>>() {
            if let Some(caught) = self.played.capture.note_mut(note) {
                caught.end = Some(at.max(caught.start + Tick(1)));
            }
            self.released(note);
        }
        self.complete_held(now);
        self.played.held.stamps.retain(|held| !passes.contains(&held.1));
    }
}
