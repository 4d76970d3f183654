//! The listing as a musician sees it.

use super::*;
use crate::testing::{lane, lay, push, songs, two_sections};
use chaconne_engine::Entry;
use chaconne_harmony::transposed_key;
use chaconne_song::{Channel, Control, KeySignature, Pass, Transpose, transposed};
use chaconne_time::Span;
use proptest::prelude::*;
use std::collections::BTreeSet;

#[test]
fn a_form_reads_as_music() {
    let song = two_sections();
    let route = Route::form(&song).unwrap();
    insta::assert_snapshot!(listing(&song, &route, View::Corrected).unwrap());
}

#[test]
fn the_played_view_ignores_feel() {
    let song = two_sections();
    let route = Route::rounds(&song, song.sections[0].letter, 1).unwrap();
    let drums = |view| {
        let text = listing(&song, &route, view).unwrap();
        let lines = text.lines().filter(|line| line.contains("Drums"));
        let places = lines.map(|line| line.split(' ').next().unwrap().to_string());
        places.collect::<Vec<_>>().join(" ")
    };
    // The first note is 20 ticks early; at the start of the route it sounds at once.
    assert_eq!(drums(View::Corrected), "1.1.0 1.2.0 1.3.0 2.1.0 2.2.0 2.3.0");
    assert_eq!(drums(View::Played), "1.1.0 1.1.955 1.3.10 1.4.940 2.1.955 2.3.10");
}

#[test]
fn bars_keep_counting_after_a_section_is_left_in_mid_bar() {
    // Two bars of 4/4, left after the first beat of the second; then one bar of 7/8, twice.
    let song = two_sections();
    let entry = |letter: &str, at, until| Entry {
        section: letter.parse().unwrap(),
        at: Tick(at),
        until: Tick(until),
        cut: true,
    };
    let route = Route { entries: vec![entry("A", 0, 4800), entry("B", 4800, 4800 + 2 * 3360)] };
    let counts = Walk::along(&song, &route).counts();
    let places = [0, 3840, 4799, 4800, 8160, 4800 + 3360 * 2 + 5, -20].map(|at| {
        let mut text = String::new();
        row(&counts, &mut text, Tick(at), "-", "");
        text.split_whitespace().take(2).collect::<Vec<_>>().join(" ")
    });
    assert_eq!(
        places,
        ["1.1.0 A1", "2.1.0 A2", "2.1.959 A2", "3.1.0 B1", "4.1.0 B1", "5.1.5 B1", "0.4.940 A2"]
    );
}

#[test]
fn a_reset_at_the_start_of_a_section_belongs_to_the_track_that_moved_the_controller() {
    // The bass leaves its bend up; the drums play last before B, which does not use the bend.
    let mut song = two_sections();
    for section in &mut song.sections {
        Arc::make_mut(section).layers.clear();
    }
    song.passes.clear();
    let [bass, drums] = [0, 1].map(|place| song.tracks[place].id);
    let mut ids = song.ids();
    let mut bent = Pass::empty(ids.pass(), bass, song.sections[0].length());
    bent.notes_mut().lanes = vec![lane(Control::Bend, 7680, &[(0, 9000)])];
    push(&mut song, "A", bent);
    lay(&mut song, "A", drums.0, 7680, &[(7000, 100, 38, 90)]);
    lay(&mut song, "B", drums.0, 3360, &[(0, 100, 38, 90)]);
    let route = Route::form(&song).unwrap();
    let text = listing(&song, &route, View::Corrected).unwrap();
    let bends: Vec<_> = text.lines().filter(|line| line.contains(" bend ")).collect();
    // Twice in A, and once where B begins.
    assert_eq!(bends.len(), 3, "{text}");
    let name = &song.track(bass).unwrap().name;
    assert!(bends.iter().all(|line| line.contains(name.as_str())), "{text}");
}

#[test]
fn a_name_with_control_characters_stays_on_its_line() {
    let mut song = two_sections();
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.name = "Ba\nss \u{1b}[1m".into();
    let route = Route::form(&song).unwrap();
    let text = listing(&song, &route, View::Corrected).unwrap();
    assert!(text.contains("Ba ss  [1m  note"), "{text}");
}

#[test]
fn notes_are_spelled_for_the_key_in_which_their_section_sounds() {
    let mut song = two_sections();
    song.form = "A B".parse().unwrap();
    for section in &mut song.sections {
        Arc::make_mut(section).layers.clear();
    }
    song.passes.clear();
    let bass = song.tracks.iter().find(|track| track.pitched).unwrap().id.0;
    for at in 0..2 {
        let (letter, length) = (song.sections[at].letter, song.sections[at].length().0);
        lay(&mut song, letter.as_str(), bass, length, &[(0, 100, 58, 90), (480, 100, 66, 90)]);
    }
    song.key = "F major".parse().ok();
    let named = |song: &Song| {
        let route = Route::form(song).unwrap();
        let text = listing(song, &route, View::Corrected).unwrap();
        let notes = text.lines().filter(|line| line.contains(" note "));
        let words =
            notes.map(|line| line.split(" note ").nth(1).unwrap().split(' ').next().unwrap());
        words.map(str::to_string).collect::<Vec<_>>().join(" ")
    };
    assert_eq!(named(&song), "Bb3 F#4 Bb3 F#4");
    Arc::make_mut(&mut song.sections[1]).key = "B major".parse().ok();
    assert_eq!(named(&song), "Bb3 F#4 A#3 F#4");
    // A semitone higher, F major is F# major and B major C major.
    song.transpose = Transpose::new(1).unwrap();
    assert_eq!(named(&song), "B3 F##4 B3 G4");
    song.transpose = Transpose::new(-4).unwrap();
    // Db major and G major.
    assert_eq!(named(&song), "Gb3 D4 F#3 D4");
    // Without a key, with sharps.
    (song.transpose, song.key) = (Default::default(), None);
    Arc::make_mut(&mut song.sections[1]).key = None;
    assert_eq!(named(&song), "A#3 F#4 A#3 F#4");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Transposing is playing other keys, and naming them in another key.
    #[test]
    fn a_transposed_song_is_listed_like_one_with_its_keys_and_its_key_moved(
        song in songs(),
        fifths in -7i8..=7,
        minor: bool,
        by in -12i8..=12,
    ) {
        let mut song = song;
        song.key = KeySignature::new(fifths, minor);
        for section in &mut song.sections {
            Arc::make_mut(section).transpose = Transpose::default();
        }
        Arc::make_mut(&mut song.sections[0]).key = KeySignature::new(-fifths, minor);
        let mut moved = song.clone();
        song.transpose = Transpose::new(by).unwrap();
        let up = |key: KeySignature| transposed_key(key, by.into());
        moved.key = song.key.map(up);
        for section in &mut moved.sections {
            let section = Arc::make_mut(section);
            section.key = section.key.map(up);
        }
        let pitched: BTreeSet<TrackId> =
            song.tracks.iter().filter(|track| track.pitched).map(|track| track.id).collect();
        for pass in moved.passes.values_mut().filter(|pass| pitched.contains(&pass.track)) {
            for note in &mut Arc::make_mut(pass).notes_mut().notes {
                note.played.key = transposed(note.played.key, by.into());
                note.placed.key = note.placed.key.map(|key| transposed(key, by.into()));
            }
        }
        let route = Route::form(&song).unwrap();
        let of = |song| listing(song, &route, View::Corrected).unwrap();
        prop_assert_eq!(of(&song), of(&moved));
    }

    #[test]
    fn every_note_has_one_line_in_order_of_time(song in songs()) {
        let route = Route::form(&song).unwrap();
        let text = listing(&song, &route, View::Corrected).unwrap();
        prop_assert_eq!(&text, &listing(&song, &route, View::Corrected).unwrap());
        let span: Span = route.span();
        let performance = perform(&song, &route, span, View::Corrected);
        let struck = performance.events.iter().filter(|event| {
            matches!(event.wire, Wire::Message(Message::NoteOn { .. }))
        });
        let notes = text.lines().filter(|line| line.contains(" note "));
        prop_assert_eq!(notes.clone().count(), struck.count());
        prop_assert!(notes.clone().all(|line| line.contains(" length ")));
        let places: Vec<Vec<u64>> = text.lines().map(|line| {
            let place = line.split(' ').next().unwrap();
            place.split('.').map(|part| part.parse().unwrap()).collect()
        }).collect();
        prop_assert!(places.is_sorted());
    }
}

/// A line of a listing: where it is and whose; the name and the number of its note; the words after it.
type Line = (String, Option<(String, i32)>, String);

fn parsed(line: &str) -> Line {
    let (before, after) = match line.split_once(" note ") {
        Some((before, after)) => (before, after),
        None => return (line.to_string(), None, String::new()),
    };
    let (note, rest) = after.split_once(" velocity ").unwrap();
    // A drum is a number alone.
    let (name, number) = note.rsplit_once(' ').unwrap_or(("", note));
    (before.to_string(), Some((name.to_string(), number.parse().unwrap())), rest.to_string())
}

/// The MIDI note number of a name in scientific pitch notation, where C4 is 60 (MIDI 1.0: middle C).
fn number_of(name: &str) -> i32 {
    let natural = [9, 11, 0, 2, 4, 5, 7][usize::from(name.as_bytes()[0] - b'A')];
    let sharps = name.matches('#').count() as i32 - name[1..].matches('b').count() as i32;
    let octave: i32 = name[1..].trim_start_matches(['#', 'b']).parse().unwrap();
    (octave + 1) * 12 + natural + sharps
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// The song's transposition and the sections' together: all keys of pitched tracks shift by it, drums and all
    /// else stay as they are, and every name is that of its number.
    #[test]
    fn a_transposed_song_lists_the_same_with_its_keys_shifted(
        song in songs(),
        (by, more) in (-7i8..=7, -5i8..=5),
        key in prop::sample::select(vec!["", "C major", "Db major", "F# minor", "B minor", "Cb major"]),
    ) {
        let mut song = song;
        song.key = key.parse().ok();
        let drums = Arc::make_mut(&mut song.tracks[1]);
        (drums.pitched, drums.channel) = (false, Channel::from_number(10));
        let drums = song.tracks[1].name.clone();
        let mut higher = song.clone();
        higher.transpose = Transpose::new(by).unwrap();
        for section in &mut higher.sections {
            Arc::make_mut(section).transpose = Transpose::new(more).unwrap();
        }
        let lines = |song: &Song| -> Vec<Line> {
            let route = Route::form(song).unwrap();
            let text = listing(song, &route, View::Corrected).unwrap();
            let mut lines: Vec<_> = text.lines().map(parsed).collect();
            // Of two events at one tick the lower key comes first, and a shift may carry one over a drum.
            lines.sort();
            lines
        };
        let shift = i32::from(by) + i32::from(more);
        let shifted = lines(&song).into_iter().map(|(place, note, rest)| {
            let by = if place.contains(&drums) { 0 } else { shift };
            (place, note.map(|(_, number)| number + by), rest)
        });
        let mut expected: Vec<_> = shifted.collect();
        expected.sort();
        let mut found = Vec::new();
        for (place, note, rest) in lines(&higher) {
            if let Some((name, number)) = note.as_ref().filter(|_| !place.contains(&drums)) {
                prop_assert_eq!(number_of(name), *number, "{}", name);
            }
            found.push((place, note.map(|(_, number)| number), rest));
        }
        found.sort();
        prop_assert_eq!(found, expected);
    }
}
