//! Edits of a track, one field each.

use super::{Edit, EditError, TrackEdit, groove, swap};
use crate::{ChordKeys, Song, Track, TrackId, U7, rules};
use std::collections::BTreeSet;

pub(super) fn apply(song: &mut Song, id: TrackId, edit: TrackEdit) -> Result<Edit, EditError> {
    check(&edit).map_err(EditError::Unfit)?;
    if let TrackEdit::Groove(given) = &edit {
        groove::is_known(song, given.as_ref())?;
    }
    let track = song.track_mut(id).ok_or(EditError::NoTrack(id.0))?;
    Ok(Edit::Track(id, set(track, edit)))
}

fn check(edit: &TrackEdit) -> Result<(), String> {
    match edit {
        TrackEdit::Pull(pull) => rules::percent("pull", *pull),
        TrackEdit::Reach(reach) => rules::percent("reach", *reach),
        TrackEdit::Groove(Some(given)) => rules::given(given),
        TrackEdit::Human(human) => rules::human(human),
        TrackEdit::PassLength(Some(length)) => rules::asked_length(*length),
        TrackEdit::ChordInversion(nth) => rules::inversion(*nth),
        _ => Ok(()),
    }
}

/// Sets the field and returns the edit that sets it back.
fn set(track: &mut Track, edit: TrackEdit) -> TrackEdit {
    use TrackEdit as E;
    let (feel, levels, keys) = (&mut track.feel, &mut track.levels, &mut track.chord_keys);
    match edit {
        E::Name(name) => E::Name(swap(&mut track.name, name)),
        E::Port(port) => E::Port(swap(&mut track.port, port)),
        E::Channel(channel) => E::Channel(swap(&mut track.channel, channel)),
        E::Bank(bank) => E::Bank(swap(&mut track.bank, bank)),
        E::Program(program) => E::Program(swap(&mut track.program, program)),
        E::Pitched(pitched) => E::Pitched(swap(&mut track.pitched, pitched)),
        E::Grid(grid) => E::Grid(swap(&mut feel.grid, grid)),
        E::Pull(pull) => E::Pull(swap(&mut feel.pull, pull)),
        E::Swing(swing) => E::Swing(swap(&mut feel.swing, swing)),
        E::Reach(reach) => E::Reach(swap(&mut feel.reach, reach)),
        E::Rolls(rolls) => E::Rolls(swap(&mut feel.rolls, rolls)),
        E::Groove(groove) => E::Groove(swap(&mut feel.groove, groove)),
        E::Human(human) => E::Human(swap(&mut feel.human, human)),
        E::Volume(volume) => E::Volume(swap(&mut levels.volume, volume)),
        E::Pan(pan) => E::Pan(swap(&mut levels.pan, pan)),
        E::Mute(mute) => E::Mute(swap(&mut track.mute, mute)),
        E::PassLength(length) => E::PassLength(swap(&mut track.pass_length, length)),
        E::Compass(compass) => E::Compass(swap(&mut track.compass, compass)),
        E::KeysPlay(play) => E::KeysPlay(swap(&mut track.keys_play, play)),
        E::ChordStack(stack) => E::ChordStack(swap(&mut keys.stack, stack)),
        E::ChordInversion(nth) => E::ChordInversion(swap(&mut keys.inversion, nth)),
        E::ChordOpen(open) => E::ChordOpen(swap(&mut keys.open, open)),
        E::ChordLeading(leading) => E::ChordLeading(swap(&mut keys.leading, leading)),
        E::ChordKey(key, Some(chord)) => E::ChordKey(key, keys.own.insert(key, chord)),
        E::ChordKey(key, None) => E::ChordKey(key, keys.own.remove(&key)),
    }
}

impl TrackEdit {
    /// The edits that turn `from` into `to`, one for each field that differs. Ids are ignored.
    pub fn between(from: &Track, to: &Track) -> Vec<TrackEdit> {
        use TrackEdit as E;
        let all = [
            (from.name != to.name, E::Name(to.name.clone())),
            (from.port != to.port, E::Port(to.port.clone())),
            (from.channel != to.channel, E::Channel(to.channel)),
            (from.bank != to.bank, E::Bank(to.bank)),
            (from.program != to.program, E::Program(to.program)),
            (from.pitched != to.pitched, E::Pitched(to.pitched)),
            (from.feel.grid != to.feel.grid, E::Grid(to.feel.grid)),
            (from.feel.pull != to.feel.pull, E::Pull(to.feel.pull)),
            (from.feel.swing != to.feel.swing, E::Swing(to.feel.swing)),
            (from.feel.reach != to.feel.reach, E::Reach(to.feel.reach)),
            (from.feel.rolls != to.feel.rolls, E::Rolls(to.feel.rolls)),
            (from.feel.groove != to.feel.groove, E::Groove(to.feel.groove)),
            (from.feel.human != to.feel.human, E::Human(to.feel.human)),
            (from.levels.volume != to.levels.volume, E::Volume(to.levels.volume)),
            (from.levels.pan != to.levels.pan, E::Pan(to.levels.pan)),
            (from.mute != to.mute, E::Mute(to.mute)),
            (from.pass_length != to.pass_length, E::PassLength(to.pass_length)),
            (from.compass != to.compass, E::Compass(to.compass)),
            (from.keys_play != to.keys_play, E::KeysPlay(to.keys_play)),
        ];
        let differing = all.into_iter().filter(|(differs, _)| *differs).map(|(_, edit)| edit);
        differing.chain(between_keys(&from.chord_keys, &to.chord_keys)).collect()
    }
}

/// The edits that turn chord keys into others.
fn between_keys(from: &ChordKeys, to: &ChordKeys) -> Vec<TrackEdit> {
    use TrackEdit as E;
    let all = [
        (from.stack != to.stack, E::ChordStack(to.stack)),
        (from.inversion != to.inversion, E::ChordInversion(to.inversion)),
        (from.open != to.open, E::ChordOpen(to.open)),
        (from.leading != to.leading, E::ChordLeading(to.leading)),
    ];
    let keys: BTreeSet<U7> = from.own.keys().chain(to.own.keys()).copied().collect();
    let other = keys.into_iter().filter(|key| from.own.get(key) != to.own.get(key));
    let own = other.map(|key| E::ChordKey(key, to.own.get(&key).copied()));
    all.into_iter().filter(|(differs, _)| *differs).map(|(_, edit)| edit).chain(own).collect()
}
