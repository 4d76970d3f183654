//! Steps of a track's volume and pan. The engine steps from the value it has when it obeys, so that two
//! commands at once step twice.
//!
//! While a track is being recorded, its steps are moves: they are heard at once and become part of the
//! take, as if the player had moved the controller. Moves of a level that the track leaves to its
//! instrument need a value to go back to: the track gets it in the same step of undo as the pass.
//! Otherwise steps change what the song sets; such steps are one step of undo if they follow one another.

use super::commit::How;
use super::{Engine, Input, Refused};
use crate::controls::Knob;
use crate::{Message, Order, Wire};
use chaconne_song::{Commit, Control, Edit, Levels, Pass, Track, TrackEdit, TrackId, U7, U14};
use chaconne_time::{Ns, Tick};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The input that moves come from. Moves hold no key, so it may be the number of another input.
const HAND: u8 = u8::MAX;

/// One of the two levels of a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Level {
    Volume,
    Pan,
}

impl Level {
    const ALL: [Level; 2] = [Level::Volume, Level::Pan];

    /// Its control change number (MIDI 1.0, "Controller Numbers").
    fn controller(self) -> U7 {
        match self {
            Level::Volume => U7::low_bits(7),
            Level::Pan => U7::low_bits(10),
        }
    }

    /// Where a step starts from if the track leaves it to its instrument: the value that an instrument
    /// has when it is turned on (General MIDI Developer Guidelines: volume 100, pan 64).
    fn default(self) -> U7 {
        match self {
            Level::Volume => U7::low_bits(100),
            Level::Pan => U7::CENTRE,
        }
    }

    fn set(self, levels: Levels) -> Option<U7> {
        match self {
            Level::Volume => levels.volume,
            Level::Pan => levels.pan,
        }
    }

    fn edit(self, value: U7) -> TrackEdit {
        match self {
            Level::Volume => TrackEdit::Volume(Some(value)),
            Level::Pan => TrackEdit::Pan(Some(value)),
        }
    }

    fn set_to_default(self, levels: &mut Levels) {
        match self {
            Level::Volume => levels.volume = Some(self.default()),
            Level::Pan => levels.pan = Some(self.default()),
        }
    }

    fn is_moved_by(self, pass: &Pass) -> bool {
        let control = Control::Change(self.controller());
        pass.lanes().iter().any(|lane| lane.control == control)
    }
}

impl Engine {
    /// Raises a track's volume by so many of its 127 steps; lowers it if negative.
    pub(super) fn step_volume(&mut self, now: Ns, id: TrackId, by: i8) -> Result<(), Refused> {
        self.step_level(now, id, Level::Volume, by)
    }

    /// Moves a track's pan to the right by so many of its 127 steps; to the left if negative.
    pub(super) fn step_pan(&mut self, now: Ns, id: TrackId, by: i8) -> Result<(), Refused> {
        self.step_level(now, id, Level::Pan, by)
    }

    fn step_level(&mut self, now: Ns, id: TrackId, level: Level, by: i8) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let track = self.song.track(id).cloned().ok_or_else(missing)?;
        if let Some(from) = self.records_moves_since(now, id) {
            self.played.stepped.insert((id, level));
            self.move_level(now, &track, level, by, from);
            return Ok(());
        }
        let value = step(level.set(track.levels).unwrap_or(level.default()), by);
        self.commit(now, Commit::of(Edit::Track(id, level.edit(value))), How::Run)
    }

    /// Where the take of a track begins in this round, if the track is being recorded now.
    fn records_moves_since(&self, now: Ns, id: TrackId) -> Option<Tick> {
        let take = self.recorder.current().filter(|take| take.track == id)?;
        self.tick_at(now).filter(|&at| take.start <= at).map(|_| take.start.max(take.round))
    }

    /// The track of a pass with a value for each level that the pass moves by steps and the track leaves to
    /// its instrument: where no pass moves the level, it goes back there. `None` if the track needs none.
    pub(super) fn with_levels_for(&self, pass: &Pass) -> Option<Track> {
        let track = self.song.track(pass.track)?;
        let lacks = |level: &Level| {
            self.played.stepped.contains(&(track.id, *level))
                && level.set(track.levels).is_none()
                && level.is_moved_by(pass)
        };
        let lacking: Vec<Level> = Level::ALL.into_iter().filter(lacks).collect();
        let mut whole = Track::clone(track);
        lacking.iter().for_each(|level| level.set_to_default(&mut whole.levels));
        (!lacking.is_empty()).then_some(whole)
    }

    /// The edits that give the track of a pass those values.
    pub(super) fn levels_for(&self, pass: &Pass) -> Vec<Edit> {
        let tracks = self.song.track(pass.track).zip(self.with_levels_for(pass));
        let edits = tracks.map(|(track, whole)| TrackEdit::between(track, &whole));
        edits.into_iter().flatten().map(|edit| Edit::Track(pass.track, edit)).collect()
    }

    /// Takes the player's hand off the levels that a pass moves by steps, because the pass is undone. Returns
    /// which they are.
    pub(super) fn let_levels_go(&mut self, pass: &Pass) -> Vec<(TrackId, Level)> {
        let Some(track) = self.song.track(pass.track).cloned() else { return Vec::new() };
        let by_steps = |level: &Level| self.played.stepped.contains(&(track.id, *level));
        let moved = Level::ALL.into_iter().filter(|level| level.is_moved_by(pass));
        let moved: Vec<Level> = moved.filter(by_steps).collect();
        for level in &moved {
            if let Some(knob) = self.knob(&track, *level) {
                self.performer.let_go(&knob);
            }
        }
        moved.into_iter().map(|level| (track.id, level)).collect()
    }

    /// Sends the levels that tracks set and nothing in the section moves any more; what still plays has sent
    /// its own.
    pub(super) fn return_levels(&mut self, moved: &[(TrackId, Level)]) {
        let rolls = self.transport.rolls();
        for &(id, level) in moved.iter().filter(|_| rolls) {
            let Some(track) = self.song.track(id).cloned() else { continue };
            let set = level.set(track.levels).zip(self.knob(&track, level));
            let Some((value, knob)) = set else { continue };
            let sent = self.performer.value_of(&knob).map(U14::lsb);
            if self.performer.has(self.shown, &knob) || sent == Some(value) {
                continue;
            }
            let (Knob { port, channel, .. }, controller) = (knob, level.controller());
            let message = Message::Change { channel, controller, value };
            self.orders.push_back(Order::Now { port, message });
            self.performer.set(knob, value.into());
        }
    }

    /// The levels of tracks that are not, at present, as the tracks set them.
    pub(super) fn moved_levels(&self) -> BTreeMap<TrackId, Levels> {
        if !self.transport.rolls() {
            return BTreeMap::new();
        }
        let moved = |track: &Arc<Track>| {
            let [volume, pan] = Level::ALL.map(|level| {
                let value = self.performer.value_of(&self.knob(track, level)?)?.lsb();
                let set = level.set(track.levels);
                // What was sent before stays where it is; it is news only while something moves it.
                let is_moved = set.is_some() || self.has_moves(track, level);
                (Some(value) != set && is_moved).then_some(value)
            });
            (volume.is_some() || pan.is_some()).then_some((track.id, Levels { volume, pan }))
        };
        self.song.tracks.iter().filter_map(moved).collect()
    }

    /// Whether a pass of a track moves a level in the section shown, or the track is being recorded.
    fn has_moves(&self, track: &Track, level: Level) -> bool {
        let records = self.recorder.current().is_some_and(|take| take.track == track.id);
        let moves = |pass: &Arc<Pass>| pass.track == track.id && level.is_moved_by(pass);
        records
            || self
                .section(self.shown)
                .is_some_and(|section| self.song.passes_in(section).iter().any(|pass| moves(pass)))
    }

    /// The controller of a level of a track that has a channel of its own.
    fn knob(&self, track: &Track, level: Level) -> Option<Knob> {
        let (port, control) = (self.port_of(track), Control::Change(level.controller()));
        Some(Knob { port, channel: track.channel?, control })
    }

    /// Moves a level on every channel that the track plays on, and records that.
    fn move_level(&mut self, now: Ns, track: &Track, level: Level, by: i8, from: Tick) {
        let (port, controller) = (self.port_of(track), level.controller());
        for channel in self.performer.channels_of(self.shown, track) {
            let control = Control::Change(controller);
            let knob = Knob { port, channel, control };
            // A fader has no rest at which its gesture would end. So each round has its own moves, and
            // they are removed with that round.
            if let Some(number) = self.played.capture.end_gesture_before((channel, control), from) {
                self.moved(number);
            }
            let known = self.performer.value_of(&knob).map(U14::lsb);
            let base = known.or(level.set(track.levels)).unwrap_or(level.default());
            let message = |value| Message::Change { channel, controller, value };
            let moved = |value| Input::Heard(Wire::Message(message(value)));
            let value = step(base, by);
            self.orders.push_back(Order::Now { port, message: message(value) });
            self.input(now, HAND, moved(value));
        }
    }
}

/// A value moved by so many steps, as far as it goes.
fn step(value: U7, by: i8) -> U7 {
    let value = i16::from(value.get()) + i16::from(by);
    U7::low_bits(value.clamp(0, 127) as u8)
}
