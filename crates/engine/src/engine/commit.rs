//! The one way to change the song. Every change goes through [`Engine::commit`], and undo and redo
//! through the functions beside it; nothing else in the engine writes to the song.
//!
//! In: a commit, and how undo treats it. Out: the changed song and its history. What is queued and
//! sounding is updated, so that from then on the engine plays what `perform` gives for the new song.

use super::run::letters_after;
use super::{Engine, Refused, sharing};
use crate::{Arrange, Entry, Route, Slot};
use chaconne_song::{
    Commit, Edit, EditError, History, Label, Laid, Layer, Letter, Pass, PassId, Section,
    SectionEdit, Song, Track, TrackId,
};
use chaconne_time::{MetreMap, Ns, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How undo treats a commit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// As a step of its own.
    Step,
    /// As part of a run: it is undone together with the commits like it just before.
    Run,
    /// In place of the commit tried before it.
    Trial,
    /// As the pass of a round, beside what is being tried. The caller updates what is queued and sounding.
    Round,
    /// As part of the step that laid this pass, or of the newest step if none did. The caller updates
    /// what is queued and sounding.
    Amend(PassId),
}

impl Engine {
    /// Changes the song. If it changes the bars under a take, the take ends first, so that what was
    /// played is kept.
    pub(super) fn commit(&mut self, now: Ns, commit: Commit, how: How) -> Result<(), Refused> {
        if matches!(how, How::Step | How::Run | How::Trial) {
            self.leave_ids(now, &commit);
            if self.recorder.takes() && self.cuts(now, &commit) {
                self.record_off(now)?;
            }
        }
        let edits = commit.edits.clone();
        let before = self.write(|history, song| match how {
            How::Step => history.step(song, commit),
            How::Run => history.run(song, commit),
            How::Trial => history.attempt(song, commit),
            How::Round => history.step_beside(song, commit),
            How::Amend(pass) => history.amend(song, pass, commit.edits),
        })?;
        if !matches!(how, How::Amend(_)) {
            // After a new change, nothing can be redone.
            self.played.discarded.clear();
        }
        match how {
            How::Step | How::Run | How::Trial => {
                self.forget_recorded(&edits);
                self.follow(now, &before, &edits);
            }
            How::Round | How::Amend(_) => self.compile(),
        }
        Ok(())
    }

    /// Changes the song beside what is being tried, as a step of its own. The caller updates what is queued and
    /// sounding.
    pub(super) fn commit_beside(&mut self, commit: Commit) -> Result<(), Refused> {
        self.write(|history, song| history.step_beside(song, commit))?;
        // After a new change, nothing can be redone.
        self.played.discarded.clear();
        Ok(())
    }

    /// Forgets when passes recorded in this run sound if edits bring new ones with their ids: a pass that
    /// was removed may have had the id before.
    fn forget_recorded(&mut self, edits: &[Edit]) {
        let Some(run) = self.transport.run_mut() else { return };
        for id in edits.iter().flat_map(Edit::new_ids) {
            run.since.remove(&PassId(id));
        }
    }

    /// Changes the song, or on an error leaves it as it is. Returns the song before.
    fn write<T>(
        &mut self,
        write: impl FnOnce(&mut History, &mut Song) -> Result<T, EditError>,
    ) -> Result<Arc<Song>, EditError> {
        let before = Arc::clone(&self.song);
        match write(&mut self.history, Arc::make_mut(&mut self.song)) {
            Ok(_) => {
                self.revision += 1;
                Ok(before)
            }
            Err(error) => {
                self.song = before;
                Err(error)
            }
        }
    }

    /// Whether a commit would change the bars of the section that plays.
    fn cuts(&self, now: Ns, commit: &Commit) -> bool {
        let bars = |edit: &Edit| {
            matches!(edit, Edit::RemoveSection(_) | Edit::Section(_, SectionEdit::Metre(_)))
        };
        let mut song = Song::clone(&self.song);
        commit.edits.iter().any(bars)
            && commit.clone().apply(&mut song).is_ok()
            && self.present(now).first().is_some_and(|playing| {
                let letter = playing.section;
                metre_of(&self.song, letter) != metre_of(&song, letter)
            })
    }

    /// The entry of the run that plays, and those to come.
    fn present(&self, now: Ns) -> &[Entry] {
        let Some(run) = self.transport.run() else { return &[] };
        run.entries_from(run.timeline.tick_at(now))
    }

    /// Takes back what is being tried, if anything is.
    pub(super) fn withdraw(&mut self, now: Ns) -> Result<(), Refused> {
        let Some(edits) = self.history.tried().map(<[Edit]>::to_vec) else { return Ok(()) };
        let before = self.write(|history, song| history.withdraw(song))?;
        self.follow(now, &before, &edits);
        Ok(())
    }

    /// Takes back a change of key that is still to come, else the unfinished round, else the newest step.
    pub(super) fn undo(&mut self, now: Ns) -> Result<(), Refused> {
        if self.drop_key_change(now) {
            self.say("undone: coming key change".into());
            return Ok(());
        }
        if self.discard_round(now) {
            self.say("undone: unfinished round".into());
            return Ok(());
        }
        let Some(edits) = self.history.newest().map(<[Edit]>::to_vec) else {
            return Err(Refused("nothing to undo".into()));
        };
        self.finish(now, &removed(&edits));
        // Ending their held notes has amended the step.
        let edits = self.history.newest().map_or(edits, <[Edit]>::to_vec);
        let song = Arc::clone(&self.song);
        let passes = removed(&edits).into_iter().filter_map(|pass| song.pass(pass));
        let moved: Vec<_> = passes.flat_map(|pass| self.let_levels_go(pass)).collect();
        let mut undone = None;
        let before = self.write(|history, song| {
            undone = history.undo(song)?;
            Ok(())
        })?;
        self.follow(now, &before, &edits);
        self.return_levels(&moved);
        self.say_turned("undone", undone, &before, &edits);
        Ok(())
    }

    /// Redoes what was undone last: a step, or an unfinished round.
    pub(super) fn redo(&mut self, now: Ns) -> Result<(), Refused> {
        if self.restore_round(now) {
            self.say("redone: unfinished round".into());
            return Ok(());
        }
        let Some(edits) = self.history.redo_steps().last().map(|step| step.edits.clone()) else {
            return Err(Refused("nothing to redo".into()));
        };
        let mut redone = None;
        let before = self.write(|history, song| {
            redone = history.redo(song)?;
            Ok(())
        })?;
        self.follow(now, &before, &edits);
        self.say_turned("redone", redone, &before, &edits);
        // As when it was first added, the new track is armed.
        match edits.iter().rev().find_map(new_track) {
            Some(track) => self.arm(now, track),
            None => Ok(()),
        }
    }

    /// Says what undo or redo did, on which track if it was only one, and in which section if the song
    /// has several.
    fn say_turned(&mut self, what: &str, label: Option<Label>, before: &Song, edits: &[Edit]) {
        let Some(label) = label else { return };
        let about = match label {
            Label::Form => format!("form {}, now {}", form_words(before), form_words(&self.song)),
            _ => self.about(label, before, edits),
        };
        self.say(format!("{what}: {about}"));
    }

    /// What edits changed, in words.
    fn about(&self, label: Label, before: &Song, edits: &[Edit]) -> String {
        let track = self.only_track(before, edits);
        label.about(track.as_deref(), self.only_section(before, edits))
    }

    /// The name of the track that all of the edits are about, if it is only one.
    fn only_track(&self, before: &Song, edits: &[Edit]) -> Option<String> {
        let id = track_of(edits, before, &self.song)?;
        self.song.track(id).or_else(|| before.track(id)).map(|track| track.name.clone())
    }

    /// The section that all of the edits are about, if it is only one of several.
    fn only_section(&self, before: &Song, edits: &[Edit]) -> Option<Letter> {
        let several = self.song.sections.len().max(before.sections.len()) > 1;
        section_of(edits).filter(|_| several)
    }

    /// Says what a commit of the player removed: nothing else on the screen would.
    fn say_removed(&mut self, label: Label, before: &Song, edits: &[Edit]) {
        let track = self.only_track(before, edits);
        let removed = label.removed(track.as_deref(), self.only_section(before, edits));
        removed.into_iter().for_each(|sentence| self.say(sentence));
    }

    /// Makes a change that the player asked for, and says what it removed.
    pub(super) fn edit(&mut self, now: Ns, commit: Commit, how: How) -> Result<(), Refused> {
        let (before, label, edits) = (Arc::clone(&self.song), commit.label, commit.edits.clone());
        self.commit(now, commit, how)?;
        self.say_removed(label, &before, &edits);
        Ok(())
    }

    /// Changes sections or tempi, and says what came of it. A take in the bars that it is about ends first:
    /// the operation has to see what was played.
    pub(super) fn arrange(&mut self, now: Ns, arrange: &Arrange) -> Result<(), Refused> {
        let commit = |engine: &Engine| {
            let commit = arrange.commit(&engine.song);
            commit.map_err(|error| Refused(error.to_string()))
        };
        // What is refused ends no take.
        commit(self)?;
        if self.recorder.current().is_some_and(|take| arrange.is_about_bars_of(take.section)) {
            self.record_off(now)?;
        }
        let before = Arc::clone(&self.song);
        self.commit(now, commit(self)?, How::Step)?;
        let outcome = arrange.outcome(&before, &self.song);
        self.say(format!("{outcome}; {}", arrange.undoing()));
        Ok(())
    }

    /// Updates everything after edits have changed the song.
    fn follow(&mut self, now: Ns, before: &Song, edits: &[Edit]) {
        if *before == *self.song {
            return;
        }
        let renames: Vec<(Letter, Letter)> = edits.iter().filter_map(renamed).collect();
        for &(letter, new) in &renames {
            self.rename(letter, new);
        }
        // The letter that a section had before the edits.
        let old = |letter: Letter| {
            let was = |now, &(old, new): &(Letter, Letter)| if now == new { old } else { now };
            renames.iter().rev().fold(letter, was)
        };
        self.retain_ids();
        self.settle_keys(before);
        self.show_neighbour(before);
        self.give_up_programs(before);
        let song = Arc::clone(&self.song);
        let changed = |entries: &[Entry]| {
            let differs = |entry: &Entry| {
                metre_of(before, old(entry.section)) != metre_of(&song, entry.section)
            };
            entries.iter().any(differs)
        };
        self.settle_again(changed);
        if !self.transport.rolls() {
            if self.transport.parked().is_some_and(|parked| changed(&parked.spot.entries)) {
                self.transport.park(None);
            }
            self.set_up_changed(before, None);
            return;
        }
        let halves = halves(before, &self.song, edits);
        if let (Some(halves), Some(run)) = (halves, self.transport.run_mut()) {
            run.rest.whole = with_second_half(&run.rest.whole, halves);
            run.rest.holds = None;
            run.rest.left = run.rest.left.take().map(|left| with_second_half(&left, halves));
        }
        if changed(self.present(now)) {
            let coming = self.coming(now, before, old);
            let coming = coming.map(|letters| {
                let new = |letter| {
                    let is = |is, &(old, new): &(Letter, Letter)| if is == old { new } else { is };
                    renames.iter().fold(letter, is)
                };
                let letters = self.existing(letters.into_iter().map(new).collect());
                match halves {
                    Some((first, second)) if first == self.shown => {
                        [vec![second], with_second_half(&letters, (first, second))].concat()
                    }
                    Some(halves) => with_second_half(&letters, halves),
                    None => letters,
                }
            });
            if changed(&self.present(now)[..1]) {
                self.restart_loop(now, coming);
                return;
            }
            self.lay_out_again(now, coming);
        }
        self.count_rounds();
        self.follow_tempo(now, before);
        self.compile();
        self.set_up_changed(before, Some(self.shown));
        // The unfinished round comes first, because its keys depend on the transposition.
        self.refresh(now);
        let slots = self.slots_reached(before, changed_tracks(before, &self.song));
        self.revise(now, &slots);
    }

    /// The slots of changed tracks, and of tracks that share a channel with them.
    pub(super) fn slots_reached(
        &mut self,
        before: &Song,
        changed: BTreeSet<TrackId>,
    ) -> BTreeSet<Slot> {
        let is_one_port = |one: &Track, other: &Track| self.port_of(one) == self.port_of(other);
        let reached = sharing::reached(before, &self.song, changed, is_one_port);
        reached.into_iter().map(|track| self.performer.slot_of(track)).collect()
    }

    /// If the tempo of the section that plays has changed, makes it take effect at once. That of one to
    /// come may be ordered already.
    fn follow_tempo(&mut self, now: Ns, before: &Song) {
        let changed = |entry: &Entry| {
            let (was, is) = (before.section(entry.section), self.song.section(entry.section));
            was.zip(is).is_some_and(|(was, is)| was.tempo != is.tempo)
        };
        if self.present(now).iter().any(changed)
            && let Some(at) = self.tick_at(now.max(self.latest))
        {
            // A new tempo must not start before cues that may have been sent already.
            let at = at + Tick(1);
            self.retempo(at.max(self.transport.run().map_or(at, |run| run.start)));
        }
    }

    /// Gives a section its new letter wherever it plays, has played or is recorded.
    fn rename(&mut self, old: Letter, new: Letter) {
        let rename = |letter: &mut Letter| {
            if *letter == old {
                *letter = new;
            }
        };
        rename(&mut self.shown);
        self.transport.letters_mut().for_each(rename);
        if let Some(again) = &mut self.again {
            again.spot.entries.iter_mut().for_each(|entry| rename(&mut entry.section));
            again.spot.rest.letters_mut().for_each(rename);
        }
        if let Some(take) = self.recorder.current_mut() {
            rename(&mut take.section);
        }
        self.played.closed.iter_mut().for_each(|closed| rename(&mut closed.take.section));
        if let Some(route) = self.leader.as_mut().and_then(|leader| leader.route.as_mut()) {
            route.entries.iter_mut().for_each(|entry| rename(&mut entry.section));
        }
        self.rename_keys(old, new);
        self.performer.rename(old, new);
    }

    /// If the section shown is gone, shows the one that has its place in the list now.
    fn show_neighbour(&mut self, before: &Song) {
        if self.section(self.shown).is_some() {
            return;
        }
        let shown = |section: &Arc<Section>| section.letter == self.shown;
        let place = before.sections.iter().position(shown).unwrap_or(0);
        let sections = &self.song.sections;
        if let Some(neighbour) = sections.get(place).or(sections.last()) {
            self.shown = neighbour.letter;
        }
    }

    /// The sections that come after the present stay, one for each round, as they were in the song before a
    /// change; `None` if they have no end.
    fn coming(
        &self,
        now: Ns,
        before: &Song,
        old: impl Fn(Letter) -> Letter,
    ) -> Option<Vec<Letter>> {
        let present = self.present(now).iter();
        let was = present.map(|entry| Entry { section: old(entry.section), ..*entry });
        let was: Vec<Entry> = was.collect();
        letters_after(before, &was, was.first()?.until - Tick(1))
    }

    /// Plays the sections to come in the bars that they have now. The section that plays is not affected.
    fn lay_out_again(&mut self, now: Ns, coming: Option<Vec<Letter>>) {
        let (Some(coming), Some(at)) = (coming, self.tick_at(now)) else { return };
        let song = Arc::clone(&self.song);
        let Some(run) = self.transport.run_mut() else { return };
        let Entry { until, cut, section, .. } = run.entry(at);
        let route = Route::from(&song, &coming, until);
        run.go_on_with(until, cut, route.map(|route| route.entries).unwrap_or_default());
        run.repeated = None;
        self.follow_jump(now, at, Tick::MAX, section);
    }

    /// Starts the section from the top at once, because its bars have changed; then come the sections `coming`,
    /// unless it goes round without an end. In the count-in, the music begins when it was to begin, but at the
    /// top.
    fn restart_loop(&mut self, now: Ns, coming: Option<Vec<Letter>>) {
        let Some(at) = self.tick_at(now.max(self.latest)) else { return };
        let (letter, song) = (self.shown, Arc::clone(&self.song));
        self.end_take(now);
        let Some(run) = self.transport.run_mut() else { return };
        let from = run.in_music(at + Tick(1));
        match coming.and_then(|coming| Route::from(&song, &[&[letter], &coming[..]].concat(), from))
        {
            Some(route) => run.enter(route.entries, from),
            None => run.enter(vec![Entry::open(letter, from)], from),
        }
        self.performer.move_seam(at, from);
        self.reroute(from);
        self.compile();
        self.retempo(from);
        let slots = self.all_slots();
        self.revise(now, &slots);
        self.revise_clicks(now);
        self.say(format!("the bars have changed: section {letter} starts from the top"));
    }

    /// Drops tracks and passes that the song no longer has from the armed track and the solos.
    fn retain_ids(&mut self) {
        let song = Arc::clone(&self.song);
        self.armed.settle(&song);
        self.mix.solo_tracks.retain(|&track| song.track(track).is_some());
        self.mix.solo_passes.retain(|&pass| song.pass(pass).is_some());
    }
}

/// The section that edits split and the one with its second half, if the form plays the two wherever it played
/// the one.
fn halves(before: &Song, song: &Song, edits: &[Edit]) -> Option<(Letter, Letter)> {
    let second = edits.iter().find_map(|edit| match edit {
        Edit::AddSection { section, .. } => Some(section.letter),
        _ => None,
    })?;
    let (was, is) = (Route::letters(before), Route::letters(song));
    let at = is.iter().position(|&letter| letter == second)?;
    let first = *is.get(at.checked_sub(1)?)?;
    (with_second_half(&was, (first, second)) == is).then_some((first, second))
}

/// Sections of which one is followed by its second half wherever it comes. An undone split may have left that
/// behind.
fn with_second_half(letters: &[Letter], (first, second): (Letter, Letter)) -> Vec<Letter> {
    let both = |&letter: &Letter| {
        let after = (letter == first).then_some(second);
        std::iter::once(letter).chain(after)
    };
    letters.iter().filter(|&&letter| letter != second).flat_map(both).collect()
}

/// The old and the new letter, if an edit renames a section.
fn renamed(edit: &Edit) -> Option<(Letter, Letter)> {
    match edit {
        Edit::Section(letter, SectionEdit::Letter(new)) => Some((*letter, *new)),
        _ => None,
    }
}

/// The bars of a section; `None` if it is gone.
fn metre_of(song: &Song, letter: Letter) -> Option<&MetreMap> {
    song.section(letter).map(|section| &section.metre)
}

/// The form in words: `A A B A`, or that there is none.
fn form_words(song: &Song) -> String {
    let words = song.form.to_string();
    if words.is_empty() { "none".to_string() } else { words }
}

/// The track that an edit adds.
fn new_track(edit: &Edit) -> Option<TrackId> {
    match edit {
        Edit::AddTrack { track, .. } => Some(track.id),
        _ => None,
    }
}

/// The track that all of the edits are about; `None` if there are several.
pub(super) fn track_of(edits: &[Edit], before: &Song, after: &Song) -> Option<TrackId> {
    let pass = |id: &PassId| after.pass(*id).or_else(|| before.pass(*id)).map(|pass| pass.track);
    let of = |edit: &Edit| match edit {
        Edit::Track(id, _) | Edit::RemoveTrack(id) => Some(*id),
        Edit::AddTrack { track, .. } => Some(track.id),
        Edit::Pass(id, _) => pass(id),
        Edit::Section(_, SectionEdit::Lay { pass: Laid::New(new), .. }) => Some(new.track),
        Edit::Section(_, SectionEdit::Remove(id) | SectionEdit::Mute(id, _)) => pass(id),
        _ => None,
    };
    let first = of(edits.first()?)?;
    edits.iter().all(|edit| of(edit) == Some(first)).then_some(first)
}

/// The section that all of the edits are about, apart from settings of tracks; `None` if there are several.
pub(super) fn section_of(edits: &[Edit]) -> Option<Letter> {
    let of = |edit: &Edit| match edit {
        Edit::Section(letter, _) | Edit::RemoveSection(letter) | Edit::MoveSection(letter, _) => {
            Some(*letter)
        }
        Edit::AddSection { section, .. } => Some(section.letter),
        _ => None,
    };
    let about = || edits.iter().filter(|edit| !matches!(edit, Edit::Track(..)));
    let first = about().find_map(of)?;
    about().all(|edit| of(edit) == Some(first)).then_some(first)
}

/// The passes that edits remove from a section.
fn removed(edits: &[Edit]) -> Vec<PassId> {
    let of = |edit: &Edit| match edit {
        Edit::Section(_, SectionEdit::Remove(id) | SectionEdit::Replace(id, _)) => Some(*id),
        _ => None,
    };
    edits.iter().filter_map(of).collect()
}

/// The tracks whose settings, passes or keys differ between two songs.
fn changed_tracks(before: &Song, after: &Song) -> BTreeSet<TrackId> {
    let by_id = |song: &Song| -> BTreeMap<TrackId, Arc<Track>> {
        song.tracks.iter().map(|track| (track.id, Arc::clone(track))).collect()
    };
    let (old, new) = (by_id(before), by_id(after));
    let moved = |id: &TrackId| new.get(id).is_some_and(|track| track.pitched);
    let transposed = before.transpose != after.transpose;
    let differs = |(id, track): &(&TrackId, &Arc<Track>)| {
        new.get(*id) != Some(*track) || transposed && moved(id)
    };
    let mut changed: BTreeSet<TrackId> = old.iter().filter(differs).map(|(id, _)| *id).collect();
    changed.extend(new.keys().filter(|id| !old.contains_key(id)));
    let altered = after
        .passes
        .iter()
        .filter(|(id, pass)| before.passes.get(id).is_some_and(|known| !Arc::ptr_eq(known, pass)));
    changed.extend(altered.map(|(_, pass)| pass.track));
    changed.extend(
        after.passes.values().filter(|pass| regrooved(before, after, pass)).map(|pass| pass.track),
    );
    for section in &before.sections {
        let same = after.section(section.letter);
        if same.is_some_and(|same| Arc::ptr_eq(same, section)) {
            continue;
        }
        let (old, new) = (stacks(before, section), same.map(|same| stacks(after, same)));
        let new = new.unwrap_or_default();
        let transposed = same.is_some_and(|same| same.transpose != section.transpose);
        if same.is_some_and(|same| same.tempo != section.tempo) {
            changed.extend(with_rolls(after, section));
        }
        if same.is_some_and(|same| reordered(section, same)) {
            // Which layer moves a controller depends on the layers of other tracks, too.
            changed.extend(new.keys());
        }
        let tracks = old.keys().chain(new.keys());
        changed.extend(tracks.filter(|id| old.get(id) != new.get(id) || transposed && moved(id)));
    }
    changed
}

/// The tracks that may play rolls in a section, or have human variation: which strokes are a roll depends on the
/// tempo, and so does how many ticks a deviation is.
fn with_rolls(song: &Song, section: &Section) -> Vec<TrackId> {
    let rolls = |pass: &Pass| {
        let feel = pass.feel.or(song.track(pass.track).map(|track| track.feel));
        feel.is_some_and(|feel| feel.rolls && feel.is_on() || feel.human.timing > 0)
    };
    let layers = song.layers(section).filter(|(_, pass)| rolls(pass));
    layers.map(|(_, pass)| pass.track).collect()
}

/// Whether the groove of a pass has changed.
fn regrooved(before: &Song, after: &Song, pass: &Pass) -> bool {
    let feel = pass.feel.or(after.track(pass.track).map(|track| track.feel));
    let groove = feel.and_then(|feel| feel.groove).map(|given| given.groove);
    groove.is_some_and(|id| before.groove(id) != after.groove(id))
}

/// Whether the layers that a section has before and after are in another order.
fn reordered(before: &Section, after: &Section) -> bool {
    let shared = |one: &Section, other: &Section| -> Vec<PassId> {
        let passes = one.layers.iter().map(|layer| layer.pass);
        passes.filter(|&pass| other.layer(pass).is_some()).collect()
    };
    shared(before, after) != shared(after, before)
}

/// The layers of each track in a section, lowest first.
fn stacks(song: &Song, section: &Section) -> BTreeMap<TrackId, Vec<Layer>> {
    let mut stacks: BTreeMap<TrackId, Vec<Layer>> = BTreeMap::new();
    for (layer, pass) in song.layers(section) {
        stacks.entry(pass.track).or_default().push(*layer);
    }
    stacks
}
