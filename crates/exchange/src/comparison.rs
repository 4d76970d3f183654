//! What two versions of a song play differently: by section, track and bar.
//!
//! In: two songs, such as the one on the screen and the one in its file. Out: one sentence for each
//! difference, in the order of the songs. It compares what a listing shows, what a musician would hear, and
//! names what else they would look for: names, mutes, tempi, keys.

mod settings;

use crate::listing::{Keys, event_words};
use crate::pairs::pairs;
use chaconne_engine::{Route, View, Walk, perform};
use chaconne_song::{Letter, Song, TrackId};
use std::collections::{BTreeMap, BTreeSet};

/// What a track plays in each bar of a section: the events of the bar as a listing writes them.
type Bars = BTreeMap<i64, Vec<String>>;

/// The differences between the song `here` and the one in its file, one sentence each; empty if both
/// play the same.
pub fn differences(here: &Song, file: &Song) -> Vec<String> {
    let mut found = settings::of_song(here, file);
    found.extend(settings::of_tracks(here, file));
    let heard =
        (settings::without_other_mutes(here, file), settings::without_other_mutes(file, here));
    for letter in letters(here, file) {
        match (here.section(letter), file.section(letter)) {
            (Some(ours), Some(theirs)) => {
                found.extend(settings::of_section((here, ours), (file, theirs)));
                found.extend(bars(&heard.0, &heard.1, letter));
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

/// In which bars of a section each track plays something else.
fn bars(here: &Song, file: &Song, letter: Letter) -> Vec<String> {
    let mut found = Vec::new();
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
        // However the two songs would spell it, the same note is no difference.
        let pitched = song.track(event.track).is_none_or(|track| track.pitched);
        let keys = if pitched { Keys::Notes(None) } else { Keys::Numbers };
        let Some(words) = event_words(&performance, &others, index, keys) else { continue };
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
    use chaconne_song::Track;
    use chaconne_time::{Tempo, TempoMap};
    use std::sync::Arc;

    #[test]
    fn a_song_does_not_differ_from_itself() {
        let song = two_sections();
        assert_eq!(differences(&song, &song), Vec::<String>::new());
    }

    #[test]
    fn each_difference_is_named_with_its_place() {
        let file = two_sections();
        let mut here = file.clone();
        here.title = "Ebb".into();
        here.form = "A".parse().unwrap();
        let first = here.tracks[0].id;
        let name = here.tracks[0].name.clone();
        lay(&mut here, "A", first.0, 2 * 3840, &[(3840 + 7, 60, 30, 99)]);
        let section = Arc::make_mut(&mut here.sections[1]);
        section.tempo = TempoMap::new(Tempo::parse_bpm("61.5").unwrap());
        let extra = Track::pitched(here.ids().track(), "Horn");
        here.tracks.push(Arc::new(extra));
        let found = differences(&here, &file);
        assert_eq!(found[0], format!("title: 'Ebb' here, '{}' in the file", file.title));
        assert_eq!(found[1], format!("form: A here, {} in the file", file.form));
        assert_eq!(found[2], "track 'Horn' is only here");
        assert_eq!(found[3], format!("section A, {name}: bar 2 differs"));
        // As the screen shows them: in the eighths that its metre counts, not in quarters.
        assert_eq!(found[4], "section B, tempo: 123 here, 187.4 in the file");
        assert_eq!(found.len(), 5, "{found:?}");
        let back = differences(&file, &here);
        assert_eq!(back[2], "track 'Horn' is only in the file");
    }

    #[test]
    fn names_mutes_and_keys_are_named_and_a_mute_is_no_other_difference() {
        let file = two_sections();
        let mut here = file.clone();
        let track = Arc::make_mut(&mut here.tracks[0]);
        track.mute = true;
        let (id, part) = (track.id, track.name.clone());
        let section = Arc::make_mut(&mut here.sections[0]);
        section.name = "verse".into();
        section.key = Some("G major".parse().unwrap());
        let at = section.layers.iter().position(|layer| file.passes[&layer.pass].track == id);
        let layer = &mut section.layers[at.unwrap()];
        layer.mute = true;
        let pass = layer.pass;
        Arc::make_mut(here.passes.get_mut(&pass).unwrap()).name = "hats".into();
        let named = [
            format!("track '{part}' is muted here, but not in the file"),
            "section A is called 'verse' here, nothing in the file".to_string(),
            "section A, key: G major here, the song's in the file".to_string(),
            format!("section A, {part}: layer 1 is called 'hats' here, nothing in the file"),
            format!("section A, {part}: layer 1 is muted here, but not in the file"),
        ];
        assert_eq!(differences(&here, &file), named);
        let back = differences(&file, &here);
        assert_eq!(back[0], format!("track '{part}' is muted in the file, but not here"));
        assert_eq!(back.len(), named.len());
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
    fn bars_are_named_in_runs() {
        assert_eq!(runs(&[2]), "bar 2");
        assert_eq!(runs(&[2, 3, 4, 7]), "bars 2-4, 7");
    }
}
