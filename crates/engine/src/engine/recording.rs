//! Recording: a take from record on to record off, round by round.

use super::commit::How;
use super::late::Closed;
use super::open_round::Open;
use super::states::Discarded;
use super::{Engine, Refused};
use crate::assemble::{Draft, Frame, Round, assemble};
use crate::capture::{Capture, Fate};
use crate::plan::Since;
use crate::{Entry, Mode, Rounds, feel};
use chaconne_song::{
    Commit, Edit, Label, Letter, NoteId, Pass, PassId, Section, SectionEdit, Track, TrackId,
};
use chaconne_time::{Ns, Span, Tempo, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// From record on to record off.
#[derive(Debug, Clone)]
pub(super) struct Take {
    pub track: TrackId,
    pub section: Letter,
    /// Where recording started: where the music begins, at a seam, or at the tick inside a round at which record
    /// was pressed.
    pub start: Tick,
    /// The start of the round now being recorded; with one pass for the take, of its first.
    pub round: Tick,
    /// The end of the round now being recorded.
    pub end: Tick,
    /// The length of a round.
    pub length: Tick,
    /// Notes and gestures that start before this tick belong to an earlier round, or to none.
    pub low: Tick,
    /// The id that the unfinished round's pass will have.
    pub pass: PassId,
    /// The pass of the last round in which notes begin, and those of the rounds since.
    pub last: Vec<PassId>,
    /// Until notes begin in a round: the passes of the take that this one replaces.
    pub replaced: Vec<PassId>,
    /// Whether the player has been told that what is played in the count-in is not recorded.
    pub told_early: bool,
    pub open: Open,
}

/// Where a round ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Off {
    /// At a seam: notes played early for it belong to the round that starts there.
    Seam(Tick),
    /// At a seam where nothing begins: what was played early for it belongs to what ends there.
    Last(Tick),
    /// Where record was pressed inside a round: what was played up to it is kept.
    Foot(Tick),
}

/// When a closed round is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ending {
    pub sounds: Tick,
    /// The start of its first cycle, if its cycles do not count from the section's entry.
    pub origin: Option<Tick>,
}

impl Engine {
    pub(super) fn take_frame(&self) -> Option<(Take, Arc<Track>, Arc<Section>)> {
        let take = self.recorder.current()?.clone();
        let track = Arc::clone(self.song.track(take.track)?);
        let section = Arc::clone(self.section(take.section)?);
        Some((take, track, section))
    }

    pub(super) fn record_on(&mut self, now: Ns) -> Result<(), Refused> {
        self.begin_take(now, Vec::new())
    }

    /// Starts a take that replaces these passes: its first round with notes mutes them.
    pub(super) fn begin_take(&mut self, now: Ns, before: Vec<PassId>) -> Result<(), Refused> {
        if self.recorder.takes() {
            return Ok(());
        }
        let track = self.track_to_record()?;
        let armed = track.id;
        if !self.transport.rolls() {
            self.roll(now, self.beginning(), true)?;
        }
        // In the count-in, and in the moment between the command and the start, recording is to begin with the
        // music.
        let Some(run) = self.transport.run() else { return Ok(()) };
        let (at, music) = (run.in_music(run.timeline.tick_at(now)), run.music());
        let Some((entry, section)) = self.stay(at) else { return Ok(()) };
        let length = section.new_pass_length(&track);
        let half = feel::half_step(&track.feel);
        let round = round_at(entry.at, length, at);
        let seam = if at == music { Some(music) } else { self.late_for(round, at) };
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
            replaced: Vec::new(),
            told_early: false,
            open: Open::default(),
        });
        self.played.capture.count_round(true);
        self.remember_beginning(start, before);
        self.take_over();
        self.refresh(now);
        self.revise_clicks(now);
        self.say_unheard(&track);
        Ok(())
    }

    /// Where a take enters a section: what it replaces there.
    pub(super) fn take_over(&mut self) {
        let Some((take, _, section)) = self.take_frame() else { return };
        let Some((entry, _)) = self.stay(take.round) else { return };
        let replaced = self.replaced_in(&section, take.track);
        if let Some(run) = self.transport.run_mut() {
            for &id in &replaced {
                run.since.entry(id).or_insert(Since::always(entry.at));
            }
        }
        if let Some(take) = self.recorder.current_mut() {
            (take.last, take.replaced) = (Vec::new(), replaced);
        }
    }

    /// The armed track.
    pub(super) fn track_to_record(&self) -> Result<Arc<Track>, Refused> {
        let none = || Refused("there is no track to record on: add one first".into());
        let armed = self.armed.track().and_then(|armed| self.song.track(armed));
        armed.cloned().ok_or_else(none)
    }

    /// Says so if the player will not hear the pass, because its track is muted or not soloed.
    fn say_unheard(&mut self, track: &Track) {
        let soloed = &self.mix.solo_tracks;
        let why = match track.mute {
            true => "is muted",
            false if !soloed.is_empty() && !soloed.contains(&track.id) => "is not soloed",
            false => return,
        };
        self.say(format!("you will not hear this pass: {} {why}", track.name));
    }

    /// Says once in a take that what is played in its count-in is not recorded.
    pub(super) fn say_early(&mut self, at: Tick) {
        let counts_in = self.counts_in(at);
        if let Some(take) = self.recorder.current_mut()
            && counts_in
            && at < take.low
            && !std::mem::replace(&mut take.told_early, true)
        {
            self.say("what you play during the count-in is not recorded".into());
        }
    }

    /// Whether a tick is in the count-in.
    pub(super) fn counts_in(&self, at: Tick) -> bool {
        self.transport.run().is_some_and(|run| run.counts_in(at))
    }

    pub(super) fn record_off(&mut self, now: Ns) -> Result<(), Refused> {
        let (Some((take, ..)), Some(at)) = (self.take_frame(), self.tick_at(now)) else {
            self.end_take(now);
            return Ok(());
        };
        let round = round_at(take.round, take.length, at);
        let seam = self.late_for(round, at).filter(|&seam| seam > take.start);
        if at < take.start {
            // Still counting in: nothing was recorded.
        } else if let Some(seam) = seam {
            self.close_late(now, seam, at);
        } else {
            self.close_take(now, round + take.length, Off::Foot(at));
        }
        self.end_take(now);
        self.revise_clicks(now);
        Ok(())
    }

    /// Ends the take, if there is one. Input of its round that is in no pass is no longer heard.
    pub(super) fn end_take(&mut self, now: Ns) {
        self.played.capture.count_round(false);
        let Some(take) = self.recorder.end() else { return };
        if let Some(run) = self.transport.run_mut()
            && self.song.pass(take.pass).is_none()
        {
            run.since.remove(&take.pass);
        }
        self.outdate_last(&take, false);
        // Where the track has no pass, its settings are no longer in force.
        self.compile();
        self.revise_track(now, take.track);
    }

    pub(super) fn set_mode(&mut self, now: Ns, mode: Mode) -> Result<(), Refused> {
        self.how.mode = mode;
        self.refresh(now);
        Ok(())
    }

    pub(super) fn set_rounds(&mut self, rounds: Rounds) -> Result<(), Refused> {
        if self.recorder.takes() && rounds != self.how.rounds {
            return Err(Refused("choose which rounds to keep before you record".into()));
        }
        self.how.rounds = rounds;
        Ok(())
    }

    pub(super) fn draft(
        &mut self,
        take: &Take,
        track: &Track,
        section: &Section,
        round: Round,
    ) -> Draft {
        let (feel, metre) = (track.feel, &section.metre);
        let transpose = &self.transposition(track, section);
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
            let closes = self.how.rounds != Rounds::One || moves_on || longest || take.end >= end;
            if closes {
                // At the end of the route nothing begins that early notes could belong to.
                let off = if take.end >= end { Off::Last } else { Off::Seam };
                self.close_take(now, take.end, off(take.end));
            }
            if take.end >= end {
                return;
            }
            self.next_round(now, &take, entry, closes);
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
        let enters = entry.at == ended.end;
        if enters {
            take.section = entry.section;
            take.length = section.new_pass_length(&track);
        }
        if closed {
            take.round = ended.end;
            take.open.begin();
            self.played.capture.count_round(true);
        }
        take.end = (ended.end + take.length).min(entry.until);
        // What was played early for it is planned at once; if nobody listens, with the next command.
        take.open.hear(ended.end, true);
        if enters {
            self.take_over();
        }
    }

    /// Makes a pass of whatever the take has that is in no pass yet, up to `off`; the pass ends at
    /// `end`. An empty round makes no pass and leaves redo alone. What is queued is brought up to date
    /// when the take goes on to its next round or ends.
    pub(super) fn close_take(&mut self, now: Ns, end: Tick, off: Off) {
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
            mode: self.how.mode,
            with_discarded: false,
        };
        let one = self.how.rounds == Rounds::One;
        let left = self.stay(take.round).map_or(Tick::MAX, |(entry, _)| entry.until);
        let sounds = if one { end } else { round.from + round.length }.min(left);
        let ending = Ending { sounds, origin: one.then_some(sounds) };
        let draft = self.draft(&take, &track, &section, round);
        let fresh = self.new_pass();
        if let Some(take) = self.recorder.current_mut() {
            take.low = high;
            take.open.close();
        }
        let laid = !draft.pass.is_empty();
        // From now on the mutes in the song decide whether the rounds before sound.
        self.outdate_last(&take, false);
        self.remember(Closed { take: take.clone(), round, ending, laid, late: None });
        if !laid {
            if let Some(run) = self.transport.run_mut() {
                run.since.remove(&take.pass);
            }
            return;
        }
        self.since(&take, ending.sounds, ending.origin);
        let last = self.outdated(&take, &draft.pass);
        if let Some(take) = self.recorder.current_mut() {
            if begins(&draft.pass) {
                take.last.clear();
                take.replaced.clear();
            }
            take.last.push(draft.pass.id);
            take.pass = fresh;
        }
        self.lay(now, &take, round, draft, last, Label::NewPass);
    }

    /// The pass of the round before whose step of undo has that of a round, too: both hold nothing but moves,
    /// and the player went on moving over the seam without a pause of a bar.
    fn goes_on_from(&self, take: &Take, pass: &Pass) -> Option<PassId> {
        let before = self.song.pass(*take.last.last()?)?;
        let laid = |edit: &Edit| matches!(edit, Edit::Section(_, SectionEdit::Remove(id)) if *id == before.id);
        let is_newest = self.history.newest().is_some_and(|edits| edits.iter().any(laid))
            && self.history.redo_steps().is_empty()
            && self.played.discarded.is_empty();
        let ticks = |pass: &Pass| -> Vec<Tick> {
            pass.lanes().iter().flat_map(|lane| &lane.points).map(|point| point.at).collect()
        };
        let last = ticks(before).into_iter().max()?;
        let first = ticks(pass).into_iter().min()?;
        let pause = before.length - last + first;
        let joins = is_newest && before.is_only_moves() && pass.is_only_moves();
        (joins && pause < self.bar_at(take.round)).then_some(before.id)
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
        edits.extend(outdated.iter().copied().map(mute));
        edits.extend(self.levels_for(&draft.pass));
        let words = match label {
            Label::NewPass if draft.pass.is_only_moves() => Label::Moves,
            label => label,
        };
        let before = self.goes_on_from(take, &draft.pass).filter(|_| words == Label::Moves);
        let how = before.map_or(How::Round, How::Amend);
        if let Err(error) = self.commit(now, Commit::new(words, edits), how) {
            // The notes stay in the capture, where *keep* finds them.
            self.say(error.0);
            return false;
        }
        if label == Label::NewPass {
            self.remember_pass(take.pass, &outdated);
        }
        self.own(round, &draft);
        true
    }

    /// Marks the contents of a draft as owned by its pass, and remembers which of them are still held,
    /// so that they are completed there.
    pub(super) fn own(&mut self, round: Round, draft: &Draft) {
        let end = round.off.min(round.from + round.length);
        self.mark(draft, Span::new(round.from, end), Fate::Owned);
        let id = draft.pass.id;
        self.played.held.notes.extend(draft.held.iter().map(|&note| (note, id)));
        let going = draft.going.iter().map(|&(number, lane)| (number, (id, lane, round.from)));
        self.played.held.gestures.extend(going);
    }

    /// Gives a fate to the contents of a draft that no pass owns yet.
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
        self.refresh(now);
        let moved = self.let_levels_go(&draft.pass);
        if !moved.is_empty() {
            self.revise_track(now, take.track);
            self.return_levels(&moved);
        }
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
        self.refresh(now);
        true
    }
}

/// Whether notes begin in a pass. Early notes do not count: they were played in the round before.
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
