//! Commands about tracks, passes and songs. Most become commits; the armed track and the solos are not
//! part of the song.

use super::armed::Armed;
use super::commit::How;
use super::settings::HowToRecord;
use super::states::Transport;
use super::{Engine, Refused};
use crate::feel::quantise_words;
use crate::{Order, PortIx, Setting};
use chaconne_song::{
    Channel, Commit, Edit, Feel, FormEntry, History, Label, Letter, PassId, SectionEdit, Song,
    Track, TrackEdit, TrackId, U7,
};
use chaconne_time::{NoteValue, Ns, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

impl Engine {
    /// Sends the settings of the tracks where they have changed. While a section plays, only of tracks
    /// with nothing to play in it, because the player may play them, and nothing that it moves or sets.
    pub(super) fn set_up_changed(&mut self, before: &Song, playing: Option<Letter>) {
        let settings = |track: &Track| {
            let Track { port, channel, bank, program, levels, .. } = track.clone();
            (port, channel, bank, program, levels)
        };
        let same = |track: &Track| {
            before.track(track.id).is_some_and(|known| settings(known) == settings(track))
        };
        let changed: Vec<Arc<Track>> = self
            .song
            .tracks
            .iter()
            .filter(|track| !same(track))
            .filter(|track| playing.is_none_or(|letter| !self.performer.plays(letter, track.id)))
            .cloned()
            .collect();
        for track in changed {
            self.set_up(&track, playing);
        }
    }

    /// Sends the settings of every track, so that the player hears the right sounds at once.
    pub(super) fn set_up_tracks(&mut self) {
        for track in self.song.tracks.clone() {
            self.set_up(&track, None);
        }
    }

    /// Sends the settings of a port's tracks again, for a port that has just connected.
    pub fn set_up_port(&mut self, port: PortIx) {
        for track in self.song.tracks.clone() {
            if self.port_of(&track) == port {
                self.set_up(&track, None);
            }
        }
    }

    fn set_up(&mut self, track: &Track, playing: Option<Letter>) {
        if let Some(at) = self.tick_at(self.latest) {
            self.performer.was_set_up(at, track, playing);
        }
        for (port, message) in self.performer.setup(track, playing) {
            self.orders.push_back(Order::Now { port, message });
        }
    }

    pub(super) fn arm(&mut self, now: Ns, track: TrackId) -> Result<(), Refused> {
        if self.song.track(track).is_none() {
            return Err(Refused("there is no such track".into()));
        }
        if self.recorder.takes() && self.armed.track() != Some(track) {
            // A take belongs to one track, so this one ends and another starts.
            self.record_off(now)?;
            self.armed.arm(track);
            return self.record_on(now);
        }
        self.armed.arm(track);
        Ok(())
    }

    /// Moves a setting on to its next value.
    pub(super) fn next(&mut self, now: Ns, setting: Setting) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        match setting {
            Setting::Mode => self.next_mode(now),
            Setting::Rounds => self.next_rounds(),
            Setting::Click => self.next_click(now),
            Setting::MuteTrack(id) => {
                let mute = !self.song.track(id).ok_or_else(missing)?.mute;
                self.mute_track(now, id, mute)
            }
            Setting::SoloTrack(id) => {
                let solo = !self.mix.solo_tracks.contains(&id);
                self.solo_track(now, id, solo)
            }
            Setting::MutePass(section, pass) => {
                let layer = self.song.section(section).and_then(|section| section.layer(pass));
                let mute = !layer.ok_or_else(|| Refused("there is no such layer".into()))?.mute;
                self.mute_pass(now, section, pass, mute)
            }
            Setting::SoloPass(pass) => {
                let solo = !self.mix.solo_passes.contains(&pass);
                self.solo_pass(now, pass, solo)
            }
            Setting::Repeat => self.next_repeat(now),
            Setting::ByHand => self.next_by_hand(now),
            Setting::Quantise(id, grid) => self.quantise(now, id, grid),
            Setting::Playing if self.transport.rolls() => self.stop(now),
            Setting::Playing => self.play(now),
            Setting::Recording if self.recorder.takes() || self.record_waits() => {
                self.stop_recording(now)
            }
            Setting::Recording => self.start_recording(now),
        }
    }

    /// Quantises a track to a grid, or turns quantising off if it is on, and says which.
    fn quantise(&mut self, now: Ns, id: TrackId, grid: NoteValue) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let track = self.song.track(id).ok_or_else(missing)?;
        let name = track.name.clone();
        let feel = Feel { grid: track.feel.grid.is_none().then_some(grid), ..track.feel };
        self.set_feel(now, id, feel)?;
        self.say(format!("feel of {name}: {}", quantise_words(&feel)));
        Ok(())
    }

    pub(super) fn mute_track(&mut self, now: Ns, id: TrackId, mute: bool) -> Result<(), Refused> {
        let label = if mute { Label::MuteTrack } else { Label::UnmuteTrack };
        self.set_track(now, id, label, |track| track.mute = mute)
    }

    pub(super) fn mute_pass(
        &mut self,
        now: Ns,
        section: Letter,
        pass: PassId,
        mute: bool,
    ) -> Result<(), Refused> {
        let edit = Edit::Section(section, SectionEdit::Mute(pass, mute));
        self.commit(now, Commit::of(edit), How::Step)
    }

    pub(super) fn set_feel(&mut self, now: Ns, id: TrackId, feel: Feel) -> Result<(), Refused> {
        self.set_track(now, id, Label::Feel, |track| track.feel = feel)
    }

    pub(super) fn set_track(
        &mut self,
        now: Ns,
        id: TrackId,
        label: Label,
        set: impl FnOnce(&mut Track),
    ) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let before = self.song.track(id).ok_or_else(missing)?;
        let mut track = Track::clone(before);
        set(&mut track);
        let edits = TrackEdit::between(before, &track);
        let edits: Vec<Edit> = edits.into_iter().map(|edit| Edit::Track(id, edit)).collect();
        // A change of a single field has a label of its own.
        let label = if let [only] = &edits[..] { Label::of(only) } else { label };
        self.commit(now, Commit::new(label, edits), How::Step)
    }

    pub(super) fn solo_track(&mut self, now: Ns, id: TrackId, solo: bool) -> Result<(), Refused> {
        if self.song.track(id).is_none() {
            return Err(Refused("there is no such track".into()));
        }
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
        if self.song.pass(id).is_none() {
            return Err(Refused("there is no such layer".into()));
        }
        if solo {
            self.mix.solo_passes.insert(id);
        } else {
            self.mix.solo_passes.remove(&id);
        }
        self.compile();
        let slots = self.all_slots();
        self.revise(now, &slots);
        Ok(())
    }

    /// Removes the armed track's top pass in the section shown.
    pub(super) fn remove_top(&mut self, now: Ns) -> Result<(), Refused> {
        let none = || Refused("this track has no layer here to remove".into());
        let armed = self.armed.track().ok_or_else(none)?;
        let section = self.section(self.shown).ok_or_else(none)?;
        let letter = section.letter;
        let top = self.song.layers_of(section, armed).next_back().ok_or_else(none)?.0.pass;
        self.finish(now, &[top]);
        let edit = Edit::Section(letter, SectionEdit::Remove(top));
        self.edit(now, Commit::of(edit), How::Step)
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
        let id = self.new_track();
        let mut track = if drums { Track::drums(id, name) } else { Track::pitched(id, name) };
        if !drums {
            track.channel = Some(self.free_channel());
        }
        track.program = program;
        let at = self.song.tracks.len();
        let edit = Edit::AddTrack { at, track: Arc::new(track) };
        self.commit(now, Commit::of(edit), How::Step)?;
        self.arm(now, id)
    }

    /// The lowest channel that no track uses, except the percussion channel; 1 if all are taken.
    fn free_channel(&self) -> Channel {
        let used: BTreeSet<_> = self.song.tracks.iter().filter_map(|track| track.channel).collect();
        let all = (1..=16).filter_map(Channel::from_number);
        all.filter(|&channel| channel != Channel::PERCUSSION)
            .find(|channel| !used.contains(channel))
            .unwrap_or_default()
    }

    /// Appends a section to the end of the form.
    pub(super) fn append_to_form(&mut self, now: Ns, letter: Letter) -> Result<(), Refused> {
        let mut form = self.song.form.clone();
        form.entries.push(FormEntry::once(letter));
        self.commit(now, Commit::of(Edit::Form(form)), How::Step)
    }

    /// Drops the last entry of the form.
    pub(super) fn drop_from_form(&mut self, now: Ns) -> Result<(), Refused> {
        let mut form = self.song.form.clone();
        form.entries.pop().ok_or_else(|| Refused("the form is empty".into()))?;
        self.commit(now, Commit::of(Edit::Form(form)), How::Step)
    }

    pub(super) fn open_song(&mut self, now: Ns, song: Song) -> Result<(), Refused> {
        let Some(first) = song.sections.first().map(|section| section.letter) else {
            return Err(Refused("a song has at least one section".into()));
        };
        let rolled = self.transport.rolls();
        if rolled {
            self.record_off(now)?;
            self.halt(now, None);
        }
        self.transport = Transport::default();
        self.played.restart(Tick::ZERO);
        (self.again, self.repeats) = (None, false);
        self.shown = first;
        self.ids = song.ids();
        self.armed = Armed::first_of(&song);
        self.how = HowToRecord::default();
        self.song = Arc::new(song);
        self.revision += 1;
        self.history = History::default();
        self.mix = Default::default();
        self.performer.planner().forget();
        self.set_up_tracks();
        if rolled {
            self.recorders_stopped();
        }
        Ok(())
    }
}
