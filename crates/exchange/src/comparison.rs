//! What two versions of a song play differently: by section, track and bar.
//!
//! In: two songs, such as the one on the screen and the one in its file. Out: one sentence for each
//! difference, in the order of the songs. It compares what a listing shows: what a musician would
//! hear. Settings that change nothing of it are not mentioned.

use crate::listing::event_words;
use crate::pairs::pairs;
use chaconne_engine::{Route, View, Walk, perform};
use chaconne_song::{Letter, Section, Song, Track, TrackId};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What a track plays in each bar of a section: the events of the bar as a listing writes them.
type Bars = BTreeMap<i64, Vec<String>>;

/// The differences between the song `here` and the one in its file, one sentence each; empty if both
/// play the same.
pub fn differences(here: &Song, file: &Song) -> Vec<String> {
    let mut found = Vec::new();
    if here.title != file.title {
        found.push(format!("the title is '{}' here and '{}' in the file", here.title, file.title));
    }
    if here.form != file.form {
        let form = |song: &Song| match song.form.is_empty() {
            true => "none".to_string(),
            false => song.form.to_string(),
        };
        found.push(format!("the form is {} here and {} in the file", form(here), form(file)));
    }
    found.extend(tracks(here, file));
    for letter in letters(here, file) {
        match (here.section(letter), file.section(letter)) {
            (Some(ours), Some(theirs)) => {
                found.extend(section((here, ours), (file, theirs)));
            }
            (Some(_), None) => found.push(format!("section {letter} is only here")),
            (None, _) => found.push(format!("section {letter} is only in the file")),
        }
    }
    found
}

/// The letters of both songs: those of `here` first.
fn letters(here: &Song, file: &Song) -> Vec<Letter> {
    let mut letters: Vec<Letter> = here.sections.iter().map(|section| section.letter).collect();
    let more = file.sections.iter().map(|section| section.letter);
    let more: Vec<Letter> = more.filter(|letter| !letters.contains(letter)).collect();
    letters.extend(more);
    letters
}

fn tracks(here: &Song, file: &Song) -> Vec<String> {
    let mut found = Vec::new();
    for track in &here.tracks {
        match file.track(track.id) {
            None => found.push(format!("track '{}' is only here", track.name)),
            Some(other) if other.name != track.name => {
                found.push(format!("track '{}' is called '{}' in the file", track.name, other.name))
            }
            Some(_) => {}
        }
    }
    let is_new = |track: &&Arc<Track>| here.track(track.id).is_none();
    let only = file.tracks.iter().filter(is_new);
    found.extend(only.map(|track| format!("track '{}' is only in the file", track.name)));
    found
}

fn section((here, ours): (&Song, &Section), (file, theirs): (&Song, &Section)) -> Vec<String> {
    let letter = ours.letter;
    let mut found = Vec::new();
    let bars = (ours.metre.bars(), theirs.metre.bars());
    if bars.0 != bars.1 {
        found.push(format!("section {letter} has {} bars here and {} in the file", bars.0, bars.1));
    } else if ours.metre != theirs.metre {
        let (one, other) = (ours.metre.first(), theirs.metre.first());
        found.push(match one == other {
            true => format!("section {letter} changes metre in other bars"),
            false => format!("section {letter} is in {one} here and in {other} in the file"),
        });
    }
    if ours.tempo != theirs.tempo {
        found.push(format!("section {letter} has another tempo"));
    }
    let (plays, played) = (bars_of(here, letter), bars_of(file, letter));
    let none = Bars::new();
    for track in &here.tracks {
        if file.track(track.id).is_none() {
            continue;
        }
        let ours = plays.get(&track.id).unwrap_or(&none);
        let theirs = played.get(&track.id).unwrap_or(&none);
        let all: BTreeSet<i64> = ours.keys().chain(theirs.keys()).copied().collect();
        let differ: Vec<i64> =
            all.into_iter().filter(|bar| ours.get(bar) != theirs.get(bar)).collect();
        if !differ.is_empty() {
            let verb = if differ.len() == 1 { "differs" } else { "differ" };
            found.push(format!("section {letter}, {}: {} {verb}", track.name, runs(&differ)));
        }
    }
    found
}

/// What each track plays in one round of a section, by bar.
fn bars_of(song: &Song, letter: Letter) -> BTreeMap<TrackId, Bars> {
    let mut tracks: BTreeMap<TrackId, Bars> = BTreeMap::new();
    let rounds = Route::rounds_to_hear(song, letter).clamp(1, MOST_ROUNDS);
    let Some(route) = Route::rounds(song, letter, rounds) else { return tracks };
    let performance = perform(song, &route, route.span(), View::Corrected);
    let walk = Walk::along(song, &route);
    let counts = walk.counts();
    let others = pairs(&performance.events);
    for (index, event) in performance.events.iter().enumerate() {
        let track = song.track(event.track);
        let Some(words) = event_words(&performance, &others, index, track) else { continue };
        let (bar, place) = match counts.at(event.at) {
            Some(position) => (i64::from(position.bar), position.place.to_string()),
            None => (0, event.at.0.to_string()),
        };
        let bars = tracks.entry(event.track).or_default();
        bars.entry(bar).or_default().push(format!("{place} {words}"));
    }
    tracks
}

/// The most rounds of a section that are compared.
const MOST_ROUNDS: u32 = 64;

/// Numbers of bars in words: `bar 2`, `bars 2-4, 7`.
fn runs(bars: &[i64]) -> String {
    let mut runs: Vec<(i64, i64)> = Vec::new();
    for &bar in bars {
        match runs.last_mut().filter(|run| run.1 + 1 == bar) {
            Some(run) => run.1 = bar,
            None => runs.push((bar, bar)),
        }
    }
    let words = runs.iter().map(|&(from, to)| match from == to {
        true => from.to_string(),
        false => format!("{from}-{to}"),
    });
    let words = words.collect::<Vec<_>>().join(", ");
    // The pick-up before the first bar is bar 0.
    if bars.len() == 1 { format!("bar {words}") } else { format!("bars {words}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{lay, two_sections};
    use chaconne_time::Tempo;

    #[test]
    fn a_song_does_not_differ_from_itself() {
        let song = two_sections();
        assert_eq!(differences(&song, &song), Vec::<String>::new());
    }

    #[test]
    fn each_difference_is_told_with_its_place() {
        let file = two_sections();
        let mut here = file.clone();
        here.title = "Ebb".into();
        here.form = "A".parse().unwrap();
        let first = here.tracks[0].id;
        let name = here.tracks[0].name.clone();
        lay(&mut here, "A", first.0, 2 * 3840, &[(3840 + 7, 60, 30, 99)]);
        Arc::make_mut(&mut here.sections[1]).tempo =
            chaconne_time::TempoMap::new(Tempo::parse_bpm("61").unwrap());
        let extra = Track::pitched(here.ids().track(), "Horn");
        here.tracks.push(Arc::new(extra));
        let found = differences(&here, &file);
        assert_eq!(found[0], format!("the title is 'Ebb' here and '{}' in the file", file.title));
        assert_eq!(found[1], format!("the form is A here and {} in the file", file.form));
        assert_eq!(found[2], "track 'Horn' is only here");
        assert_eq!(found[3], format!("section A, {name}: bar 2 differs"));
        assert_eq!(found[4], "section B has another tempo");
        assert_eq!(found.len(), 5, "{found:?}");
        let back = differences(&file, &here);
        assert_eq!(back[2], "track 'Horn' is only in the file");
    }

    #[test]
    fn a_section_of_one_song_only_is_named_and_nothing_more() {
        let file = two_sections();
        let mut here = file.clone();
        here.sections.remove(1);
        here.form = file.form.clone();
        let found = differences(&here, &file);
        assert_eq!(found, ["section B is only in the file"]);
        assert_eq!(differences(&file, &here), ["section B is only here"]);
    }

    #[test]
    fn bars_are_told_in_runs() {
        assert_eq!(runs(&[2]), "bar 2");
        assert_eq!(runs(&[2, 3, 4, 7]), "bars 2-4, 7");
    }
}
