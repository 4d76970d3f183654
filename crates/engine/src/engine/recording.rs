//! Recording: a take from record on to record off, round by round.

use super::commit::How;
use super::late::Closed;
use super::open_round::Open;
use super::states::Discarded;
use super::{Engine, Input, Refused};
use crate::assemble::{Draft, Frame, Round, assemble};
use crate::capture::{Capture, Fate, News};
use crate::controls::Knob;
use crate::plan::{Since, transpose};
use crate::{Entry, Message, Mode, Rounds, Route, Wire, feel};
use chaconne_song::{
    Commit, Edit, Label, Letter, NoteId, Pass, PassId, Section, SectionEdit, Track, TrackId,
};
use chaconne_time::{Ns, Span, Tempo, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A bar of 4/4: for what comes when nothing runs any more.
const BAR: Tick = Tick(3840);

/// From record on to record off.
#[derive(Debug, Clone)]
pub(super) struct Take {
    pub track: TrackId,
    pub section: Letter,
    /// Where recording started: a seam, or the tick of the foot inside a round.
    pub start: Tick,
    /// The start of the round now being recorded; with one pass for the take, of its first.
    pub round: Tick,
    /// The end of the round now being recorded.
    pub end: Tick,
    /// The length of a round.
    pub length: Tick,
    /// Starts from here on are not yet owned by an earlier round.
    pub low: Tick,
    /// The id that the unfinished round's pass will have.
    pub pass: PassId,
    /// The pass of the last round in which notes begin, and those on it in which none do.
    pub last: Vec<PassId>,
    /// Whether the player has been told that what is played in the count-in is not recorded.
    pub told_early: bool,
    pub open: Open,
}

/// Where a round ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Off {
    /// At a seam: notes played early for it belong to the round that starts there.
    Seam(Tick),
    /// At a seam where nothing begins: what was played early for it belongs to what ends there.
    Last(Tick),
    /// Where the foot came: what was played is kept.
    Foot(Tick),
}

/// When a closed round is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ending {
    pub sounds: Tick,
    /// The start of its first cycle, if its cycles do not count from the section's entry.
    pub origin: Option<Tick>,
}

/// How far back a change of the unfinished round reaches.
#[derive(Debug, Clone, Copy)]
pub(super) enum Reach {
    /// Everything may have changed.
    All,
    /// Nothing that was played before this tick.
    From(Tick),
}

impl Engine {
    pub(super) fn take_frame(&self) -> Option<(Take, Arc<Track>, Arc<Section>)> {
        let take = self.recorder.current()?.clone();
        let track = Arc::clone(self.song.track(take.track)?);
        let section = Arc::clone(self.section(take.section)?);
        Some((take, track, section))
    }

    pub(super) fn record_on(&mut self, now: Ns) -> Result<(), Refused> {
        if self.recorder.takes() {
            return Ok(());
        }
        let none = || Refused("there is no track to record on: add one first".into());
        let armed = self.armed.track().ok_or_else(none)?;
        let track = Arc::clone(self.song.track(armed).ok_or_else(none)?);
        if !self.transport.rolls() {
            self.roll(now, Route::open(self.shown), true)?;
        }
        // The transport may start a little after the command.
        let at = self
            .tick_at(now)
            .unwrap_or_default()
            .max(self.transport.run().map_or(Tick::ZERO, |r| r.start));
        let Some((entry, section)) = self.stay(at) else { return Ok(()) };
        let length = section.new_pass_length(&track);
        let half = feel::half_step(&track.feel);
        let round = round_at(entry.at, length, at);
        // Before bar one, the seam is still to come.
        let seam = if at <= entry.at { Some(round) } else { self.late_for(round, at) };
        let start = seam.unwrap_or(at);
        let pass = self.new_pass();
        self.recorder.begin(Take {
            track: armed,
            section: entry.section,
            start,
            round,
            end: (round + length).min(entry.until),
            length,
            low: seam.map_or(at, |seam| seam - half),
            pass,
            last: Vec::new(),
            told_early: false,
            open: Open::default(),
        });
        self.played.capture.count_round(true);
        self.refresh(now, Reach::All);
        self.click_anew(now);
        self.say_unheard(&track);
        Ok(())
    }

    /// Says so where a take is recorded on a track that its passes are not heard on.
    fn say_unheard(&mut self, track: &Track) {
        let soloed = &self.mix.solo_tracks;
        let why = match track.mute {
            true => "is muted",
            false if !soloed.is_empty() && !soloed.contains(&track.id) => "is not soloed",
            false => return,
        };
        self.say(format!("{} {why}: you will not hear this pass", track.name));
    }

    /// Says once in a take that what is played in its count-in is not recorded.
    fn say_early(&mut self, at: Tick) {
        let counts_in = self.transport.run().is_some_and(|run| at < run.entries[0].at);
        if let Some(take) = self.recorder.current_mut()
            && counts_in
            && at < take.low
            && !std::mem::replace(&mut take.told_early, true)
        {
            self.say("what you play during the count-in is not recorded".into());
        }
    }

    pub(super) fn record_off(&mut self, now: Ns) -> Result<(), Refused> {
        let (Some((take, ..)), Some(at)) = (self.take_frame(), self.tick_at(now)) else {
            self.end_take(now);
            return Ok(());
        };
        let round = round_at(take.round, take.length, at);
        let seam = self.late_for(round, at).filter(|&seam| seam > take.start);
        if at < take.round {
            // Still counting in: nothing was recorded.
        } else if let Some(seam) = seam {
            self.close_late(now, seam, at);
        } else {
            self.close_take(now, round + take.length, Off::Foot(at));
        }
        self.end_take(now);
        self.click_anew(now);
        Ok(())
    }

    /// A late foot ends the take at the seam just past. What was played early for the round that now
    /// does not come is in the round that ends; what was played since is a round of its own, on top
    /// of it.
    fn close_late(&mut self, now: Ns, seam: Tick, at: Tick) {
        let Some((take, track, section)) = self.take_frame() else { return };
        if seam > take.round {
            let end = take.round + (seam - take.round).round_up(take.length);
            self.close_take(now, end, Off::Last(seam));
        } else {
            self.take_in_early(now, seam, feel::half_step(&track.feel));
        }
        let (pass, last) = (self.new_pass(), Vec::new());
        let take = Take { round: seam, low: seam, pass, last, ..take };
        let round = Round {
            from: seam,
            length: take.length,
            low: seam,
            high: at + Tick(1),
            off: at,
            first: false,
            punch: Span::new(seam, at),
            mode: Mode::Layer,
            anew: false,
        };
        let draft = self.draft(&take, &track, &section, round);
        let laid = !draft.pass.notes().is_empty();
        // What comes late for it belongs there, too.
        let ending = Ending { sounds: seam + take.length, origin: None };
        self.remember(Closed { take: take.clone(), round, ending, laid, late: None });
        if laid {
            self.since(&take, ending.sounds, ending.origin);
            self.lay(now, &take, round, draft, Vec::new(), Label::NewPass);
        }
    }

    /// The round that was closed at a seam takes in what was played half a step before it.
    fn take_in_early(&mut self, now: Ns, seam: Tick, half: Tick) {
        let ended = |closed: &&mut Closed| closed.round.high == seam - half;
        if let Some(closed) = self.played.closed.iter_mut().rev().find(ended) {
            (closed.round.high, closed.late) = (seam, Some(seam - half));
            self.settle(now);
        }
    }

    /// The take is over, if there is one; what its round has and no pass has is heard no more.
    pub(super) fn end_take(&mut self, now: Ns) {
        self.played.capture.count_round(false);
        let Some(take) = self.recorder.end() else { return };
        if let Some(run) = self.transport.run_mut()
            && self.song.pass(take.pass).is_none()
        {
            run.since.remove(&take.pass);
        }
        self.outdate_last(&take.last, take.end, false);
        if take.open.is_planned() {
            self.compile();
            self.revise_track(now, take.track);
        }
    }

    pub(super) fn set_mode(&mut self, now: Ns, mode: Mode) -> Result<(), Refused> {
        self.mode = mode;
        self.refresh(now, Reach::All);
        Ok(())
    }

    pub(super) fn set_rounds(&mut self, rounds: Rounds) -> Result<(), Refused> {
        if self.recorder.takes() && rounds != self.rounds {
            return Err(Refused("choose which rounds to keep before you record".into()));
        }
        self.rounds = rounds;
        Ok(())
    }

    /// Takes an input. The next poll adds it to its round.
    pub(super) fn played(&mut self, stamp: Ns, source: u8, input: Input) {
        let Some(at) = self.played_at(stamp, &input) else {
            if let Input::Heard(Wire::Message(message)) = input {
                self.played.capture.message_at_rest(message);
            }
            return;
        };
        let lost = self.played.capture.lost();
        let news = match input {
            Input::Heard(Wire::Message(message)) => {
                let bar = self.bar_at(at);
                let news = self.played.capture.message(at, source, message, bar);
                if self.transport.rolls() {
                    self.touched(stamp, at, message);
                }
                news
            }
            Input::Heard(Wire::SysEx(bytes)) => self.played.capture.sysex(at, bytes),
            Input::Lost => {
                for note in self.played.capture.input_lost(at, source) {
                    self.released(note);
                }
                News::Nothing
            }
        };
        if lost != self.played.capture.lost() {
            self.say_full();
        }
        self.hear(at, news);
    }

    fn hear(&mut self, at: Tick, news: News) {
        let (first, struck) = match news {
            News::Nothing => return,
            News::Played => (at, true),
            News::Again(before) => {
                self.released(before);
                (self.played.capture.note(before).map_or(at, |caught| caught.start), true)
            }
            News::Released(note) => {
                self.released(note);
                (self.played.capture.note(note).map_or(at, |caught| caught.start), false)
            }
            News::Moved(number) => {
                self.moved(number);
                (self.played.capture.gesture(number).map_or(at, |gesture| gesture.start()), false)
            }
        };
        if struck {
            self.say_early(at);
        }
        if struck && self.recorder.current().is_none_or(|take| at < take.round.max(take.low)) {
            self.comes_late(at);
        }
        let at_once = self.is_heard_at_once(at, struck);
        if let Some(take) = self.recorder.current_mut() {
            take.open.hear(first, at_once);
        }
    }

    /// Whether a note played now changes what should sound now: it does if it is the first in its
    /// round, or in replace mode the first in its bar.
    fn is_heard_at_once(&mut self, at: Tick, struck: bool) -> bool {
        let Some(take) = self.recorder.current_mut() else { return false };
        if take.open.pass.is_none() || self.mode != Mode::Replace {
            return take.open.pass.is_none();
        }
        let (Some(track), Some(section)) =
            (self.song.track(take.track), self.song.section(take.section))
        else {
            return false;
        };
        let half = feel::half_step(&track.feel);
        // The strokes of a roll at an edge go where the loudest of them belongs.
        let tempo = self.transport.run().map_or(Tempo::DEFAULT, |run| run.timeline.tempo_at(at));
        let near = tempo.ticks_in(feel::ROLL_NANOS);
        let is_near = |edge: Tick| at - near < edge && edge < at + near;
        let rolls = track.feel.rolls && (is_near(take.low) || is_near(take.end - half));
        let bar = section.metre.bar_at(at - take.round + half);
        struck && (take.open.begins_bar(bar, at) || rolls)
    }

    /// Says once in a round that it is full.
    fn say_full(&mut self) {
        if let Some(take) = self.recorder.current()
            && self.full != Some(take.pass)
        {
            self.full = Some(take.pass);
            self.say("this round is full: what you play now is heard but not recorded".into());
        }
    }

    /// How long a bar is at a tick.
    pub(super) fn bar_at(&self, at: Tick) -> Tick {
        let section = self.visit(at).map(|visit| (visit.entry.at, visit.section));
        section.map_or(BAR, |(from, section)| section.metre.metre_at(at - from).bar())
    }

    /// A controller the player moves is nobody else's until the seam.
    fn touched(&mut self, stamp: Ns, at: Tick, message: Message) {
        let Some((control, value)) = message.control() else { return };
        let (Some(channel), Some(armed)) = (message.channel(), self.armed.track()) else { return };
        let Some(track) = self.song.track(armed).cloned() else { return };
        let Some(seam) = self.visit(at).map(|visit| visit.round(at).end) else { return };
        let port = self.port_of(&track);
        let knob = Knob { port, channel: track.channel_for(channel), control };
        let slot = self.performer.slot_of(armed);
        if self.performer.touch(knob, value, seam, slot) {
            let speakers = self.performer.speakers(&knob);
            self.revise(stamp, &speakers);
        }
    }

    pub(super) fn draft(
        &mut self,
        take: &Take,
        track: &Track,
        section: &Section,
        round: Round,
    ) -> Draft {
        let (feel, metre) = (track.feel, &section.metre);
        let transpose = transpose(&self.song, section, track);
        let frame = Frame { id: take.pass, track: take.track, feel, transpose, metre };
        let draft = assemble(&self.played.capture, round, frame, |at| self.tempo_then(at));
        let looked_at = self.played.capture.len();
        self.played.capture.worked(looked_at);
        draft
    }

    fn tempo_then(&self, at: Tick) -> Tempo {
        self.course().map_or(Tempo::DEFAULT, |run| run.timeline.tempo_at(at))
    }

    /// Closes every round that ended at or before `at`.
    pub(super) fn close_rounds(&mut self, now: Ns, at: Tick) {
        while let Some(take) = self.recorder.current().filter(|take| take.end <= at).cloned() {
            let Some(run) = self.transport.run() else { return };
            let (entry, end) = (run.entry(take.end), run.end());
            let moves_on = entry.at == take.end;
            let longest = take.end - take.round + take.length > self.longest(&take);
            let closes = self.rounds != Rounds::One || moves_on || longest || take.end >= end;
            if closes {
                self.close_take(now, take.end, Off::Seam(take.end));
            }
            if take.end >= end {
                return;
            }
            self.next_round(now, &take, entry, closes);
            self.refresh(now, Reach::From(take.end));
        }
    }

    /// The longest a pass may be.
    fn longest(&self, take: &Take) -> Tick {
        self.section(take.section).map_or(take.length, |section| section.longest_pass())
    }

    /// Moves the take on to its next round, perhaps in another section.
    fn next_round(&mut self, now: Ns, ended: &Take, entry: Entry, closed: bool) {
        let track = self.song.track(ended.track).cloned();
        let section = self.section(entry.section).cloned();
        let (Some(take), Some(track), Some(section)) =
            (self.recorder.current_mut(), track, section)
        else {
            self.end_take(now);
            return;
        };
        if entry.at == ended.end {
            take.section = entry.section;
            take.length = section.new_pass_length(&track);
            take.last = Vec::new();
        }
        if closed {
            take.round = ended.end;
            take.open.begin();
            self.played.capture.count_round(true);
        }
        take.end = (ended.end + take.length).min(entry.until);
    }

    /// Makes a pass of whatever the take has that is in no pass yet, up to `off`; the pass ends at
    /// `end`. An empty round makes no pass and leaves redo alone.
    fn close_take(&mut self, now: Ns, end: Tick, off: Off) {
        let Some((take, track, section)) = self.take_frame() else { return };
        let (high, off) = match off {
            Off::Seam(seam) => (seam - feel::half_step(&track.feel), seam),
            Off::Last(seam) => (seam, seam),
            Off::Foot(at) => (at + Tick(1), at),
        };
        let round = Round {
            from: take.round,
            length: take.length * rounds_in(end - take.round, take.length),
            low: take.low,
            high,
            off: off.max(high),
            first: take.start >= take.round,
            punch: Span::new(take.start, off),
            mode: self.mode,
            anew: false,
        };
        let one = self.rounds == Rounds::One;
        let left = self.stay(take.round).map_or(Tick::MAX, |(entry, _)| entry.until);
        let sounds = if one { end } else { round.from + round.length }.min(left);
        let ending = Ending { sounds, origin: one.then_some(sounds) };
        let draft = self.draft(&take, &track, &section, round);
        let fresh = self.new_pass();
        let reach = take.length - feel::half_step(&track.feel) * 2;
        let pressing = take.open.sounds_before(self.performer.until(), reach);
        let planned = take.open.is_planned();
        if let Some(take) = self.recorder.current_mut() {
            take.low = high;
            take.open.close();
        }
        let laid = !draft.pass.is_empty();
        // The song itself mutes the round before from now on, or does not.
        self.outdate_last(&take.last, take.end, false);
        self.remember(Closed { take: take.clone(), round, ending, laid, late: None });
        if !laid {
            if let Some(run) = self.transport.run_mut() {
                run.since.remove(&take.pass);
            }
            if planned {
                // It was planned, and turns out to be empty.
                self.compile();
                self.revise_track(now, take.track);
            }
            return;
        }
        self.since(&take, ending.sounds, ending.origin);
        let last = self.outdated(&take, &draft.pass);
        if let Some(take) = self.recorder.current_mut() {
            if begins(&draft.pass) {
                take.last.clear();
            }
            take.last.push(draft.pass.id);
            take.pass = fresh;
        }
        let reaches_back = one || pressing || !last.is_empty();
        if self.lay(now, &take, round, draft, last, Label::NewPass) && reaches_back {
            self.revise_track(now, take.track);
        }
    }

    pub(super) fn since(&mut self, take: &Take, from: Tick, origin: Option<Tick>) {
        let Some((entry, _)) = self.stay(take.round) else { return };
        let (until, covers_from) = (Tick::MAX, take.round);
        let since = Since { from, origin, until, covers_from, entry: entry.at };
        if let Some(run) = self.transport.run_mut() {
            run.since.insert(take.pass, since);
        }
    }

    /// Lays a finished pass on top of its track, as one step; returns whether it could.
    pub(super) fn lay(
        &mut self,
        now: Ns,
        take: &Take,
        round: Round,
        draft: Draft,
        outdated: Vec<PassId>,
        label: Label,
    ) -> bool {
        let Some(at) = self.section(take.section).map(|section| section.layers.len()) else {
            return false;
        };
        let mute = |last| Edit::Section(take.section, SectionEdit::Mute(last, true));
        let mut edits = vec![Edit::lay(take.section, at, draft.pass.clone())];
        edits.extend(outdated.into_iter().map(mute));
        let commit = Commit::new(label, edits);
        if let Err(error) = self.commit(now, commit, How::Round) {
            // The notes stay in the capture, where *keep* finds them.
            self.say(error.0);
            return false;
        }
        self.own(round, &draft);
        true
    }

    /// What a draft has belongs to its pass from now on, and what of it is still held will be
    /// completed there.
    pub(super) fn own(&mut self, round: Round, draft: &Draft) {
        let end = round.off.min(round.from + round.length);
        self.mark(draft, Span::new(round.from, end), Fate::Owned);
        let id = draft.pass.id;
        self.played.held.notes.extend(draft.held.iter().map(|&note| (note, id)));
        let going = draft.going.iter().map(|&(number, lane)| (number, (id, lane, round.from)));
        self.played.held.gestures.extend(going);
    }

    /// Gives a fate to what was caught and has none yet.
    fn mark(&mut self, draft: &Draft, span: Span, fate: Fate) {
        let notes: BTreeSet<NoteId> = draft.notes.iter().copied().collect();
        let gestures: BTreeSet<u64> = draft.gestures.iter().copied().collect();
        let Capture { notes: caught, gestures: moved, sysex, .. } = &mut self.played.capture;
        let caught = caught.iter_mut().filter(|caught| notes.contains(&caught.id));
        let moved = moved.values_mut().filter(|gesture| gestures.contains(&gesture.number));
        let sysex = sysex.iter_mut().filter(|message| span.contains(message.at));
        let fates = caught.map(|caught| &mut caught.fate);
        let fates = fates.chain(moved.map(|gesture| &mut gesture.fate));
        let fates = fates.chain(sysex.map(|message| &mut message.fate));
        fates.filter(|known| **known != Fate::Owned).for_each(|known| *known = fate);
    }

    /// Discards the unfinished round until redo brings it back; returns whether there was one.
    pub(super) fn discard_round(&mut self, now: Ns) -> bool {
        let open = self.recorder.current().and_then(|take| take.open.pass.as_ref());
        if open.is_none_or(|open| open.is_empty()) {
            return false;
        }
        let Some((take, track, section)) = self.take_frame() else { return false };
        let Some(at) = self.tick_at(now) else { return false };
        let round = self.open_round(&take, &track, at);
        let draft = self.draft(&take, &track, &section, round);
        self.discards += 1;
        let (number, redo) = (self.discards, self.history.redo_steps().len());
        let span = Span::new(take.round, Tick::MAX);
        self.mark(&draft, span, Fate::Discarded(number));
        self.played.discarded.push(Discarded { number, redo });
        self.refresh(now, Reach::All);
        true
    }

    /// The discarded round, if that is what redo would bring back.
    pub(super) fn discarded(&self) -> Option<Discarded> {
        let last = self.played.discarded.last().copied();
        last.filter(|last| last.redo == self.history.redo_steps().len())
    }

    /// Brings back the round discarded last, if it is redo's turn; returns whether it was.
    pub(super) fn restore_round(&mut self, now: Ns) -> bool {
        let Some(Discarded { number, .. }) = self.discarded() else { return false };
        self.played.discarded.pop();
        self.played.capture.change_fate(Fate::Discarded(number), Fate::Free);
        // If the round is over by now, it becomes a pass.
        for closed in &mut self.played.closed {
            closed.late = Some(closed.round.low);
        }
        self.settle(now);
        self.refresh(now, Reach::All);
        true
    }

    /// Makes the take follow a jump. At a seam to come, its round ends there at the latest. At a seam
    /// already past, the round has ended, and the notes since then belong to the section entered.
    pub(super) fn take_follows(&mut self, now: Ns, at: Tick, seam: Tick, letter: Letter) {
        if seam <= at && self.recorder.current().is_some_and(|take| take.start < seam) {
            self.end_at_seam(now, seam);
        }
        let (track, section) = match self.recorder.current() {
            Some(take) => (self.song.track(take.track).cloned(), self.section(letter).cloned()),
            None => return,
        };
        let until = self.transport.run().map_or(Tick::MAX, |run| run.entry(at).until);
        let Some(take) = self.recorder.current_mut() else { return };
        if seam <= at
            && let (Some(track), Some(section)) = (track, section)
        {
            take.section = letter;
            take.length = section.new_pass_length(&track);
            take.round = seam;
            take.start = take.start.max(seam);
            take.last = Vec::new();
        }
        take.end = (round_at(take.round, take.length, at) + take.length).min(until);
        self.refresh(now, Reach::All);
    }

    /// The seam for which a foot is late: the section's top or the start of the recorded round,
    /// whichever was last, if that is less than a beat ago.
    fn late_for(&self, round: Tick, at: Tick) -> Option<Tick> {
        let visit = self.visit(at)?;
        let seam = visit.round(at).start.max(round);
        let beat = visit.section.metre.metre_at(seam - visit.entry.at).beat();
        (seam <= at && at - seam < beat).then_some(seam)
    }

    /// Closes the round at a seam that the take did not expect, if the round started before it.
    fn end_at_seam(&mut self, now: Ns, seam: Tick) {
        let Some(take) = self.recorder.current().cloned().filter(|take| take.round < seam) else {
            return;
        };
        let end = take.round + (seam - take.round).round_up(take.length);
        self.close_take(now, end, Off::Seam(seam));
    }
}

/// Whether notes begin in a pass: early ones were played for it in the round before.
pub(super) fn begins(pass: &Pass) -> bool {
    pass.notes().iter().any(|note| note.played.start >= Tick::ZERO)
}

/// How many rounds a span of time touches, at least one.
pub(super) fn rounds_in(span: Tick, length: Tick) -> i64 {
    span.round_up(length).0.max(length.0) / length.0
}

/// The start of the recorded round that a tick lies in. Recorded rounds are as long as a new pass,
/// which may differ from the section, and count from `first`.
pub(super) fn round_at(first: Tick, length: Tick, at: Tick) -> Tick {
    first + length * (at - first).max(Tick::ZERO).cycle(length).0
}
