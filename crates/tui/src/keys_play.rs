//! What keys play on the armed track, in names: the chord on each key, the note that a key sounds, and the chord
//! that was played last. All as it sounds, as everything else on the screen.

use crate::chords::{key_heard, sounding};
use chaconne_engine::Status;
use chaconne_harmony::{Harmony, Meant, PitchClass, chord_on_key, means, names, pitches};
use chaconne_song::{ChordKeys, ChordSymbol, KeySignature, KeysPlay, Track, TrackId, U7};
use std::collections::BTreeMap;
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

/// The chord that a key plays where keys play chords; where they play notes, the one that it would play.
pub fn chord_on(key: U7, plays: KeysPlay, keys: &ChordKeys, harmony: Harmony) -> ChordSymbol {
    match means(key, plays, keys, harmony) {
        Meant::Chord(symbol) => symbol,
        Meant::Note(_) => chord_on_key(key, harmony.key, keys),
    }
}

/// The note that a key sounds where keys play single notes.
pub fn note_on(key: U7, plays: KeysPlay, harmony: Harmony) -> U7 {
    match means(key, plays, &ChordKeys::default(), harmony) {
        Meant::Note(note) => note,
        Meant::Chord(_) => key,
    }
}

/// The chord that was played last on the armed track.
#[derive(Debug, Default)]
pub struct Played {
    track: Option<TrackId>,
    /// The keys at the press that it is the name of.
    struck: Arc<[U7]>,
    name: Option<ChordSymbol>,
    /// Whether any chord with a name was played since the track was armed.
    any: bool,
}

impl Played {
    /// Takes a look at what was played; returns whether something is new.
    pub fn follow(&mut self, status: &Status) -> bool {
        if self.track != status.armed {
            *self = Played {
                track: status.armed,
                struck: Arc::clone(&status.struck),
                ..Played::default()
            };
            return true;
        }
        if Arc::ptr_eq(&self.struck, &status.struck) {
            return false;
        }
        self.struck = Arc::clone(&status.struck);
        self.name = named(status, self.name);
        self.any |= self.name.is_some();
        true
    }

    /// Whether chords are played on the armed track.
    pub fn any(&self) -> bool {
        self.any
    }

    /// The name of the chord; `None` if what was played last has none.
    pub fn name(&self) -> Option<ChordSymbol> {
        self.name
    }
}

/// The name of what is struck. Where keys play chords it is the name that their chords have: A, C, E and G over C are
/// then Am7/C if a key plays Am7. If the chord `before` is still held there, it is not part of the name.
fn named(status: &Status, before: Option<ChordSymbol>) -> Option<ChordSymbol> {
    let (track, harmony) = (armed(status)?, harmony(status));
    let all = names(&status.struck, harmony.key);
    let mut known = on_keys(track, harmony.key);
    known.extend(harmony.chord.filter(|_| track.keys_play == KeysPlay::Chart));
    let is_known = |name: &&ChordSymbol| known.iter().any(|chord| is_alike(*chord, **name));
    let whole = all.iter().find(is_known).copied();
    let after = || before.and_then(|before| after(&status.struck, before, &known, harmony.key));
    whole.or_else(after).or(all.first().copied())
}

/// The one of some chords that is struck while the one before is still held.
fn after(
    struck: &[U7],
    before: ChordSymbol,
    known: &[ChordSymbol],
    key: Option<KeySignature>,
) -> Option<ChordSymbol> {
    let held = pitches(before);
    let is_struck = |chord: &&ChordSymbol| {
        let tones = pitches(**chord);
        let inside =
            |&key: &U7| tones.contains(PitchClass::of(key)) || held.contains(PitchClass::of(key));
        let sounds = |tone| struck.iter().any(|&key| PitchClass::of(key) == tone);
        !is_alike(**chord, before) && tones.iter().all(sounds) && struck.iter().all(inside)
    };
    let chord = known.iter().find(is_struck)?;
    let tones = pitches(*chord);
    let own: Vec<U7> =
        struck.iter().copied().filter(|&key| tones.contains(PitchClass::of(key))).collect();
    // Named with its own lowest key.
    names(&own, key).into_iter().find(|name| is_alike(*name, *chord))
}

/// A chord that was recognised from the notes of a track, as it is called on its keys if they play chords: the
/// inversion in which it lies is then none of the player's.
pub fn as_on_keys(chord: ChordSymbol, track: &Track, key: Option<KeySignature>) -> ChordSymbol {
    let tones = |chord: ChordSymbol| match chord {
        ChordSymbol::Chord { root, kind, .. } => {
            pitches(ChordSymbol::Chord { root, kind, bass: None })
        }
        ChordSymbol::Silent => pitches(chord),
    };
    let known = on_keys(track, key);
    let same = |other: &&ChordSymbol| tones(**other) == tones(chord);
    let alike = known.iter().find(|other| is_alike(**other, chord));
    alike.or(known.iter().find(same)).copied().unwrap_or(chord)
}

/// The chords on the keys of a track, those of their own first; none if keys play no chords.
fn on_keys(track: &Track, key: Option<KeySignature>) -> Vec<ChordSymbol> {
    if !track.keys_play.has_chords() {
        return Vec::new();
    }
    let own = track.chord_keys.own.values().copied();
    let in_key = ChordKeys { own: BTreeMap::new(), ..track.chord_keys.clone() };
    let octave = (60..72).map(|number| chord_on_key(U7::low_bits(number), key, &in_key));
    own.chain(octave).collect()
}

/// Whether two chords have the same root and kind, whatever their bass.
fn is_alike(one: ChordSymbol, other: ChordSymbol) -> bool {
    let of = |chord: ChordSymbol| match chord {
        ChordSymbol::Chord { root, kind, .. } => Some((PitchClass::named(root), kind)),
        ChordSymbol::Silent => None,
    };
    of(one).is_some() && of(one) == of(other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Stack, TrackId};

    fn chord(symbol: &str) -> ChordSymbol {
        symbol.parse().unwrap()
    }

    fn track(plays: KeysPlay, stack: Stack) -> Track {
        let own = [(U7::low_bits(61), chord("F#m7b5/E"))].into_iter().collect();
        let keys = ChordKeys { stack, own, ..ChordKeys::default() };
        Track { keys_play: plays, chord_keys: keys, ..Track::pitched(TrackId(1), "chords") }
    }

    #[test]
    fn a_chord_is_called_what_its_key_plays_whatever_lies_lowest() {
        let on_keys = |symbol, track: &Track| as_on_keys(chord(symbol), track, None).to_string();
        let sevenths = track(KeysPlay::Chords, Stack::Seventh);
        for (recognised, called) in [
            ("Cmaj7/E", "Cmaj7"),
            // C, E, G and A: no key plays C6.
            ("C6", "Am7"),
            ("F#m7b5/C", "F#m7b5/E"),
            ("A7/G", "A7"),
            ("Dsus4/A", "Dsus4/A"),
            ("N.C.", "N.C."),
        ] {
            assert_eq!(on_keys(recognised, &sevenths), called);
        }
        assert_eq!(on_keys("C/E", &track(KeysPlay::Chart, Stack::Triad)), "C");
        for plays in [KeysPlay::Notes, KeysPlay::Scale, KeysPlay::Chord] {
            assert_eq!(on_keys("C/E", &track(plays, Stack::Triad)), "C/E");
        }
    }

    #[test]
    fn a_key_plays_its_own_chord_the_chart_s_or_the_one_in_the_key() {
        let keys = track(KeysPlay::Chart, Stack::Triad).chord_keys;
        let on =
            |plays, key, harmony| chord_on(U7::low_bits(key), plays, &keys, harmony).to_string();
        let with = Harmony { key: "G major".parse().ok(), chord: Some(chord("Bm7")) };
        let without = Harmony { chord: None, ..with };
        let all = [
            on(KeysPlay::Chart, 61, with),
            on(KeysPlay::Chart, 60, with),
            on(KeysPlay::Chart, 60, without),
            on(KeysPlay::Chords, 60, with),
        ];
        assert_eq!(all, ["F#m7b5/E", "Bm7", "G", "G"]);
    }

    #[test]
    fn a_key_sounds_the_nearest_note_of_scale_or_chord() {
        let now = Harmony { key: "G major".parse().ok(), chord: Some(chord("Bm7")) };
        let on = |plays, key| note_on(U7::low_bits(key), plays, now).get();
        assert_eq!([on(KeysPlay::Notes, 65), on(KeysPlay::Scale, 65)], [65, 64]);
        // B, D, F sharp and A.
        assert_eq!([60, 61, 64, 68].map(|key| on(KeysPlay::Chord, key)), [59, 62, 62, 69]);
    }
}
