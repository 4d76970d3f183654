//! Notes and gestures that are still held when their round is over. The round's pass sounds at once; the
//! true length of a note is added at its release, and the rest of a gesture as it goes on, in the same
//! step of undo.

use super::Engine;
use super::commit::How;
use crate::assemble::lane_end;
use crate::feel;
use chaconne_song::{
    Commit, Edit, Feel, Label, Lane, LaneId, NoteId, PassEdit, PassId, Point, PointId, Release,
    Section,
};
use chaconne_time::{MetreMap, Ns, Span, Tick};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// How often the new moves of gestures that go on are added to their passes: every 200 ms.
const EVERY: Ns = 200_000_000;

impl Engine {
    /// Handles the release of a key. If its note is already in a pass, the next poll sets its true
    /// length there.
    pub(super) fn released(&mut self, note: NoteId) {
        let Some(id) = self.played.held.notes.remove(&note) else { return };
        let Some(caught) = self.played.capture.note(note).copied() else { return };
        let Some(most) = self.song.pass(id).map(|pass| pass.length) else { return };
        let Some(end) = caught.end else { return };
        let length = (end - caught.start).min(most).max(Tick(1));
        let release = Release { note, length, release: caught.release };
        let (first, releases) =
            self.played.completed.notes.entry(id).or_insert((caught.start, Vec::new()));
        *first = caught.start.min(*first);
        releases.push(release);
    }

    /// Handles a gesture that went on or ended. If it is already in a pass, a later poll extends it
    /// there.
    pub(super) fn moved(&mut self, number: u64) {
        let Some(&(id, lane, from)) = self.played.held.gestures.get(&number) else { return };
        let Entry::Vacant(moved) = self.played.completed.gestures.entry(number) else { return };
        let Some(pass) = self.song.pass(id) else { return };
        let point = pass.lane(lane).and_then(|lane| lane.points.last());
        moved.insert(from + point.map_or(Tick::ZERO, |point| point.at));
    }

    /// Adds the lengths and moves that are known by now to their passes: in one commit for all notes of
    /// a pass, and one for all its gestures.
    pub(super) fn complete_held(&mut self, now: Ns) {
        self.complete_notes(now);
        self.complete_gestures(now);
    }

    /// The same at each poll, but gestures only every [`EVERY`], because each time their whole pass is
    /// copied, or when the performer reaches what they change.
    pub(super) fn complete_as_it_goes(&mut self, now: Ns) {
        self.complete_notes(now);
        if now >= self.played.completed.due || self.is_reached(now) {
            self.complete_gestures(now);
        }
    }

    /// Whether performing ahead reaches what gestures that went on change.
    fn is_reached(&mut self, now: Ns) -> bool {
        let Some(until) = self.horizon(now) else { return false };
        let Some(entered) = self.visit(until).map(|visit| visit.entry.at) else { return false };
        self.played.completed.gestures.iter().any(|(number, &known)| {
            let Some(&(id, _, from)) = self.played.held.gestures.get(number) else { return false };
            let Some(pass) = self.song.pass(id) else { return false };
            // In a section entered since, its passes begin where the section does.
            let again = if entered > from { entered } else { from + pass.length };
            again + (known - from) < until
        })
    }

    fn complete_notes(&mut self, now: Ns) {
        for (id, (first, mut releases)) in std::mem::take(&mut self.played.completed.notes) {
            // A note may have been removed while it was held.
            let notes = self.song.pass(id).map_or(&[][..], |pass| pass.notes());
            let there: BTreeSet<NoteId> = notes.iter().map(|note| note.id).collect();
            releases.retain(|release| there.contains(&release.note));
            if !releases.is_empty() {
                self.complete(now, id, first, vec![PassEdit::Played(releases)]);
            }
        }
    }

    fn complete_gestures(&mut self, now: Ns) {
        self.played.completed.due = now + EVERY;
        let mut passes: BTreeMap<PassId, (Tick, Vec<PassEdit>)> = BTreeMap::new();
        for number in std::mem::take(&mut self.played.completed.gestures).into_keys() {
            if let Some((id, start, edits)) = self.extension(number) {
                let (first, all) = passes.entry(id).or_insert((start, Vec::new()));
                *first = start.min(*first);
                all.extend(edits);
            }
            if self.played.capture.gesture(number).is_none_or(|gesture| gesture.over.is_some()) {
                self.played.held.gestures.remove(&number);
            }
        }
        for (id, (start, edits)) in passes {
            self.complete(now, id, start, edits);
        }
    }

    /// The edits that extend a gesture in its pass, with the pass and the tick from which on they change
    /// it; `None` if there is nothing new.
    fn extension(&self, number: u64) -> Option<(PassId, Tick, Vec<PassEdit>)> {
        let &(id, lane, from) = self.played.held.gestures.get(&number)?;
        let gesture = self.played.capture.gesture(number)?;
        let pass = self.song.pass(id)?;
        let lane = pass.lane(lane)?;
        let known = lane.points.last().map_or(Tick::MIN, |point| point.at);
        // The lane may start where its take did, after the gesture's last move.
        let last = (gesture.moves.last()?.0 - from).max(known);
        let end = lane_end(gesture, last, lane.span.from, pass.length, self.metre_of_pass(id)?);
        let first_new = gesture.moves.partition_point(|&(at, _)| at - from < known);
        let mut points: Vec<Point> = Vec::new();
        for &(at, value) in gesture.moves.get(first_new..).unwrap_or_default() {
            if points.last().is_some_and(|last| last.at == at - from) {
                points.pop();
            }
            points.push(Point::step(at - from, value));
        }
        let edits = extending(lane, &points, end);
        (!edits.is_empty()).then_some((id, from + known, edits))
    }

    /// The bars of the first section that plays a pass.
    fn metre_of_pass(&self, id: PassId) -> Option<&MetreMap> {
        let plays = |section: &&std::sync::Arc<Section>| section.layer(id).is_some();
        self.song.sections.iter().find(plays).map(|section| &section.metre)
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
        let bar = self.bar_at(at);
        for number in self.played.capture.end_gestures(at, bar) {
            self.moved(number);
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
        self.played.held.gestures.retain(|_, held| !passes.contains(&held.0));
    }
}

/// The edits that extend a lane: `moves` are those of its gesture from the lane's last one on, `end` is
/// where it ends now.
fn extending(lane: &Lane, moves: &[Point], end: Tick) -> Vec<PassEdit> {
    let (id, mut span) = (lane.id(), lane.span);
    let mut edits = Vec::new();
    let mut stretch = |to: Tick, edits: &mut Vec<PassEdit>| {
        if to != span.to {
            span = Span::new(span.from, to);
            edits.push(PassEdit::LaneSpan(id, span));
        }
    };
    stretch(end.max(lane.span.to), &mut edits);
    for &point in moves {
        match lane.points.last().filter(|known| known.at == point.at) {
            Some(known) if known.value == point.value => {}
            Some(_) => edits.push(PassEdit::PointValue(last_at(lane, id, point.at), point.value)),
            None => {
                edits.push(PassEdit::AddPoint(PointId { lane: id, at: point.at, nth: 0 }, point))
            }
        }
    }
    stretch(end, &mut edits);
    edits
}

/// The last of the points of a lane at a tick.
fn last_at(lane: &Lane, id: LaneId, at: Tick) -> PointId {
    let count = lane.points.iter().rev().take_while(|point| point.at == at).count();
    PointId { lane: id, at, nth: count.saturating_sub(1) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Channel, Control, U7};

    fn point(at: i64, value: u8) -> Point {
        Point::step(Tick(at), U7::low_bits(value).into())
    }

    fn lane(points: Vec<Point>, to: i64) -> Lane {
        let span = Span::new(Tick(0), Tick(to));
        Lane { channel: Channel::default(), control: Control::Change(U7::MIN), span, points }
    }

    #[test]
    fn the_last_of_several_points_at_a_tick_takes_the_new_value() {
        let lane = lane(vec![point(10, 1), point(50, 2), point(50, 3), point(50, 4)], 100);
        let edits = extending(&lane, &[point(50, 9)], Tick(100));
        let last = PointId { lane: lane.id(), at: Tick(50), nth: 2 };
        assert_eq!(edits, [PassEdit::PointValue(last, U7::low_bits(9).into())]);
    }

    #[test]
    fn a_lane_in_which_nothing_is_new_is_not_edited() {
        let lane = lane(vec![point(10, 1), point(50, 2)], 100);
        assert_eq!(extending(&lane, &[point(50, 2)], Tick(100)), []);
        // Room is made for a move before it is added.
        let longer = Span::new(Tick(0), Tick(200));
        let edits = extending(&lane, &[point(50, 2), point(150, 3)], Tick(200));
        let new = PointId { lane: lane.id(), at: Tick(150), nth: 0 };
        let expected =
            [PassEdit::LaneSpan(lane.id(), longer), PassEdit::AddPoint(new, point(150, 3))];
        assert_eq!(edits, expected);
    }
}
