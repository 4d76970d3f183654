//! Changes of the song, undo and redo, and what they mean for what is queued and sounding.

use super::recording::Reach;
use super::{Engine, Refused, sharing};
use crate::history::History;
use crate::{Entry, Order, PortIx, Slot};
use chaconne_song::{
    Channel, Edit, EditError, Feel, Layer, PassId, Section, SectionEdit, Song, Track, TrackEdit,
    TrackId, U7,
};
use chaconne_time::{MetreMap, Ns, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

type Made = Result<Option<&'static str>, EditError>;

impl Engine {
    /// Makes a change that can be taken back.
    pub(super) fn change(
        &mut self,
        now: Ns,
        label: &'static str,
        edits: Vec<Edit>,
    ) -> Result<(), Refused> {
        self.edit(now, |history, song| history.make(song, label, edits).map(|()| None))?;
        Ok(())
    }

    /// The same for a setting that is turned step by step: all steps are taken back as one.
    pub(super) fn change_on(
        &mut self,
        now: Ns,
        label: &'static str,
        edit: Edit,
    ) -> Result<(), Refused> {
        self.edit(now, |history, song| history.go_on(song, label, edit).map(|()| None))?;
        Ok(())
    }

    /// Takes back the unfinished round, else the last change.
    pub(super) fn undo(&mut self, now: Ns) -> Result<(), Refused> {
        if self.discard_round(now) {
            self.say("took back the unfinished round".into());
            return Ok(());
        }
        let passes = removed(self.history.newest().unwrap_or_default());
        self.finish(now, &passes);
        match self.edit(now, History::undo)? {
            Some(label) => self.say(format!("took back: {label}")),
            None => return Err(Refused("there is nothing to take back".into())),
        }
        Ok(())
    }

    /// Makes the last undone change again.
    pub(super) fn redo(&mut self, now: Ns) -> Result<(), Refused> {
        match self.edit(now, History::redo)? {
            Some(label) => self.say(format!("made again: {label}")),
            None => return Err(Refused("there is nothing to make again".into())),
        }
        Ok(())
    }

    /// Runs something that changes the song, and follows up what it changed.
    fn edit(
        &mut self,
        now: Ns,
        make: impl FnOnce(&mut History, &mut Song) -> Made,
    ) -> Result<Option<&'static str>, Refused> {
        let before = Arc::clone(&self.song);
        let made = make(&mut self.history, Arc::make_mut(&mut self.song))?;
        if !Arc::ptr_eq(&before, &self.song) && *before != *self.song {
            self.revision += 1;
            self.follow(now, &before);
        }
        Ok(made)
    }

    /// Brings the run into line with a changed song.
    fn follow(&mut self, now: Ns, before: &Song) {
        self.retain_names(before);
        self.give_up_programs(before);
        let song = Arc::clone(&self.song);
        let bars_changed = |entries: &[Entry]| {
            entries.iter().any(|entry| metre_of(before, entry) != metre_of(&song, entry))
        };
        let Some(run) = &self.run else {
            if self.parked.as_ref().is_some_and(|parked| bars_changed(&parked.entries)) {
                self.parked = None;
            }
            if self.past.as_ref().is_some_and(|past| bars_changed(&past.run.entries)) {
                self.forget_past(now);
            }
            self.set_up_changed(before, |_, _| true);
            return;
        };
        if bars_changed(&run.entries) {
            self.enter_anew(now);
            return;
        }
        let letter = self.shown;
        let tempo = |song: &Song| song.section(letter).map(|section| section.tempo.clone());
        if tempo(before) != tempo(&self.song)
            && let Some(at) = self.tick_at(now.max(self.latest))
        {
            // Never before what may have been sent already.
            let at = at + Tick(1);
            self.retempo(at.max(self.run.as_ref().map_or(at, |run| run.start)));
        }
        self.compile();
        // A track that plays nothing here is played by hand all the same.
        self.set_up_changed(before, |engine, track| {
            !engine.performer.plays(engine.shown, track.id)
        });
        let slots = self.slots_reached(before, changed_tracks(before, &self.song));
        self.revise(now, &slots);
        self.refresh(now, Reach::From(Tick::MAX));
    }

    /// The slots of changed tracks, and of those that share their controllers.
    pub(super) fn slots_reached(
        &mut self,
        before: &Song,
        changed: BTreeSet<TrackId>,
    ) -> BTreeSet<Slot> {
        let is_one_port = |one: &Track, other: &Track| self.port_of(one) == self.port_of(other);
        let reached = sharing::reached(before, &self.song, changed, is_one_port);
        reached.into_iter().map(|track| self.performer.slot_of(track)).collect()
    }

    /// The bars under the loop have changed: it starts again from the top, at once.
    fn enter_anew(&mut self, now: Ns) {
        let Some(at) = self.tick_at(now) else { return };
        let letter = match self.section(self.shown) {
            Some(section) => section.letter,
            None => self.song.sections[0].letter,
        };
        self.go = None;
        self.open = None;
        self.ahead = None;
        self.closed.clear();
        self.mix.since.clear();
        self.shown = letter;
        let Some(run) = self.run.as_mut() else { return };
        let from = at.max(Tick::ZERO) + Tick(1);
        run.entries.retain(|entry| entry.at < from);
        if let Some(last) = run.entries.last_mut() {
            (last.until, last.cut) = (from, true);
        }
        let until = Tick::MAX;
        run.entries.push(Entry { section: letter, at: from, until, cut: false });
        self.reroute(from);
        self.compile();
        self.retempo(from);
        let slots = self.all_slots();
        self.revise(now, &slots);
        self.click_anew(now);
        self.say("the bars have changed: the loop starts from the top".into());
    }

    /// Keeps armed and solo to what there is; names in use are not handed out again.
    fn retain_names(&mut self, before: &Song) {
        if self.armed.is_none_or(|armed| self.song.track(armed).is_none()) {
            self.armed = self.song.tracks.first().map(|track| track.id);
        }
        let song = Arc::clone(&self.song);
        self.mix.solo_tracks.retain(|&track| song.track(track).is_some());
        self.mix.solo_passes.retain(|&pass| song.pass(pass).is_some());
        if before.tracks.len() != song.tracks.len() || before.sections.len() != song.sections.len()
        {
            let mut ids = song.ids();
            std::mem::swap(&mut ids, &mut self.ids);
            self.ids = ids.max(self.ids);
        }
    }

    /// Sends the settings of those tracks that changed at once.
    fn set_up_changed(&mut self, before: &Song, which: impl Fn(&Engine, &Track) -> bool) {
        let changed: Vec<Arc<Track>> = self
            .song
            .tracks
            .iter()
            .filter(|track| before.track(track.id).is_none_or(|known| !Arc::ptr_eq(known, track)))
            .filter(|track| which(self, track))
            .cloned()
            .collect();
        for track in changed {
            self.set_up(&track);
        }
    }

    /// Sends the settings of every track, so that the player hears the right sounds at once.
    pub(super) fn set_up_tracks(&mut self) {
        for track in self.song.tracks.clone() {
            self.set_up(&track);
        }
    }

    /// Sends the settings of a port's tracks anew: for a port that has come (back).
    pub fn set_up_port(&mut self, port: PortIx) {
        for track in self.song.tracks.clone() {
            if self.port_of(&track) == port {
                self.set_up(&track);
            }
        }
    }

    fn set_up(&mut self, track: &Track) {
        for (port, message) in self.performer.setup(track) {
            self.orders.push_back(Order::Now { port, message });
        }
    }

    pub(super) fn arm(&mut self, now: Ns, track: TrackId) -> Result<(), Refused> {
        if self.song.track(track).is_none() {
            return Err(Refused("there is no such track".into()));
        }
        if self.go.is_some() && self.armed != Some(track) {
            // A go is one track's: it ends here, and goes on with the next one.
            self.record_off(now)?;
            self.armed = Some(track);
            return self.record_on(now);
        }
        self.armed = Some(track);
        Ok(())
    }

    pub(super) fn mute_track(&mut self, now: Ns, id: TrackId, mute: bool) -> Result<(), Refused> {
        let label = if mute { "mute" } else { "unmute" };
        self.set_track(now, id, label, |track| track.mute = mute)
    }

    pub(super) fn set_feel(&mut self, now: Ns, id: TrackId, feel: Feel) -> Result<(), Refused> {
        if feel.pull > 100 || feel.reach > 100 {
            return Err(Refused("pull and reach are 0 to 100 percent".into()));
        }
        self.set_track(now, id, "feel", |track| track.feel = feel)
    }

    pub(super) fn set_track(
        &mut self,
        now: Ns,
        id: TrackId,
        label: &'static str,
        set: impl FnOnce(&mut Track),
    ) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let before = self.song.track(id).ok_or_else(missing)?;
        let mut track = Track::clone(before);
        set(&mut track);
        let edits = TrackEdit::between(before, &track);
        self.change(now, label, edits.into_iter().map(|edit| Edit::Track(id, edit)).collect())
    }

    pub(super) fn solo_track(&mut self, now: Ns, id: TrackId, solo: bool) -> Result<(), Refused> {
        if solo {
            self.mix.solo_tracks.insert(id);
        } else {
            self.mix.solo_tracks.remove(&id);
        }
        self.compile();
        let slots = self.all_slots();
        self.revise(now, &slots);
        Ok(())
    }

    pub(super) fn solo_pass(&mut self, now: Ns, id: PassId, solo: bool) -> Result<(), Refused> {
        if solo {
            self.mix.solo_passes.insert(id);
        } else {
            self.mix.solo_passes.remove(&id);
        }
        self.compile();
        let slots: BTreeSet<Slot> = self.all_slots();
        self.revise(now, &slots);
        Ok(())
    }

    /// Takes off the armed track's top pass in the section shown.
    pub(super) fn take_off(&mut self, now: Ns) -> Result<(), Refused> {
        let none = || Refused("there is no pass on this track to take off".into());
        let armed = self.armed.ok_or_else(none)?;
        let section = self.section(self.shown).ok_or_else(none)?;
        let letter = section.letter;
        let top = self.song.layers_of(section, armed).next_back().ok_or_else(none)?.0.pass;
        self.finish(now, &[top]);
        let edit = Edit::Section(letter, SectionEdit::Remove(top));
        self.change(now, "take off", vec![edit])
    }

    pub(super) fn add_track(
        &mut self,
        now: Ns,
        name: &str,
        drums: bool,
        program: Option<U7>,
    ) -> Result<(), Refused> {
        let name = name.trim();
        if name.is_empty() || name.chars().count() > 64 {
            return Err(Refused("a track's name has 1 to 64 characters".into()));
        }
        let id = self.ids.track();
        let mut track = if drums { Track::drums(id, name) } else { Track::pitched(id, name) };
        if !drums {
            track.channel = Some(self.free_channel());
        }
        track.program = program;
        let at = self.song.tracks.len();
        self.change(now, "new track", vec![Edit::AddTrack { at, track: Arc::new(track) }])?;
        self.arm(now, id)
    }

    /// The lowest channel no track has, the percussion channel left out; 1 where all are taken.
    fn free_channel(&self) -> Channel {
        let used: BTreeSet<_> = self.song.tracks.iter().filter_map(|track| track.channel).collect();
        let all = (1..=16).filter_map(Channel::from_number);
        all.filter(|&channel| channel != Channel::PERCUSSION)
            .find(|channel| !used.contains(channel))
            .unwrap_or_default()
    }

    pub(super) fn open_song(&mut self, now: Ns, song: Song) -> Result<(), Refused> {
        let rolled = self.run.is_some();
        if rolled {
            self.record_off(now)?;
            self.halt(now);
        }
        let Some(first) = song.sections.first().map(|section| section.letter) else {
            return Err(Refused("a song has at least one section".into()));
        };
        self.shown = first;
        self.parked = None;
        self.ids = song.ids();
        self.armed = song.tracks.first().map(|track| track.id);
        self.song = Arc::new(song);
        self.revision += 1;
        self.history = History::default();
        self.mix = Default::default();
        self.past = None;
        self.closed.clear();
        self.capture.clear();
        self.held = Default::default();
        self.performer.planner().forget();
        self.set_up_tracks();
        if rolled {
            self.recorders_stand();
        }
        Ok(())
    }
}

/// The bars of an entry's section; none where that is gone.
fn metre_of<'a>(song: &'a Song, entry: &Entry) -> Option<&'a MetreMap> {
    song.section(entry.section).map(|section| &section.metre)
}

/// The passes that edits take out of a section.
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
    for section in &before.sections {
        let same = after.section(section.letter);
        if same.is_some_and(|same| Arc::ptr_eq(same, section)) {
            continue;
        }
        let (old, new) = (stacks(before, section), same.map(|same| stacks(after, same)));
        let new = new.unwrap_or_default();
        let transposed = same.is_some_and(|same| same.transpose != section.transpose);
        let tracks = old.keys().chain(new.keys());
        changed.extend(tracks.filter(|id| old.get(id) != new.get(id) || transposed && moved(id)));
    }
    changed
}

/// The layers of each track in a section, lowest first.
fn stacks(song: &Song, section: &Section) -> BTreeMap<TrackId, Vec<Layer>> {
    let mut stacks: BTreeMap<TrackId, Vec<Layer>> = BTreeMap::new();
    for (layer, pass) in song.layers(section) {
        stacks.entry(pass.track).or_default().push(*layer);
    }
    stacks
}
