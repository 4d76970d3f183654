//! What keys play on the armed track, in names: the chord on each key, the note that a key sounds, and the chord
//! that was played last. All as it sounds, as everything else on the screen.

use crate::chords::{key_heard, sounding};
use chaconne_engine::{Message, Status};
use chaconne_harmony::{Fingers, Harmony, KeysNow, PitchClass, chord_on_key, names};
use chaconne_song::{Channel, ChordKeys, ChordSymbol, KeysPlay, Track, U7};
use chaconne_time::Ns;
use std::sync::Arc;

/// The armed track, if its keys are pitches.
pub fn armed(status: &Status) -> Option<&Arc<Track>> {
    let track = status.armed.and_then(|id| status.song.track(id))?;
    track.pitched.then_some(track)
}

/// What the keys of the armed track play, if it is something else than their notes.
pub fn fingered(status: &Status) -> Option<KeysPlay> {
    let plays = armed(status)?.keys_play;
    (plays != KeysPlay::Notes).then_some(plays)
}

/// The harmony of this moment.
pub fn harmony(status: &Status) -> Harmony {
    let Some(section) = status.song.section(status.section) else { return Harmony::default() };
    let chords = sounding(&status.song, section);
    let here = status.in_section.max(status.begins);
    let chord = chords.iter().rev().find(|chord| chord.at <= here).map(|chord| chord.symbol);
    Harmony { key: key_heard(&status.song, section), chord }
}

/// The chord that a key plays where keys play chords.
pub fn chord_on(key: U7, plays: KeysPlay, keys: &ChordKeys, harmony: Harmony) -> ChordSymbol {
    match (plays, harmony.chord) {
        (KeysPlay::Chart, Some(chord)) if !keys.own.contains_key(&key) => chord,
        _ => chord_on_key(key, harmony.key, keys),
    }
}

/// The note that a key sounds where keys play single notes.
pub fn note_on(key: U7, plays: KeysPlay, harmony: Harmony) -> U7 {
    let now = KeysNow { plays, harmonies: vec![(Ns::MIN, harmony)], ..KeysNow::default() };
    let press = Message::NoteOn { channel: Channel::default(), key, velocity: U7::CENTRE };
    let mut sounds = key;
    Fingers::default().play(0, press, &now, |message| {
        if let Message::NoteOn { key, .. } = message {
            sounds = key;
        }
    });
    sounds
}

/// The name of the chord that was played last; `None` if it has none. Where keys play chords it is the name that
/// their chords have: A, C, E and G over C are then Am7/C if a key plays Am7.
pub fn named(status: &Status) -> Option<ChordSymbol> {
    let (track, harmony) = (armed(status)?, harmony(status));
    let all = names(&status.struck, harmony.key);
    let known = || {
        let keys =
            (0..12).map(|key| U7::low_bits(60 + key)).chain(track.chord_keys.own.keys().copied());
        keys.map(|key| chord_on(key, track.keys_play, &track.chord_keys, harmony))
            .collect::<Vec<_>>()
    };
    let known = if track.keys_play.has_chords() { known() } else { Vec::new() };
    let is_known = |name: &&ChordSymbol| known.iter().any(|chord| is_alike(*chord, **name));
    all.iter().find(is_known).or(all.first()).copied()
}

/// Whether two chords have the same root and kind, whatever their bass.
fn is_alike(one: ChordSymbol, other: ChordSymbol) -> bool {
    let of = |chord: ChordSymbol| match chord {
        ChordSymbol::Chord { root, kind, .. } => Some((PitchClass::named(root), kind)),
        ChordSymbol::Silent => None,
    };
    of(one).is_some() && of(one) == of(other)
}
