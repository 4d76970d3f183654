//! Transposing while the song plays: at once, or at the next seam, bar or beat.
//!
//! In: whose keys, what they become, and when. Out: a change that is planned into what is performed ahead, so that
//! the new key begins exactly at its tick. When the clock is there, the song gets it, as one step of undo. A stop
//! before it gives it to the song at once: nothing of the old key plays any more.

use super::commit::How;
use super::{Engine, Refused};
use crate::key_change::{KeyOf, KeyTurn, NewKey, Transposition};
use crate::plan::transpose;
use crate::{KeyChange, When, feel};
use chaconne_song::{Commit, Edit, Letter, Section, SectionEdit, Song, Track, TrackId, Transpose};
use chaconne_time::{Ns, Tick};
use std::collections::{BTreeMap, BTreeSet};

/// A change of key that is still to come.
#[derive(Debug, Clone)]
pub(super) struct Coming {
    pub change: KeyChange,
    /// Nothing sounds in the new keys before this tick.
    floor: Tick,
}

impl Engine {
    /// Transposes the song or a section.
    pub(super) fn transpose(
        &mut self,
        now: Ns,
        of: KeyOf,
        new: NewKey,
        when: Option<When>,
    ) -> Result<(), Refused> {
        let is = transposition(&self.song, of).ok_or_else(|| missing(of))?;
        let coming = self.key_change().and_then(|(change, _)| change.to.get(&of).copied());
        let to = match new {
            NewKey::To(to) => to,
            NewKey::By(by) => stepped(coming.unwrap_or(is), by)?,
        };
        let place = when.and_then(|when| Some((when, self.key_tick(now, of, when)?)));
        self.forget_key_change(of);
        match place {
            Some(place) => self.plan_key_change(now, of, (is, to), place),
            None => self.transpose_now(now, of, (is, to)),
        }
    }

    /// Transposes at once.
    fn transpose_now(
        &mut self,
        now: Ns,
        of: KeyOf,
        (is, to): (Transpose, Transpose),
    ) -> Result<(), Refused> {
        self.replan_keys(now);
        if is != to {
            self.commit(now, Commit::of(edit(of, to)), How::Step)?;
        }
        self.say(match is == to {
            true => stays(of),
            false => format!("{} now", goes(of, is, to)),
        });
        Ok(())
    }

    /// Plans a change of key at a tick.
    fn plan_key_change(
        &mut self,
        now: Ns,
        of: KeyOf,
        (is, to): (Transpose, Transpose),
        (when, at): (When, Tick),
    ) -> Result<(), Refused> {
        let Some(floor) = self.tick_at(now.max(self.latest)) else { return Ok(()) };
        let mut all = match self.transport.run_mut().and_then(|run| run.coming_key.take()) {
            Some(coming) => coming.change.to,
            None => BTreeMap::new(),
        };
        if is != to {
            all.insert(of, to);
        }
        let change = KeyChange { when, at, to: all };
        if let Some(run) = self.transport.run_mut().filter(|_| !change.to.is_empty()) {
            run.coming_key = Some(Coming { change, floor: floor + Tick(1) });
        }
        self.replan_keys(now);
        self.say(match is == to {
            true => stays(of),
            false => format!("{} at the next {}", goes(of, is, to), when.name()),
        });
        Ok(())
    }

    /// The change of key that is still to come, and from where on it may be heard.
    pub(super) fn key_change(&self) -> Option<(&KeyChange, Tick)> {
        let coming = self.transport.run()?.coming_key.as_ref()?;
        Some((&coming.change, coming.floor))
    }

    /// Takes back the change of key that is still to come. Returns whether there was one.
    pub(super) fn drop_key_change(&mut self, now: Ns) -> bool {
        let taken = self.transport.run_mut().and_then(|run| run.coming_key.take());
        if taken.is_some() {
            self.replan_keys(now);
        }
        taken.is_some()
    }

    /// Takes it back for the song or one section.
    fn forget_key_change(&mut self, of: KeyOf) {
        let Some(run) = self.transport.run_mut() else { return };
        if let Some(coming) = &mut run.coming_key {
            coming.change.to.remove(&of);
        }
        run.coming_key = run.coming_key.take().filter(|coming| !coming.change.to.is_empty());
    }

    /// Gives the song the keys whose tick has come. What is queued has them already.
    pub(super) fn turn_keys(&mut self, at: Tick) {
        if self.key_change().is_none_or(|(change, _)| change.at > at) {
            return;
        }
        let turn = self.key_turns().pop().filter(|turn| !turn.done);
        let Some(coming) = self.transport.run_mut().and_then(|run| run.coming_key.take()) else {
            return;
        };
        let edits = edits(&self.song, &coming.change);
        if let (Some(turn), false) = (turn, edits.is_empty())
            // It cannot fail: what is gone from the song was forgotten.
            && self.commit_beside(Commit::of_all(edits)).is_ok()
            && let Some(run) = self.transport.run_mut()
        {
            run.key_turns.push(KeyTurn { done: true, ..turn });
        }
        self.compile();
    }

    /// After a stop, gives the song the keys that were still to come.
    pub(super) fn turn_keys_at_stop(&mut self, now: Ns, coming: Option<(Coming, Vec<KeyTurn>)>) {
        let Some((Coming { change, .. }, turns)) = coming else { return };
        let edits = edits(&self.song, &change);
        if edits.is_empty() || self.commit(now, Commit::of_all(edits), How::Step).is_err() {
            return;
        }
        if let Some(past) = self.transport.past_mut() {
            past.run.key_turns =
                turns.into_iter().map(|turn| KeyTurn { done: true, ..turn }).collect();
        }
    }

    /// The keys that are still to come when the run ends, with all of its turns.
    pub(super) fn take_key_change(&mut self) -> Option<(Coming, Vec<KeyTurn>)> {
        let turns = self.key_turns();
        Some((self.transport.run_mut()?.coming_key.take()?, turns))
    }

    /// The ticks at which keys change in the run or, after a stop, in the last one, in order.
    pub(super) fn key_turns(&self) -> Vec<KeyTurn> {
        let mut turns = self.course().map_or_else(Vec::new, |run| run.key_turns.clone());
        let Some((change, floor)) = self.key_change() else { return turns };
        let more = |of: KeyOf| {
            let to = change.to.get(&of).zip(transposition(&self.song, of));
            to.map_or(0, |(to, is)| i32::from(to.semitones()) - i32::from(is.semitones()))
        };
        let letters = self.song.sections.iter().map(|section| section.letter);
        let by = letters.map(|letter| (letter, more(KeyOf::Song) + more(KeyOf::Section(letter))));
        turns.push(KeyTurn { at: change.at, floor, by: by.collect(), done: false });
        turns
    }

    /// By how many semitones what is played on a track in a section is transposed.
    pub(super) fn transposition(&self, track: &Track, section: &Section) -> Transposition {
        if !track.pitched {
            return Transposition::default();
        }
        let now = transpose(&self.song, section, track);
        let half = feel::half_step(&track.feel);
        Transposition::along(&self.key_turns(), section.letter, now, half)
    }

    /// Updates the changes of key after the song has changed: sections may be gone, and keys that were set at
    /// once are those of all that was played.
    pub(super) fn settle_keys(&mut self, before: &Song) {
        let song = std::sync::Arc::clone(&self.song);
        let changed = |letter: &Letter| {
            let whole = |song: &Song| {
                let own = transposition(song, KeyOf::Section(*letter))?;
                Some((song.transpose, own))
            };
            whole(before) != whole(&song)
        };
        let (run, past) = self.transport.runs_mut();
        for run in run.into_iter().chain(past) {
            for turn in &mut run.key_turns {
                turn.by.retain(|letter, _| !changed(letter));
            }
            if let Some(coming) = &mut run.coming_key {
                coming.change.to.retain(|&of, _| transposition(&song, of).is_some());
            }
            run.coming_key = run.coming_key.take().filter(|coming| !coming.change.to.is_empty());
        }
    }

    /// Gives a section its new letter in the changes of key.
    pub(super) fn rename_keys(&mut self, old: Letter, new: Letter) {
        let (run, past) = self.transport.runs_mut();
        for run in run.into_iter().chain(past) {
            for turn in &mut run.key_turns {
                if let Some(by) = turn.by.remove(&old) {
                    turn.by.insert(new, by);
                }
            }
            let to = run.coming_key.as_mut().map(|coming| &mut coming.change.to);
            if let Some(to) = to
                && let Some(key) = to.remove(&KeyOf::Section(old))
            {
                to.insert(KeyOf::Section(new), key);
            }
        }
    }

    /// Puts the change of key where its seam, bar or beat is now that the route is another from a tick on.
    pub(super) fn replace_key_change(&mut self, from: Tick) {
        let Some((change, _)) = self.key_change() else { return };
        // Up to there the route is what it was, and so is a change that comes before it.
        if change.at < from {
            return;
        }
        let Some(at) = self.key_tick_after(from - Tick(1), change.when) else { return };
        let Some(run) = self.transport.run_mut() else { return };
        if let Some(coming) = run.coming_key.as_mut().filter(|coming| coming.change.at != at) {
            (coming.change.at, coming.floor) = (at, from);
        }
    }

    /// Forgets the changes of key before a tick.
    pub(super) fn forget_key_turns(&mut self, before: Tick) {
        if let Some(run) = self.transport.run_mut() {
            run.key_turns.retain(|turn| turn.at >= before);
        }
    }

    /// Plans the keys again, and performs what they affect again.
    fn replan_keys(&mut self, now: Ns) {
        if !self.transport.rolls() {
            return;
        }
        self.refresh(now);
        self.compile();
        let song = std::sync::Arc::clone(&self.song);
        let pitched = song.tracks.iter().filter(|track| track.pitched).map(|track| track.id);
        let pitched: BTreeSet<TrackId> = pitched.collect();
        let slots = self.slots_reached(&song, pitched);
        self.revise(now, &slots);
    }

    /// The tick of the next seam, bar or beat, for what plays now; `None` if the keys change at once: nothing of
    /// it plays, or a seam or bar line has just come.
    fn key_tick(&self, now: Ns, of: KeyOf, when: When) -> Option<Tick> {
        let run = self.transport.run()?;
        let at = run.timeline.tick_at(now.max(self.latest));
        if run.counts_in(at) {
            return Some(run.music());
        }
        let visit = self.visit(at)?;
        if KeyOf::Section(visit.entry.section) != of && of != KeyOf::Song {
            return None;
        }
        let start = match when {
            When::Seam => visit.round(at).start,
            When::Bar => visit.bar_start(at),
            When::Beat => return self.key_tick_after(at, when),
        };
        let is_late = start > run.music() && at - start < visit.metre(at).beat();
        self.key_tick_after(at, when).filter(|_| !is_late)
    }

    /// The first seam, bar or beat after a tick; in the count-in, where the music begins.
    fn key_tick_after(&self, at: Tick, when: When) -> Option<Tick> {
        let run = self.transport.run()?;
        if run.counts_in(at) {
            return Some(run.music());
        }
        let visit = self.visit(at)?;
        let over = (visit.round(at).start + visit.section.length()).min(visit.entry.until);
        let turn = match when {
            When::Seam => over,
            When::Bar => visit.bar_start(at) + visit.metre(at).bar(),
            When::Beat => super::directions::turn_at_beat(visit, at),
        };
        Some(turn.min(over))
    }
}

/// The transposition of the song or a section; `None` if there is no such section.
fn transposition(song: &Song, of: KeyOf) -> Option<Transpose> {
    match of {
        KeyOf::Song => Some(song.transpose),
        KeyOf::Section(letter) => song.section(letter).map(|section| section.transpose),
    }
}

fn edit(of: KeyOf, to: Transpose) -> Edit {
    match of {
        KeyOf::Song => Edit::Transpose(to),
        KeyOf::Section(letter) => Edit::Section(letter, SectionEdit::Transpose(to)),
    }
}

/// The edits of a change of key, without those that change nothing.
fn edits(song: &Song, change: &KeyChange) -> Vec<Edit> {
    let new = change.to.iter().filter(|&(&of, &to)| transposition(song, of) != Some(to));
    new.map(|(&of, &to)| edit(of, to)).collect()
}

/// A transposition changed by semitones.
fn stepped(base: Transpose, by: i8) -> Result<Transpose, Refused> {
    let to = base.semitones().checked_add(by).and_then(Transpose::new);
    let most = Transpose::MOST;
    to.ok_or_else(|| Refused(format!("a transposition goes up to {most} semitones up or down")))
}

fn missing(of: KeyOf) -> Refused {
    Refused(match of {
        KeyOf::Song => "there is no song".into(),
        KeyOf::Section(letter) => format!("there is no section {letter}"),
    })
}

fn name(of: KeyOf) -> String {
    match of {
        KeyOf::Song => "the song".into(),
        KeyOf::Section(letter) => format!("section {letter}"),
    }
}

fn stays(of: KeyOf) -> String {
    format!("{} stays in its key", name(of))
}

/// How far the song or a section goes up or down.
fn goes(of: KeyOf, is: Transpose, to: Transpose) -> String {
    let by = i32::from(to.semitones()) - i32::from(is.semitones());
    let (way, by) = (if by < 0 { "down" } else { "up" }, by.abs());
    let semitones = if by == 1 { "semitone" } else { "semitones" };
    format!("{} goes {way} {by} {semitones}", name(of))
}
