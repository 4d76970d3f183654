//! The commands that only read and write files: `new`, `list`, `export`, `import`.

use crate::args::{Export, Import, List, New, Overwrite};
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{
    Extent, Guard, HowOften, Kind, LoadError, WriteError, export_midi, export_midi_tracks, load,
    may_write, read_limited, remarks, rescue_copy, save_guarded,
};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, MetreMap, Tempo};
use std::path::Path;

/// How far into a file to look for [`SONG`], in bytes.
const HEAD: usize = 4096;
/// The name of the first field of every song file.
const SONG: &[u8] = b"chaconne:";
/// The extension of a song file.
const EXTENSION: &str = ".ron";
/// The most files of a folder that are compared with a mistyped name.
const MOST_COMPARED: usize = 10_000;
/// The most similar names that are offered.
const MOST_OFFERED: usize = 3;

/// Creates an empty song.
pub fn new(new: &New) -> Result<Ended, Failure> {
    let title = new.title.clone().unwrap_or_else(|| title_of(&new.song));
    // A pickup comes before the bars that were asked for, and the last one is shorter by it.
    let bars = new.bars + u32::from(new.metre.trim_start().starts_with("pickup"));
    let map = MetreMap::of_written(bars, &new.metre, Metre::counted)
        .map_err(|error| error.to_string())?;
    let metre = map.first();
    // The number counts what the metre counts, such as dotted quarters.
    let tempo = Tempo::of_milli_beats(new.tempo.milli_bpm().into(), metre.tempo_unit())
        .map_err(|error| error.to_string())?;
    let song = Song::new(&title, Section::new(Letter::A, map, tempo));
    create(&new.song, &song, new.overwrite)?;
    Ok(Ended::Ok)
}

/// Writes the file of a new song and says so.
fn create(path: &Path, song: &Song, overwrite: Overwrite) -> Result<(), WriteError> {
    save_guarded(path, song, &mut Guard::default(), overwrite.into())?;
    say::message(&format!("{} created", path.display()));
    Ok(())
}

/// Reads a song, and mentions its rescue copy if there is one.
pub fn read_song(path: &Path) -> Result<Song, LoadError> {
    let song = load(path)?;
    if let Some(copy) = rescue_copy(Some(path)) {
        say::message(&format!(
            "{} holds unsaved changes to {}; 'chaconne sketch' offers to restore them",
            copy.path.display(),
            path.display()
        ));
    }
    Ok(song)
}

/// Lists everything a song plays.
pub fn list(list: &List) -> Result<Ended, Failure> {
    let song = read_song(&list.song)?;
    let extent = extent(list.section, list.rounds);
    let route = extent.route(&song)?;
    let text = chaconne_exchange::listing(&song, &route, list.view.into())
        .map_err(|error| error.to_string())?;
    say::answer(&text)?;
    remark(&song, extent)?;
    Ok(Ended::Ok)
}

/// How much of a song to list or export.
pub fn extent(section: Option<Letter>, rounds: Option<u32>) -> Extent {
    let often = rounds.map_or(HowOften::ToHearAll, HowOften::Times);
    section.map_or(Extent::Form, |letter| Extent::Section(letter, often))
}

/// Prints remarks about anything that plays more or less often than one might expect.
pub fn remark(song: &Song, extent: Extent) -> Result<(), String> {
    let route = extent.route(song)?;
    remarks(song, extent, &route).iter().for_each(|remark| say::message(remark));
    Ok(())
}

/// Exports a Standard MIDI File.
pub fn export(export: &Export) -> Result<Ended, Failure> {
    let song = read_song(&export.song)?;
    let extent = extent(export.section, export.rounds);
    let replace = export.overwrite.into();
    if let Some(midi) = &export.midi {
        // If a file is in the way, nothing is written.
        may_write(midi, Kind::Midi, replace).map_err(WriteError::from)?;
    }
    if let Some(folder) = &export.tracks {
        let whole = title_of(export.midi.as_ref().unwrap_or(&export.song));
        let files = export_midi_tracks(&song, folder, &whole, extent, replace)?;
        files.iter().for_each(|path| say::message(&format!("{} written", path.display())));
    }
    if let Some(midi) = &export.midi {
        let bytes = export_midi(&song, midi, extent, replace)?;
        say::message(&format!("{} written, {bytes} bytes", midi.display()));
    }
    remark(&song, extent)?;
    Ok(Ended::Ok)
}

/// Makes a song from a Standard MIDI File.
pub fn import(import: &Import) -> Result<Ended, Failure> {
    let bytes = read_midi(&import.midi)?;
    may_write(&import.song, Kind::Song, import.overwrite.into()).map_err(WriteError::from)?;
    let named = |why: String| format!("{}: {why}", import.midi.display());
    let imported = chaconne_exchange::import(&bytes, &title_of(&import.midi))
        .map_err(|error| named(error.to_string()))?;
    imported.remarks.iter().for_each(|remark| say::message(&named(remark.clone())));
    create(&import.song, &imported.song, import.overwrite)?;
    Ok(Ended::Ok)
}

/// The bytes of a file that should be a Standard MIDI File; a song is recognised and refused.
pub fn read_midi(path: &Path) -> Result<Vec<u8>, String> {
    let bytes = read_limited(path)?;
    // Only comments can come before the first field of a song.
    let head = bytes.get(..HEAD).unwrap_or(&bytes);
    if !head.contains(&0) && head.windows(SONG.len()).any(|word| word == SONG) {
        let hint = "open it with 'chaconne sketch', or export it with 'chaconne export'";
        return Err(format!("{} is a song, not a Standard MIDI File: {hint}", path.display()));
    }
    Ok(bytes)
}

/// What the screen says first about a song whose file does not exist yet: the name may be mistyped,
/// so it offers similar names from the same folder.
pub fn about_new_song(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let similar = similar_names(path);
    let question = match similar.as_slice() {
        [] => String::new(),
        names => format!("; did you mean {}?", names.join(" or ")),
    };
    match question.as_str() {
        "" => format!("No file {name}: this is a new song."),
        names => format!("No file {name}: this is a new song{names}"),
    }
}

/// The songs in the same folder with similar names, the most similar first.
fn similar_names(path: &Path) -> Vec<String> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let Ok(entries) = std::fs::read_dir(folder.unwrap_or(Path::new("."))) else {
        return Vec::new();
    };
    let typed = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    let stem = typed.strip_suffix(EXTENSION).unwrap_or(&typed);
    let mut found: Vec<(usize, String)> = entries
        .take(MOST_COMPARED)
        .filter_map(|entry| {
            let name = entry.ok()?.file_name().into_string().ok()?;
            let theirs = name.to_lowercase();
            let distance = strsim::osa_distance(stem, theirs.strip_suffix(EXTENSION)?);
            let is_similar = distance <= 1 + stem.chars().count() / 5;
            (is_similar && !theirs.contains(".rescue")).then_some((distance, name))
        })
        .collect();
    found.sort();
    found.truncate(MOST_OFFERED);
    found.into_iter().map(|(_, name)| name).collect()
}

/// A song with one section A and nothing else.
pub fn empty_song(title: &str, bars: u32, metre: Metre, tempo: Tempo) -> Result<Song, String> {
    let metre = MetreMap::new(bars, metre).map_err(|error| error.to_string())?;
    Ok(Song::new(title, Section::new(Letter::A, metre, tempo)))
}

/// The title of a song without one: the name of its file.
pub fn title_of(path: &Path) -> String {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    stem.unwrap_or_else(|| "untitled".to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    const NO: Overwrite = Overwrite { replace: false };
    const YES: Overwrite = Overwrite { replace: true };

    fn new_at(song: &Path, overwrite: Overwrite) -> Result<Ended, Failure> {
        let (bars, tempo, metre) = (4, Tempo::DEFAULT, "4/4".to_string());
        new(&New { song: song.into(), bars, tempo, metre, title: None, overwrite })
    }

    fn refused(path: &Path) -> Result<Ended, Failure> {
        let sentence = format!("{} already exists; --replace overwrites it", path.display());
        Err(sentence.into())
    }

    #[test]
    fn a_new_song_is_named_after_its_file_and_replaces_no_file_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("slow waltz.ron");
        new_at(&path, NO).unwrap();
        assert_eq!(load(&path).unwrap().title, "slow waltz");
        assert_eq!(new_at(&path, NO), refused(&path));
        assert_eq!(new_at(&path, YES), Ok(Ended::Ok));
    }

    #[test]
    fn exports_and_imports_replace_only_files_of_their_own_kind_and_only_if_asked() {
        let folder = tempfile::tempdir().unwrap();
        let (song, midi) = (folder.path().join("a.ron"), folder.path().join("a.mid"));
        new_at(&song, NO).unwrap();
        let export = |to: &Path, overwrite| {
            export(&Export {
                song: song.clone(),
                midi: Some(to.into()),
                tracks: None,
                section: None,
                rounds: None,
                overwrite,
            })
        };
        assert_eq!(export(&midi, NO), Ok(Ended::Ok));
        assert_eq!(export(&midi, NO), refused(&midi));
        assert_eq!(export(&midi, YES), Ok(Ended::Ok));
        let failure = export(&song, YES).unwrap_err();
        let end = "already exists and is not a Standard MIDI File, so it is not replaced";
        assert!(failure.0[0].ends_with(end), "{failure:?}");

        let back = folder.path().join("back.ron");
        let import = |to: &Path, overwrite| {
            import(&Import { midi: midi.clone(), song: to.into(), overwrite })
        };
        assert_eq!(import(&back, NO), Ok(Ended::Ok));
        assert_eq!(load(&back).unwrap().sections[0].metre.bars(), 4);
        assert_eq!(import(&back, NO), refused(&back));
        let failure = import(&midi, YES).unwrap_err();
        assert!(failure.0[0].ends_with("is not a song, so it is not replaced"), "{failure:?}");
    }

    #[test]
    fn a_song_is_refused_as_a_midi_file_and_a_midi_file_as_a_song() {
        let folder = tempfile::tempdir().unwrap();
        let (song, midi) = (folder.path().join("a.ron"), folder.path().join("a.mid"));
        new_at(&song, NO).unwrap();
        let to_midi = Export {
            song: song.clone(),
            midi: Some(midi.clone()),
            tracks: None,
            section: None,
            rounds: None,
            overwrite: NO,
        };
        export(&to_midi).unwrap();
        let failure = Failure::from(read_song(&midi).unwrap_err());
        let end = "a.mid is a Standard MIDI File, not a song: make a song from it with \
                   'chaconne import FILE.mid SONG.ron'";
        assert!(failure.0[0].ends_with(end), "{failure:?}");
        // The two names in the wrong order.
        let failure = import(&Import { midi: song, song: midi, overwrite: NO }).unwrap_err();
        let part = "a.ron is a song, not a Standard MIDI File: open it with 'chaconne sketch'";
        assert!(failure.0[0].contains(part), "{failure:?}");
    }

    #[test]
    fn a_mistyped_name_is_reported_as_a_new_song_and_similar_names_are_offered() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["waltz.ron", "Waltz.ron", "waltz.rescue.ron", "waltz.mid", "blues in a.ron"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        let about = |name: &str| about_new_song(&folder.path().join(name));
        let both = |name: &str| {
            format!("No file {name}: this is a new song; did you mean Waltz.ron or waltz.ron?")
        };
        // A letter too many, one too few, a wrong one, and no extension.
        for name in ["walltz.ron", "watz.ron", "valtz.ron", "waltz"] {
            assert_eq!(about(name), both(name));
        }
        let longer = "No file bluse in a.ron: this is a new song; did you mean blues in a.ron?";
        assert_eq!(about("bluse in a.ron"), longer);
        assert_eq!(about("march.ron"), "No file march.ron: this is a new song.");
    }

    #[test]
    fn a_pickup_comes_before_the_bars_of_a_new_song() {
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("pickup.ron");
        let (tempo, metre) = (Tempo::DEFAULT, "pickup 1/4, 4/4".to_string());
        let asked = New { song: song.clone(), bars: 4, tempo, metre, title: None, overwrite: NO };
        new(&asked).unwrap();
        let made = load(&song).unwrap().sections[0].metre.clone();
        assert_eq!((made.length().0, made.written().as_str()), (16 * 960, "pickup 1/4, 4/4"));
        let wrong = New { metre: "pickup 4/4, 4/4".into(), overwrite: YES, ..asked };
        assert!(new(&wrong).is_err());
    }
}
