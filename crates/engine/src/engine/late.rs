//! What comes late: input that was played before a seam, a foot or a stop, and is brought after it.
//!
//! An input may be slower than a foot. What it brings belongs to where it was played: to the round
//! in which it started, though that round is closed or the transport stopped meanwhile. Its pass
//! takes it in, in the same step of undo. And what no pass has can still be kept after a stop.

use super::recording::{Ending, Go};
use super::transport::Run;
use super::{Engine, Input};
use crate::assemble::{Draft, Frame, Round, covers};
use crate::{Message, Rounds, Wire};
use chaconne_song::{Lane, Note, Pass, PassEdit, Section};
use chaconne_time::{Ns, Span, Tick};

/// A round that is closed.
#[derive(Debug, Clone)]
pub(super) struct Closed {
    /// The go as it was; its pass is the one the round has become.
    pub go: Go,
    pub round: Round,
    pub ending: Ending,
    /// Whether it has become a pass; an empty one has not.
    pub laid: bool,
}

/// A run that is over.
#[derive(Debug)]
pub(super) struct Past {
    pub run: Run,
    /// Where it stopped.
    pub at: Tick,
}

/// How many closed rounds still take in what comes late.
const REMEMBERED: usize = 4;

impl Engine {
    /// The run, or the one that is over.
    pub(super) fn course(&self) -> Option<&Run> {
        self.run.as_ref().or(self.past.as_ref().map(|past| &past.run))
    }

    /// Where the transport is, or where it stopped.
    pub(super) fn reached(&self, now: Ns) -> Option<Tick> {
        self.tick_at(now).or(self.past.as_ref().map(|past| past.at))
    }

    /// The tick at which an input was played: of the run, or of the one that is over where it was
    /// played before its end. A key that comes up after the end came up there.
    pub(super) fn played_at(&self, stamp: Ns, input: &Input) -> Option<Tick> {
        if self.run.is_some() {
            return self.tick_at(stamp);
        }
        let past = self.past.as_ref()?;
        let at = past.run.timeline.tick_at(stamp);
        let comes_up =
            matches!(input, Input::Lost | Input::Heard(Wire::Message(Message::NoteOff { .. })));
        (at <= past.at || comes_up).then(|| at.min(past.at))
    }

    /// The run that is over is forgotten; what it left held has come up where it stopped.
    pub(super) fn forget_past(&mut self, now: Ns) {
        if let Some(past) = self.past.take() {
            for note in self.capture.release_all(past.at) {
                self.released(now, note);
            }
            for number in self.capture.lift_pedals(past.at) {
                self.stamped(now, number);
            }
        }
        self.closed.clear();
    }

    pub(super) fn remember(&mut self, closed: Closed) {
        if self.closed.len() == REMEMBERED {
            self.closed.pop_front();
        }
        self.closed.push_back(closed);
    }

    /// Gives what comes late to the round it was played in, where that is closed.
    pub(super) fn amend(&mut self, now: Ns, at: Tick) {
        let owns = |closed: &Closed| closed.round.low <= at && at < closed.round.off;
        let Some(index) = self.closed.iter().rposition(owns) else { return };
        let mut closed = self.closed[index].clone();
        let Some(track) = self.song.track(closed.go.track).cloned() else { return };
        let Some(section) = self.section(closed.go.section).cloned() else { return };
        if !closed.laid {
            closed.go.pass = self.ids.pass();
        }
        let draft = self.draft(&closed.go, &track, &section, closed.round);
        if draft.pass.is_empty() {
            // It is none of the round's own, though it lies in its time.
            return;
        }
        if closed.laid {
            self.lay_in(now, at, &closed, draft, &section);
        } else {
            self.lay_late(now, &closed, draft);
            closed.laid = true;
            self.closed[index] = closed;
        }
    }

    /// A closed round that was empty becomes a pass after all.
    fn lay_late(&mut self, now: Ns, closed: &Closed, draft: Draft) {
        let (go, ending) = (&closed.go, closed.ending);
        self.since(go, ending.sounds, ending.origin);
        let last = self.outdated(go);
        if let Some(present) = self.go.as_mut().filter(|present| present.last == go.last) {
            present.last = Some(go.pass);
        }
        self.lay(now, go, closed.round, draft, last, true);
    }

    /// The pass of a closed round takes in what came late.
    fn lay_in(&mut self, now: Ns, at: Tick, closed: &Closed, draft: Draft, section: &Section) {
        let (go, round) = (&closed.go, closed.round);
        // Taken off meanwhile, it stays so; what came late can still be kept.
        let Some(pass) = self.song.pass(go.pass) else { return };
        let Some(feel) = self.song.track(go.track).map(|track| track.feel) else { return };
        let frame = Frame { id: go.pass, track: go.track, feel, metre: &section.metre };
        let edits = merging(pass, &draft.pass, |notes| covers(notes, &round, &frame));
        self.own(go, round, &draft);
        self.complete(now, go.pass, at, edits);
    }

    /// The pass that a round silences, once it has something itself.
    pub(super) fn outdated(&self, go: &Go) -> Option<chaconne_song::PassId> {
        let last = go.last.filter(|_| self.rounds == Rounds::Newest)?;
        self.song.pass(last).map(|_| last)
    }
}

/// The edits that give a pass what another has; `covers` says where all its notes cover others.
fn merging(pass: &Pass, more: &Pass, covers: impl FnOnce(&[Note]) -> Vec<Span>) -> Vec<PassEdit> {
    let mut notes: Vec<Note> = pass.notes().iter().chain(more.notes()).copied().collect();
    notes.sort_by_key(Note::order);
    let mut edits =
        vec![PassEdit::AddNotes(more.notes().to_vec()), PassEdit::Covers(covers(&notes))];
    for (nth, message) in (0..).zip(more.sysex()) {
        // Those of one tick come after those that are there.
        let same = |known: &&chaconne_song::SysEx| known.at == message.at;
        let before = more.sysex()[..nth].iter().filter(same).count();
        let place = pass.sysex().iter().filter(same).count() + before;
        edits.push(PassEdit::AddSysEx(place, message.clone()));
    }
    for lane in more.lanes() {
        let same = |known: &&Lane| known.channel == lane.channel && known.control == lane.control;
        match pass.lanes().iter().find(same) {
            Some(known) => {
                edits.push(PassEdit::RemoveLane(known.id()));
                edits.push(PassEdit::AddLane(joined(known, lane)));
            }
            None => edits.push(PassEdit::AddLane(lane.clone())),
        }
    }
    edits
}

/// The moves of two lanes in one.
fn joined(lane: &Lane, more: &Lane) -> Lane {
    let mut whole = lane.clone();
    whole.points.extend(more.points.iter().copied());
    whole.points.sort_by_key(|point| point.at);
    whole.span.from = whole.span.from.min(more.span.from);
    whole.span.to = whole.span.to.max(more.span.to);
    whole
}
