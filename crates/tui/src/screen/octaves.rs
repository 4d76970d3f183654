//! Where the two rows of letters lie on each track: the player is not to look for the octave of a bass
//! again and again.
//!
//! In: the armed track and what it has. Out: the octave of the piano. Until the player moves it or plays,
//! it follows what the track has; from then on the session remembers it for that track.

mod compass;

use super::Screen;
use crate::desk::DeskState;
use crate::piano::Piano;
use chaconne_song::{Song, Track, TrackId, U7};
use std::collections::BTreeMap;

/// Where drums lie: the bass drum, key 36 (General MIDI System Level 1, RP-003, "Percussion Key Map"), is
/// under the left index finger.
const DRUMS: i8 = -2;

/// The octaves of a session.
#[derive(Debug, Default)]
pub(super) struct Octaves {
    /// Those that the player has chosen or played in. A track that turns into drums starts afresh.
    settled: BTreeMap<(TrackId, bool), i8>,
    /// For which track, in which state of the song, the piano was last put somewhere.
    seen: Option<(TrackId, bool, u64)>,
}

impl Screen {
    /// Puts the piano where it was on the armed track or, if it was not there yet, where it suits it.
    pub(super) fn follow_octave(&mut self, state: &DeskState) {
        let status = &state.status;
        let Some(track) = status.armed.and_then(|id| status.song.track(id)) else { return };
        let seen = Some((track.id, track.pitched, status.revision));
        if std::mem::replace(&mut self.octaves.seen, seen) == seen {
            return;
        }
        let settled = self.octaves.settled.get(&(track.id, track.pitched)).copied();
        let octave = settled.unwrap_or_else(|| suits(track, &status.song));
        self.version += u64::from(octave != self.piano.octave());
        self.piano.set_octave(octave);
    }

    /// Remembers the octave of the piano for the armed track.
    pub(super) fn settle_octave(&mut self, state: &DeskState) {
        let status = &state.status;
        if let Some(track) = status.armed.and_then(|id| status.song.track(id)) {
            self.octaves.settled.insert((track.id, track.pitched), self.piano.octave());
        }
    }

    /// Forgets all octaves: the tracks are those of another song.
    pub(super) fn forget_octaves(&mut self) {
        self.octaves = Octaves::default();
    }
}

/// The octave that reaches the most of a track's keys; among several, or without any notes, that which is
/// the nearest to what is usual for its sound.
fn suits(track: &Track, song: &Song) -> i8 {
    let passes = song.passes.values().filter(|pass| pass.track == track.id);
    let notes = passes.flat_map(|pass| pass.notes());
    let keys = notes.fold(0_u128, |keys, note| keys | 1 << note.stroke().key.get());
    reaching(|key| keys >> key & 1 == 1, usual(track))
}

/// What is usual for the sound of a track, without a look at its notes.
fn usual(track: &Track) -> i8 {
    if !track.pitched {
        return DRUMS;
    }
    let (low, high) = compass::usual(track.program.map_or(1, |program| program.get() + 1));
    reaching(|key| (low..=high).contains(&key), 0)
}

/// The octave that reaches most of some keys; among several, that which is the nearest to another one.
fn reaching(is_meant: impl Fn(u8) -> bool, near: i8) -> i8 {
    let reached = |octave: i8| {
        let (low, high) = Piano::reach_of(octave);
        (low.get()..=high.get()).filter(|key| is_meant(*key)).count()
    };
    let far = |octave: i8| (octave - near).unsigned_abs();
    let best =
        Piano::OCTAVES.max_by_key(|&octave| (reached(octave), std::cmp::Reverse(far(octave))));
    best.unwrap_or(near)
}

/// The C in the middle of where the sound of a track usually plays; on a drum track, the bass drum.
pub(super) fn usual_key(track: &Track) -> U7 {
    Piano::middle_of(usual(track))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{empty_song, pass};
    use chaconne_song::Letter;

    fn playing(number: u8) -> Track {
        Track { program: U7::new(number - 1), ..Track::pitched(TrackId(1), "part") }
    }

    /// A piano of letters has 19 keys, and all but a few of them can be played on the instrument.
    #[test]
    fn the_letters_lie_within_the_range_of_the_instrument() {
        // Sounding ranges. Open strings and frets: electric bass, guitar. Orchestra Library, "Ranges of
        // Orchestral Instruments": flute, clarinet. Common practice, no source: the others.
        for (number, name, range) in [
            (10, "glockenspiel", 79..=108),
            (14, "xylophone", 65..=108),
            (34, "electric bass", 28..=67),
            (44, "contrabass", 28..=60),
            (26, "guitar", 40..=83),
            (43, "cello", 36..=81),
            (42, "viola", 48..=88),
            (41, "violin", 55..=105),
            (48, "timpani", 38..=60),
            (58, "trombone", 40..=70),
            (59, "tuba", 26..=65),
            (61, "horn", 35..=77),
            (65, "soprano sax", 56..=88),
            (66, "alto sax", 49..=80),
            (67, "tenor sax", 44..=76),
            (68, "baritone sax", 36..=68),
            (57, "trumpet", 52..=82),
            (69, "oboe", 58..=91),
            (70, "English horn", 52..=81),
            (71, "bassoon", 34..=74),
            (72, "clarinet", 50..=94),
            (73, "piccolo", 74..=102),
            (74, "flute", 60..=98),
            (75, "alto recorder", 65..=91),
        ] {
            let (low, high) = Piano::reach_of(usual(&playing(number)));
            let within = (low.get()..=high.get()).filter(|key| range.contains(key)).count();
            assert!(within >= 18, "{name}: {low:?} to {high:?} in {range:?}");
        }
    }

    #[test]
    fn every_sound_starts_in_an_octave_that_it_plays() {
        for number in 1..=128 {
            let (low, high) = compass::usual(number);
            let octave = usual(&playing(number));
            let key = usual_key(&playing(number)).get();
            assert!((low..=high).contains(&key), "{number}: {key}");
            let (first, last) = Piano::reach_of(octave);
            let within = (first.get()..=last.get()).filter(|key| (low..=high).contains(key));
            assert!(within.count() >= 13, "{number}: {octave}");
        }
        // A flute begins an octave above the middle, a piano in the middle.
        assert_eq!((usual(&playing(74)), usual(&playing(1))), (1, 0));
    }

    #[test]
    fn the_notes_of_a_track_count_more_than_its_sound() {
        let mut song = empty_song(1, "4/4");
        let bass = playing(34);
        assert_eq!(suits(&bass, &song), -2);
        // High on the neck: from G3, which two octaves reach, to C4.
        song.lay(Letter::A, pass(1, 1, 3840, &[(0, 480, 55, 90), (960, 480, 60, 90)]));
        assert_eq!(suits(&bass, &song), -1);
        // Another track's notes count for nothing.
        song.lay(Letter::A, pass(2, 2, 3840, &[(0, 480, 100, 90)]));
        assert_eq!(suits(&bass, &song), -1);
        let high = [84, 85, 86].map(|key| (0, 480, key, 90));
        song.lay(Letter::A, pass(3, 1, 3840, &high));
        assert_eq!(suits(&bass, &song), 2);
    }

    #[test]
    fn drums_lie_with_the_bass_drum_under_the_left_index_finger() {
        // General MIDI System Level 1 (RP-003), "Percussion Key Map": 36 bass drum, 38 acoustic snare, 42
        // closed hi-hat, 49 crash cymbal, 63 and 64 congas.
        let mut song = empty_song(1, "4/4");
        let drums = Track::drums(TrackId(1), "drums");
        let (low, _) = Piano::reach_of(suits(&drums, &song));
        assert_eq!(low.get() + 6, 36);
        let kit = [36, 38, 42, 49].map(|key| (0, 60, key, 90));
        song.lay(Letter::A, pass(1, 1, 3840, &kit));
        assert_eq!(suits(&drums, &song), DRUMS);
        let congas = Track::drums(TrackId(2), "congas");
        song.lay(Letter::A, pass(2, 2, 3840, &[(0, 60, 63, 90), (0, 60, 64, 90)]));
        assert_eq!(suits(&congas, &song), 0);
    }
}
