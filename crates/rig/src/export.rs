//! Exports to files; the exchange crate produces the bytes.

use crate::replace::{Kind, Replace, WriteError, may_write};
use crate::store;
use crate::track_files;
use chaconne_engine::{CutShort, Route, View};
use chaconne_song::{Letter, Song, Track, TrackId};
use chaconne_time::Tick;
use std::path::{Path, PathBuf};

/// How much of a song to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// The form, unrolled; the first section if there is no form.
    Form,
    /// One section.
    Section(Letter, HowOften),
}

/// How many times to play a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HowOften {
    /// Until its longest pass has played to its end: once, unless a pass is longer than the
    /// section.
    #[default]
    ToHearAll,
    /// This many times, 1 to [`HowOften::MOST`].
    Times(u32),
}

impl HowOften {
    /// The most times a section can be played.
    pub const MOST: u32 = 10_000;

    /// The number for a section of a song.
    pub fn of(self, song: &Song, letter: Letter) -> u32 {
        match self {
            HowOften::ToHearAll => Route::rounds_to_hear(song, letter).min(HowOften::MOST),
            HowOften::Times(times) => times.clamp(1, HowOften::MOST),
        }
    }
}

impl Extent {
    /// The route through a song.
    ///
    /// # Errors
    /// If the song has no such section.
    pub fn route(self, song: &Song) -> Result<Route, String> {
        let first = song.sections.first().map(|section| section.letter);
        let (letter, rounds) = match (self, first) {
            (Extent::Section(letter, rounds), _) => (letter, rounds),
            (Extent::Form, Some(first)) if song.form.is_empty() => (first, HowOften::ToHearAll),
            (Extent::Form, _) => {
                return Route::form(song).ok_or_else(|| "the song has no section".into());
            }
        };
        let route = Route::rounds(song, letter, rounds.of(song, letter));
        route.ok_or_else(|| missing(song, letter))
    }
}

/// Remarks, one sentence each, about what plays more or less often than one might expect: a section
/// that repeats because of a long pass, and passes that are cut short.
pub fn remarks(song: &Song, extent: Extent, route: &Route) -> Vec<String> {
    let mut remarks = Vec::new();
    let asked = matches!(extent, Extent::Section(_, HowOften::Times(_)));
    let formless = extent == Extent::Form && song.form.is_empty();
    if let ([stay], false) = (&route.entries[..], asked)
        && (formless || extent != Extent::Form)
    {
        let letter = stay.section;
        let rounds = HowOften::ToHearAll.of(song, letter);
        if rounds > 1 {
            let times = if rounds == 2 { "twice".into() } else { format!("{rounds} times") };
            remarks.push(format!(
                "section {letter} is played {times}, because its longest pass takes {rounds} rounds; \
                 add --section {letter} --rounds 1 to play it once"
            ));
        }
    }
    remarks.extend(route.cut_short(song).iter().map(|cut| cut_sentence(song, cut, asked)));
    remarks
}

fn cut_sentence(song: &Song, cut: &CutShort, asked: bool) -> String {
    let CutShort { section: letter, pass, track, played, length } = *cut;
    let name = song.track(track).map_or("", |track| &track.name);
    let section = song.section(letter);
    let place = section
        .and_then(|section| section.layers.iter().position(|layer| layer.pass == pass))
        .map_or(0, |index| index + 1);
    let round = section.map_or(Tick(1), |section| section.length()).0.max(1);
    // To a hundredth, without zeros at the end.
    let rounds = (length.0 as f64 / round as f64 * 100.0).round() / 100.0;
    let most = played.0 / round;
    let hint = if asked {
        "leave out --rounds to play all of it".into()
    } else {
        format!("use --section {letter} to play all of it")
    };
    let played = if most == 1 { "first is".into() } else { format!("first {most} are") };
    format!(
        "the pass on '{name}' in layer {place} of section {letter} takes {rounds} rounds, but only the \
         {played} played; {hint}"
    )
}

/// The error for a section that does not exist; it lists those that do.
pub(crate) fn missing(song: &Song, letter: Letter) -> String {
    let letters: Vec<&str> = song.sections.iter().map(|section| section.letter.as_str()).collect();
    format!("there is no section {letter}; sections: {}", letters.join(", "))
}

/// Writes a Standard MIDI File of the song as heard. Returns its size in bytes.
///
/// # Errors
/// If a file is in the way, or writing fails; an existing file stays as it was.
pub fn export_midi(
    song: &Song,
    path: &Path,
    extent: Extent,
    replace: Replace,
) -> Result<usize, WriteError> {
    let route = extent.route(song)?;
    may_write(path, Kind::Midi, replace)?;
    let bytes = chaconne_exchange::export(song, &route, View::Corrected)
        .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
    store::write_whole(path, &bytes)?;
    Ok(bytes.len())
}

/// Exports each track as a Standard MIDI File of its own in a folder, which is created if needed. The
/// names begin with `whole` and the track's number in the song. Returns the files.
///
/// # Errors
/// If the song has no such section, the rule for replacing files refuses one of the names, or
/// writing fails. A refusal comes before anything is written.
pub fn export_midi_tracks(
    song: &Song,
    folder: &Path,
    whole: &str,
    extent: Extent,
    replace: Replace,
) -> Result<Vec<PathBuf>, WriteError> {
    let route = extent.route(song)?;
    track_files::create(folder)?;
    let files = midi_track_files(song, folder, whole);
    files.iter().try_for_each(|(_, path)| may_write(path, Kind::Midi, replace))?;
    for (track, path) in &files {
        let bytes = chaconne_exchange::export_track(song, *track, &route, View::Corrected)
            .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
        store::write_whole(path, &bytes)?;
    }
    Ok(files.into_iter().map(|(_, path)| path).collect())
}

/// The tracks of a song, and the file of each in a folder.
pub(crate) fn midi_track_files(song: &Song, folder: &Path, whole: &str) -> Vec<(TrackId, PathBuf)> {
    let name = |number, track: &Track| track_files::name(whole, number, &track.name, "mid");
    let tracks = (1..).zip(&song.tracks);
    tracks.map(|(number, track)| (track.id, folder.join(name(number, track)))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Refusal;
    use crate::testing::song;
    use chaconne_song::{Pass, PassId};
    use std::sync::Arc;

    /// One bar with a pass of three bars, and a form if any.
    fn long_pass(form: &str) -> Song {
        let mut song = song("long", 1);
        song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Line")));
        song.lay(Letter::A, Pass::empty(PassId(2), TrackId(1), Tick(3 * 3840)));
        song.form = form.parse().unwrap();
        song
    }

    #[test]
    fn a_section_repeats_until_its_longest_pass_has_played() {
        let rounds = |song: &Song, extent: Extent| {
            let route = extent.route(song).unwrap();
            (route.span().to.0 / 3840, remarks(song, extent, &route))
        };
        let song = long_pass("");
        let whole = Extent::Section(Letter::A, HowOften::ToHearAll);
        for extent in [whole, Extent::Form] {
            let (count, remarks) = rounds(&song, extent);
            assert_eq!((count, remarks.len()), (3, 1));
            assert!(remarks[0].starts_with("section A is played 3 times"), "{remarks:?}");
        }
        let (count, remarks) = rounds(&song, Extent::Section(Letter::A, HowOften::Times(1)));
        assert_eq!(count, 1);
        assert_eq!(
            remarks,
            ["the pass on 'Line' in layer 1 of section A takes 3 rounds, but only the first is \
              played; leave out --rounds to play all of it"]
        );
        let (count, remarks) = rounds(&long_pass("A A"), Extent::Form);
        assert_eq!(count, 2);
        assert!(remarks[0].ends_with("use --section A to play all of it"), "{remarks:?}");
        assert_eq!(rounds(&long_pass("A x3"), Extent::Form), (3, Vec::new()));
    }

    #[test]
    fn an_export_reads_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        let song = song("four bars", 4);
        let export = |extent, replace| export_midi(&song, &path, extent, replace);
        let count = export(Extent::Form, Replace::No).unwrap();
        let bytes = std::fs::read(&path).unwrap();
        assert_eq!(bytes.len(), count);
        let back = chaconne_exchange::import(&bytes, "x").unwrap().song;
        assert_eq!(back.sections[0].metre.bars(), 4);
        let error =
            export(Extent::Section("C".parse().unwrap(), HowOften::ToHearAll), Replace::Yes)
                .unwrap_err();
        assert_eq!(error.to_string(), "there is no section C; sections: A");
        let exists = WriteError::Refused(Refusal::Exists(path.clone()));
        assert_eq!(export(Extent::Form, Replace::No), Err(exists));
        assert_eq!(export(Extent::Form, Replace::Yes), Ok(count));
    }

    #[test]
    fn tracks_are_files_of_their_own_and_none_is_replaced_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let tracks = folder.path().join("tracks");
        let mut song = long_pass("");
        song.tracks.push(Arc::new(Track::pitched(TrackId(9), "Bass")));
        let export = |replace| export_midi_tracks(&song, &tracks, "tide", Extent::Form, replace);
        let files = export(Replace::No).unwrap();
        let names = ["tide-01-Line.mid", "tide-02-Bass.mid"].map(|name| tracks.join(name));
        assert_eq!(files, names);
        std::fs::remove_file(&names[0]).unwrap();
        let exists = WriteError::Refused(Refusal::Exists(names[1].clone()));
        assert_eq!(export(Replace::No), Err(exists));
        assert!(!names[0].exists(), "nothing is written if one is in the way");
        assert_eq!(export(Replace::Yes).unwrap(), names);
    }
}
