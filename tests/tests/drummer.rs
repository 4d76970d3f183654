//! A drummer's performance recorded into loops: no note is lost or doubled, each is in the right pass at
//! the seams, and with feel off every note sounds exactly when it was played.
//!
//! The performance is one file of the Groove MIDI Dataset (J. Gillick, A. Roberts, J. Engel,
//! D. Eck, D. Bamman, "Learning to Groove with Inverse Sequence Transformations", ICML 2019;
//! CC BY 4.0; see `tests/data/README.md`): 410 notes, 16 bars of 4/4 at 138 BPM, 480 ticks to the
//! quarter. The tests read it with midly, a general library, and not with the project's reader.

use chaconne_song::Song;
use chaconne_tests::program::{data, run};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Ticks of a bar of 4/4, at 960 to the quarter.
const BAR: i64 = 3840;
const SIXTEENTH: i64 = 240;
/// Start at 960 ticks to the quarter, key, velocity.
type Stroke = (i64, u8, u8);

fn performance() -> (PathBuf, Vec<Stroke>) {
    let path = data("groove-funk-138.mid");
    let bytes = std::fs::read(&path).unwrap();
    let file = midly::Smf::parse(&bytes).unwrap();
    let midly::Timing::Metrical(ppq) = file.header.timing else { panic!("ticks of a quarter") };
    let scale = 960 / i64::from(ppq.as_int());
    let mut strokes = Vec::new();
    for track in &file.tracks {
        let mut now = 0;
        for event in track {
            now += i64::from(event.delta.as_int());
            let midly::TrackEventKind::Midi { message, .. } = event.kind else { continue };
            if let midly::MidiMessage::NoteOn { key, vel } = message
                && vel > 0
            {
                strokes.push((now * scale, key.as_int(), vel.as_int()));
            }
        }
    }
    strokes.sort();
    assert_eq!(strokes.len(), 410);
    (path, strokes)
}

/// The text of an empty song with this many bars at 138 BPM and a drum track with that feel.
fn empty(bars: u32, feel: &str) -> String {
    format!(
        "(chaconne: 2, title: \"Kit\", form: \"A A\", tracks: [(id: 1, name: \"Drums\", channel: 10, \
         pitched: false{feel})], sections: [(letter: \"A\", bars: {bars}, metre: \"4/4\", \
         tempo: 434783)])"
    )
}

const SIXTEENTHS: &str = ", feel: (grid: \"1/16\")";
const NO_ROLLS: &str = ", feel: (grid: \"1/16\", rolls: false)";

/// Lays the performance with `more` arguments; returns the song's path and the song.
fn lay(folder: &Path, text: &str, take: &Path, more: &[&str]) -> (PathBuf, Song) {
    let path = folder.join("kit.ron");
    std::fs::write(&path, text).unwrap();
    let (song, take) = (path.to_str().unwrap(), take.to_str().unwrap());
    let mut arguments = vec!["lay", song, "--track", "Drums", "--section", "A", "--from", take];
    arguments.extend(more);
    run(&arguments).ends(0);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    (path, song)
}

/// The strokes of all passes as they were played, one loop after the other.
fn played(song: &Song, bars: u32) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    for (round, pass) in (0..).zip(song.passes_in(&song.sections[0])) {
        for note in pass.notes() {
            let stroke = note.played;
            let at = round * i64::from(bars) * BAR + stroke.start.0;
            strokes.push((at, stroke.key.get(), stroke.velocity.get()));
        }
    }
    strokes.sort();
    strokes
}

/// The number of notes that start before their pass.
fn early(song: &Song) -> usize {
    let notes = song.passes.values().flat_map(|pass| pass.notes());
    notes.filter(|note| note.played.start.0 < 0).count()
}

#[test]
fn every_stroke_is_kept_as_played_and_an_early_one_belongs_to_the_next_round() {
    let (take, strokes) = performance();
    // The rule, applied to the file itself: a stroke belongs to the nearest sixteenth, or to the later
    // of two equally near ones. A stroke before the top of the round it belongs to is early. The
    // dataset's file gives these counts.
    for (bars, count) in [(1, 42), (2, 22), (4, 8), (8, 3)] {
        let loop_ticks = i64::from(bars) * BAR;
        let wraps = |&&(at, ..): &&Stroke| {
            let place = (at + SIXTEENTH / 2).div_euclid(SIXTEENTH) * SIXTEENTH;
            place.div_euclid(loop_ticks) != at.div_euclid(loop_ticks)
        };
        assert_eq!(strokes.iter().filter(wraps).count(), count);
        let folder = tempfile::tempdir().unwrap();
        let (_, song) = lay(folder.path(), &empty(bars, NO_ROLLS), &take, &[]);
        assert_eq!(song.passes.len(), 16 / bars as usize);
        assert_eq!(played(&song, bars), strokes, "{bars} bars");
        assert_eq!(early(&song), count, "{bars} bars");
    }
    // The counts are the same if the strokes of a roll move together, and if feel is off.
    for (bars, feel, count) in [(4, SIXTEENTHS, 8), (8, SIXTEENTHS, 3), (4, "", 8), (8, "", 3)] {
        let folder = tempfile::tempdir().unwrap();
        let (_, song) = lay(folder.path(), &empty(bars, feel), &take, &[]);
        assert_eq!(played(&song, bars), strokes, "{bars} bars {feel}");
        assert_eq!(early(&song), count, "{bars} bars {feel}");
    }
}

/// A note of a listing: tick from the start of the form, key, velocity, length.
fn listed(song: &Path, more: &[&str]) -> Vec<(i64, u8, u8, i64)> {
    let mut arguments = vec!["list", song.to_str().unwrap()];
    arguments.extend(more);
    let listing = run(&arguments).ends(0).out;
    let mut notes = Vec::new();
    for line in listing.lines().filter(|line| line.contains(" note ")) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let place: Vec<i64> = words[0].split('.').map(|part| part.parse().unwrap()).collect();
        let at = (place[0] - 1) * BAR + (place[1] - 1) * 960 + place[2];
        let after = |name: &str| {
            let index = words.iter().position(|word| *word == name).unwrap();
            words[index + 1].parse::<i64>().unwrap()
        };
        notes.push((at, after("note") as u8, after("velocity") as u8, after("length")));
    }
    notes
}

/// Asserts that each stroke of a key has ended when the key is struck again.
fn assert_apart(notes: &[(i64, u8, u8, i64)]) {
    let mut ends: BTreeMap<u8, i64> = BTreeMap::new();
    for &(at, key, _, length) in notes {
        let end = ends.insert(key, at + length);
        assert!(end.is_none_or(|end| end <= at), "key {key} is struck at {at} while it is down");
    }
}

#[test]
fn every_stroke_sounds_once_and_with_feel_off_exactly_as_played() {
    let (take, strokes) = performance();
    let folder = tempfile::tempdir().unwrap();
    // The whole take is one pass over four rounds of a four-bar loop.
    let text = empty(4, SIXTEENTHS).replace("\"A A\"", "\"A A A A\"");
    let (path, song) = lay(folder.path(), &text, &take, &["--keep", "one"]);
    assert_eq!(song.passes_in(&song.sections[0]).len(), 1);
    let corrected = listed(&path, &[]);
    assert_eq!(corrected.len(), 410);
    assert_apart(&corrected);
    assert!(corrected.iter().filter(|note| note.0 % SIXTEENTH == 0).count() > 380);
    let order = |notes: &[(i64, u8, u8, i64)]| {
        let mut by_key: BTreeMap<u8, Vec<u8>> = BTreeMap::new();
        for &(_, key, velocity, _) in notes {
            by_key.entry(key).or_default().push(velocity);
        }
        by_key
    };
    let performed: Vec<_> = strokes.iter().map(|&(at, key, vel)| (at, key, vel, 0)).collect();
    assert_eq!(order(&corrected), order(&performed), "strokes of a drum keep their order");
    let off = std::fs::read_to_string(&path).unwrap().replace(SIXTEENTHS, "");
    std::fs::write(&path, off).unwrap();
    for view in [["--view", "corrected"], ["--view", "played"]] {
        let notes = listed(&path, &view);
        assert_apart(&notes);
        let mut sounding: Vec<Stroke> = notes.iter().map(|n| (n.0, n.1, n.2)).collect();
        sounding.sort();
        assert_eq!(sounding, strokes, "{view:?}");
    }
}

#[test]
fn layers_of_a_loop_never_strike_a_key_that_is_down() {
    let (take, _) = performance();
    for (bars, feel) in [(1, NO_ROLLS), (1, SIXTEENTHS), (2, SIXTEENTHS), (4, SIXTEENTHS)] {
        let folder = tempfile::tempdir().unwrap();
        let (path, _) = lay(folder.path(), &empty(bars, feel), &take, &[]);
        // The form has the section twice, so every stroke sounds twice, also at the seam.
        let notes = listed(&path, &[]);
        assert_eq!(notes.len(), 2 * 410, "{bars} bars {feel}");
        assert_apart(&notes);
    }
}

#[test]
fn the_real_clock_records_the_same_passes_as_the_simulated_one() {
    let (take, strokes) = performance();
    let (one, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let text = empty(4, SIXTEENTHS);
    let (_, simulated) = lay(one.path(), &text, &take, &[]);
    let (_, real) = lay(other.path(), &text, &take, &["--real-time", "--out", "none"]);
    let passes = |song: &Song| -> Vec<Vec<Stroke>> {
        let strokes = |pass: &&Arc<chaconne_song::Pass>| {
            let notes = pass.notes().iter().map(|note| note.played);
            let mut notes: Vec<Stroke> =
                notes.map(|s| (s.start.0, s.key.get(), s.velocity.get())).collect();
            notes.sort();
            notes
        };
        song.passes_in(&song.sections[0]).iter().map(strokes).collect()
    };
    assert_eq!(passes(&real), passes(&simulated));
    assert_eq!(played(&real, 4), strokes);
    assert_eq!(early(&real), 8);
}
