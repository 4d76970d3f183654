//! Late input: played before a seam, a foot or a stop, but delivered after it.
//!
//! An input may be slower than a foot. Late notes belong to the round in which they were played, even
//! if that round is closed or the transport has stopped since. The round's pass takes them in, in the
//! same step of undo. And after a stop, *keep* can still make a pass of notes that are in none.

use super::commit::How;
use super::recording::{Ending, Take, begins};
use super::run::Run;
use super::{Engine, Input};
use crate::assemble::{Draft, Frame, Round, covers};
use crate::{Message, Rounds, Wire};
use chaconne_song::{Commit, Label, Lane, Note, Pass, PassEdit, PassId, Section};
use chaconne_time::{Ns, Span, Tick};

/// A round that is closed.
#[derive(Debug, Clone)]
pub(super) struct Closed {
    /// The take as it was; its pass is the one that the round became.
    pub take: Take,
    pub round: Round,
    pub ending: Ending,
    /// Whether it became a pass; an empty round does not.
    pub laid: bool,
    /// The tick of the earliest late input that is not in the pass yet.
    pub late: Option<Tick>,
}

/// A run that is over.
#[derive(Debug)]
pub(super) struct Past {
    pub run: Run,
    /// Where it stopped.
    pub at: Tick,
}

/// How many closed rounds still accept late input.
const REMEMBERED: usize = 4;

impl Engine {
    /// The run, or after a stop the last one.
    pub(super) fn course(&self) -> Option<&Run> {
        self.transport.run().or(self.transport.past().map(|past| &past.run))
    }

    /// Where the transport is, or where it stopped.
    pub(super) fn reached(&self, now: Ns) -> Option<Tick> {
        self.tick_at(now).or(self.transport.past().map(|past| past.at))
    }

    /// The tick at which an input was played, in the run or, if it was played before the stop, in the
    /// last one. A key released after the stop counts as released at the stop.
    pub(super) fn played_at(&self, stamp: Ns, input: &Input) -> Option<Tick> {
        if self.transport.rolls() {
            return self.tick_at(stamp);
        }
        let past = self.transport.past()?;
        let at = past.run.timeline.tick_at(stamp);
        let comes_up =
            matches!(input, Input::Lost | Input::Heard(Wire::Message(Message::NoteOff { .. })));
        (at <= past.at || comes_up).then(|| at.min(past.at))
    }

    /// Forgets the last run. Keys still held count as released where it stopped.
    pub(super) fn forget_past(&mut self, now: Ns) {
        if let Some(past) = self.transport.take_past() {
            for note in self.played.capture.release_all(past.at) {
                self.released(note);
            }
            let bar = self.bar_at(past.at);
            for number in self.played.capture.end_gestures(past.at, bar) {
                self.moved(number);
            }
            self.settle(now);
        }
        self.played.closed.clear();
    }

    pub(super) fn remember(&mut self, closed: Closed) {
        if self.played.closed.len() == REMEMBERED {
            self.played.closed.pop_front();
        }
        self.played.closed.push_back(closed);
    }

    /// Handles input that was played before the present round. If it belongs to a closed round, the next
    /// poll adds it there.
    pub(super) fn comes_late(&mut self, at: Tick) {
        let owns = |closed: &&mut Closed| closed.round.low <= at && at < closed.round.off;
        if let Some(closed) = self.played.closed.iter_mut().rev().find(owns) {
            closed.late = Some(closed.late.map_or(at, |late| late.min(at)));
        }
    }

    /// Completes the passes of closed rounds: adds releases, pedal strokes and late notes that arrived
    /// since.
    pub(super) fn settle(&mut self, now: Ns) {
        self.complete_held(now);
        self.amend_late(now);
    }

    /// The same for a poll.
    pub(super) fn settle_as_it_goes(&mut self, now: Ns) {
        self.complete_as_it_goes(now);
        self.amend_late(now);
    }

    fn amend_late(&mut self, now: Ns) {
        for index in 0..self.played.closed.len() {
            let late = self.played.closed.get_mut(index).and_then(|closed| closed.late.take());
            if let Some(at) = late {
                self.amend(now, index, at);
            }
        }
    }

    /// Adds late input to a closed round.
    fn amend(&mut self, now: Ns, index: usize, at: Tick) {
        let mut closed = self.played.closed[index].clone();
        let Some(track) = self.song.track(closed.take.track).cloned() else { return };
        let Some(section) = self.section(closed.take.section).cloned() else { return };
        if !closed.laid {
            closed.take.pass = self.new_pass();
        }
        let draft = self.draft(&closed.take, &track, &section, closed.round);
        if draft.pass.is_empty() {
            // It lies in the round's time, but another round owns it.
            return;
        }
        if closed.laid {
            self.lay_in(now, at, &closed, draft, &section);
        } else {
            self.lay_late(now, &closed, draft);
            closed.laid = true;
            self.played.closed[index] = closed;
        }
    }

    /// A closed round that was empty becomes a pass after all.
    fn lay_late(&mut self, now: Ns, closed: &Closed, draft: Draft) {
        let (take, ending) = (&closed.take, closed.ending);
        self.since(take, ending.sounds, ending.origin);
        let last = self.outdated(take, &draft.pass);
        if let Some(present) =
            self.recorder.current_mut().filter(|present| present.last == take.last)
        {
            if begins(&draft.pass) {
                present.last.clear();
                present.replaced.clear();
            }
            present.last.push(take.pass);
        }
        if self.lay(now, take, closed.round, draft, last, Label::NewPass) {
            self.revise_track(now, take.track);
        }
    }

    /// Adds late input to the pass of a closed round.
    fn lay_in(&mut self, now: Ns, at: Tick, closed: &Closed, draft: Draft, section: &Section) {
        let (take, round) = (&closed.take, closed.round);
        // If the pass was removed since, it stays removed; *keep* can still find the late input.
        let Some(pass) = self.song.pass(take.pass) else { return };
        let Some(track) = self.song.track(take.track) else { return };
        let frame = Frame {
            id: take.pass,
            track: take.track,
            feel: track.feel,
            transpose: &self.transposition(track, section),
            metre: &section.metre,
        };
        let edits = merging(pass, &draft.pass, |notes| covers(notes, &round, &frame));
        self.own(round, &draft);
        let levels = self.levels_for(&draft.pass);
        if !levels.is_empty() {
            // They are in the same step as the moves. It cannot fail: the track is in the song.
            let _ = self.commit(now, Commit::new(Label::Levels, levels), How::Amend(take.pass));
        }
        self.complete(now, take.pass, at, edits);
    }

    /// The passes that a round mutes if notes begin in it: those of the take that is replaced and, in *newest*,
    /// those of the rounds before.
    pub(super) fn outdated(&self, take: &Take, pass: &Pass) -> Vec<PassId> {
        let newest = self.how.rounds == Rounds::Newest;
        let section = self.section(take.section).filter(|_| begins(pass));
        let layer = |id| section.and_then(|section| section.layer(id));
        let sounds = |id: &PassId| layer(*id).is_some_and(|layer| !layer.mute);
        let last = take.last.iter().filter(|_| newest);
        last.chain(&take.replaced).copied().filter(sounds).collect()
    }
}

/// The edits that add one pass to another; `covers` gives the spans that all its notes cover.
fn merging(pass: &Pass, more: &Pass, covers: impl FnOnce(&[Note]) -> Vec<Span>) -> Vec<PassEdit> {
    let mut notes: Vec<Note> = pass.notes().iter().chain(more.notes()).copied().collect();
    notes.sort_by_key(Note::order);
    let mut edits =
        vec![PassEdit::AddNotes(more.notes().to_vec()), PassEdit::Covers(covers(&notes))];
    for (nth, message) in (0..).zip(more.sysex()) {
        // Messages of one tick go after those already there.
        let same = |known: &&chaconne_song::SysEx| known.at == message.at;
        let before = more.sysex()[..nth].iter().filter(same).count();
        let place = pass.sysex().iter().filter(same).count() + before;
        edits.push(PassEdit::AddSysEx(place, message.clone()));
    }
    for lane in more.lanes() {
        match pass.lane(lane.id()) {
            Some(known) => {
                edits.push(PassEdit::RemoveLane(known.id()));
                edits.push(PassEdit::AddLane(joined(known, lane)));
            }
            None => edits.push(PassEdit::AddLane(lane.clone())),
        }
    }
    edits
}

/// Merges the moves of two lanes.
fn joined(lane: &Lane, more: &Lane) -> Lane {
    let mut whole = lane.clone();
    whole.points.extend(more.points.iter().copied());
    whole.points.sort_by_key(|point| point.at);
    whole.span.from = whole.span.from.min(more.span.from);
    whole.span.to = whole.span.to.max(more.span.to);
    whole
}
