//! What two versions of a song say differently about the same things: names, mutes, tempi, keys.
//!
//! In: the song here and the one in its file. Out: a sentence for each difference, and both songs without
//! the mutes in which they differ, so that a mute does not hide or repeat what else differs.

use chaconne_song::{Layer, Section, Song, Track, TrackId};
use chaconne_time::{MetreMap, NoteValue, Tempo, Tick};
use std::sync::Arc;

/// Two values in words: `96 here, 97 in the file`.
fn both(here: impl std::fmt::Display, file: impl std::fmt::Display) -> String {
    format!("{here} here, {file} in the file")
}

/// A name in quotes, or that there is none.
fn called(name: &str) -> String {
    if name.is_empty() { "nothing".to_string() } else { format!("'{name}'") }
}

fn muted(what: &str, here: bool) -> String {
    match here {
        true => format!("{what} is muted here, but not in the file"),
        false => format!("{what} is muted in the file, but not here"),
    }
}

/// How the titles, keys and forms differ.
pub(super) fn of_song(here: &Song, file: &Song) -> Vec<String> {
    let mut found = Vec::new();
    if here.title != file.title {
        found.push(format!("title: {}", both(called(&here.title), called(&file.title))));
    }
    if here.key != file.key {
        let key = |song: &Song| song.key.map_or("none".to_string(), |key| key.to_string());
        found.push(format!("key: {}", both(key(here), key(file))));
    }
    if here.transpose != file.transpose {
        found.push(format!("semitones transposed: {}", both(here.transpose, file.transpose)));
    }
    if here.form != file.form {
        let form = |song: &Song| match song.form.is_empty() {
            true => "none".to_string(),
            false => song.form.to_string(),
        };
        found.push(format!("form: {}", both(form(here), form(file))));
    }
    found
}

/// How the tracks differ.
pub(super) fn of_tracks(here: &Song, file: &Song) -> Vec<String> {
    let mut found = Vec::new();
    for track in &here.tracks {
        let name = &track.name;
        let Some(other) = file.track(track.id) else {
            found.push(format!("track '{name}' is only here"));
            continue;
        };
        if other.name != *name {
            found.push(format!("track '{name}' is called {} in the file", called(&other.name)));
        }
        if other.mute != track.mute {
            found.push(muted(&format!("track '{name}'"), track.mute));
        }
    }
    let is_new = |track: &&Arc<Track>| here.track(track.id).is_none();
    let only = file.tracks.iter().filter(is_new);
    found.extend(only.map(|track| format!("track '{}' is only in the file", track.name)));
    found
}

/// How the settings of a section and of its layers differ.
pub(super) fn of_section(
    (here, ours): (&Song, &Section),
    (file, theirs): (&Song, &Section),
) -> Vec<String> {
    let letter = ours.letter;
    let mut found = Vec::new();
    if ours.name != theirs.name {
        let names = both(called(&ours.name), called(&theirs.name));
        found.push(format!("section {letter} is called {names}"));
    }
    let bars = (ours.metre.bars(), theirs.metre.bars());
    if bars.0 != bars.1 {
        found.push(format!("section {letter}, bars: {}", both(bars.0, bars.1)));
    } else if ours.metre != theirs.metre {
        let (one, other) = (ours.metre.first(), theirs.metre.first());
        found.push(match one == other {
            true => format!("section {letter} changes metre in other bars"),
            false => format!("section {letter}, metre: {}", both(one, other)),
        });
    }
    if ours.tempo != theirs.tempo {
        let one = tempo(ours.tempo.first(), &ours.metre);
        let other = tempo(theirs.tempo.first(), &theirs.metre);
        found.push(match one == other {
            true => format!("section {letter} changes tempo differently"),
            false => format!("section {letter}, tempo: {}", both(one, other)),
        });
    }
    if ours.key != theirs.key {
        let key = |of: &Section| of.key.map_or("the song's".to_string(), |key| key.to_string());
        found.push(format!("section {letter}, key: {}", both(key(ours), key(theirs))));
    }
    if ours.transpose != theirs.transpose {
        let semitones = both(ours.transpose, theirs.transpose);
        found.push(format!("section {letter}, semitones transposed: {semitones}"));
    }
    for track in here.tracks.iter().filter(|track| file.track(track.id).is_some()) {
        found.extend(of_layers((here, ours), (file, theirs), track));
    }
    found
}

/// How the names and mutes of the layers that both have differ.
fn of_layers(
    (here, ours): (&Song, &Section),
    (file, theirs): (&Song, &Section),
    track: &Track,
) -> Vec<String> {
    let mut found = Vec::new();
    for (at, layer) in layers_of(here, ours, track.id).enumerate() {
        let Some(other) = theirs.layer(layer.pass) else { continue };
        let name = |song: &Song| song.pass(layer.pass).map(|pass| pass.name.clone());
        let place = format!("section {}, {}: layer {}", ours.letter, track.name, at + 1);
        if let (Some(one), Some(other)) = (name(here), name(file))
            && one != other
        {
            found.push(format!("{place} is called {}", both(called(&one), called(&other))));
        }
        if layer.mute != other.mute {
            found.push(muted(&place, layer.mute));
        }
    }
    found
}

/// The layers of a track in a section, the lowest first.
fn layers_of<'a>(
    song: &'a Song,
    section: &'a Section,
    track: TrackId,
) -> impl Iterator<Item = &'a Layer> {
    let is_its =
        move |layer: &&Layer| song.pass(layer.pass).is_some_and(|pass| pass.track == track);
    section.layers.iter().filter(is_its)
}

/// A tempo in the note that its metre counts, with up to three decimals.
fn tempo(tempo: Tempo, metre: &MetreMap) -> String {
    let unit: NoteValue = metre.metre_at(Tick::ZERO).tempo_unit();
    let (milli, whole) = tempo.beats(unit);
    match whole {
        Some(whole) => whole.to_string(),
        None => {
            let text = format!("{}.{:03}", milli / 1000, milli % 1000);
            text.trim_end_matches('0').trim_end_matches('.').to_string()
        }
    }
}

/// A song without the mutes in which it differs from another.
pub(super) fn without_other_mutes(song: &Song, other: &Song) -> Song {
    let mut same = song.clone();
    for track in &mut same.tracks {
        if other.track(track.id).is_some_and(|other| other.mute != track.mute) {
            Arc::make_mut(track).mute = false;
        }
    }
    for section in &mut same.sections {
        let Some(theirs) = other.section(section.letter) else { continue };
        let differs =
            |layer: &Layer| theirs.layer(layer.pass).is_some_and(|other| other.mute != layer.mute);
        if section.layers.iter().any(differs) {
            for layer in &mut Arc::make_mut(section).layers {
                layer.mute &= !differs(layer);
            }
        }
    }
    same
}
