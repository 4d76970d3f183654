//! Jobs that read files and write files, and play nothing.

use crate::args::{Export, Import, List, New};
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{Extent, export_midi, load, read_limited, save};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, MetreMap, Tempo};
use std::path::Path;

/// Makes an empty song.
pub fn new(new: &New) -> Result<Ended, Failure> {
    refuse_to_replace(&new.song, new.force)?;
    let title = new.title.clone().unwrap_or_else(|| title_of(&new.song));
    let song = empty_song(&title, new.bars, new.metre.clone(), new.tempo)?;
    save(&new.song, &song)?;
    say::message(&format!("{} is made", new.song.display()));
    Ok(Ended::Ok)
}

/// Lists what a song plays.
pub fn list(list: &List) -> Result<Ended, Failure> {
    let song = load(&list.song)?;
    let extent = list.section.map_or(Extent::Form, Extent::Loop);
    let route = extent.route(&song)?;
    let text = chaconne_exchange::listing(&song, &route, list.view.into())
        .map_err(|error| error.to_string())?;
    say::answer(&text)?;
    Ok(Ended::Ok)
}

/// Writes a Standard MIDI File.
pub fn export(export: &Export) -> Result<Ended, Failure> {
    let song = load(&export.song)?;
    refuse_to_replace_what_is_no_midi(&export.midi)?;
    let extent = export.section.map_or(Extent::Form, Extent::Loop);
    let bytes = export_midi(&song, &export.midi, extent)?;
    say::message(&format!("{} is written, {bytes} bytes", export.midi.display()));
    Ok(Ended::Ok)
}

/// Makes a song of a Standard MIDI File.
pub fn import(import: &Import) -> Result<Ended, Failure> {
    refuse_to_replace(&import.song, import.force)?;
    let bytes = read_limited(&import.midi)?;
    let named = |why: String| format!("{}: {why}", import.midi.display());
    let imported = chaconne_exchange::import(&bytes, &title_of(&import.midi))
        .map_err(|error| named(error.to_string()))?;
    imported.remarks.iter().for_each(|remark| say::message(&named(remark.clone())));
    save(&import.song, &imported.song)?;
    say::message(&format!("{} is made", import.song.display()));
    Ok(Ended::Ok)
}

/// A song of one section A and nothing else.
pub fn empty_song(title: &str, bars: u32, metre: Metre, tempo: Tempo) -> Result<Song, String> {
    let metre = MetreMap::new(bars, metre).map_err(|error| error.to_string())?;
    Ok(Song::new(title, Section::new(Letter::A, metre, tempo)))
}

/// What a song in this file is called where nothing else is said: the file's name.
pub fn title_of(path: &Path) -> String {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    stem.unwrap_or_else(|| "untitled".to_string())
}

fn refuse_to_replace(path: &Path, force: bool) -> Result<(), Failure> {
    if !force && path.symlink_metadata().is_ok() {
        let shown = path.display();
        return Err(format!("{shown} is there already; --force replaces it").into());
    }
    Ok(())
}

/// A slip of the hand must not cost a song: only a Standard MIDI File is replaced by one.
fn refuse_to_replace_what_is_no_midi(path: &Path) -> Result<(), Failure> {
    if !path.is_file() {
        return Ok(());
    }
    let bytes = read_limited(path)?;
    if bytes.is_empty() || bytes.starts_with(b"MThd") {
        return Ok(());
    }
    let shown = path.display();
    Err(format!("{shown} is there and is no Standard MIDI File, so it is not replaced").into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    fn new_at(song: PathBuf, force: bool) -> New {
        let (bars, tempo, metre) = (4, Tempo::DEFAULT, Metre::common());
        New { song, bars, tempo, metre, title: None, force }
    }

    #[test]
    fn a_new_song_is_named_after_its_file_and_replaces_none_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("slow waltz.ron");
        new(&new_at(path.clone(), false)).unwrap();
        assert_eq!(load(&path).unwrap().title, "slow waltz");
        let failure = new(&new_at(path.clone(), false)).unwrap_err();
        assert!(failure.0[0].ends_with("is there already; --force replaces it"));
        assert_eq!(new(&new_at(path, true)), Ok(Ended::Ok));
    }

    #[test]
    fn an_export_replaces_no_song() {
        let folder = tempfile::tempdir().unwrap();
        let (song, midi) = (folder.path().join("a.ron"), folder.path().join("a.mid"));
        new(&new_at(song.clone(), false)).unwrap();
        let to = |midi: &Path| Export { song: song.clone(), midi: midi.into(), section: None };
        assert_eq!(export(&to(&midi)), Ok(Ended::Ok));
        assert_eq!(export(&to(&midi)), Ok(Ended::Ok));
        let failure = export(&to(&song)).unwrap_err();
        assert!(failure.0[0].ends_with("no Standard MIDI File, so it is not replaced"));
        assert!(load(&song).is_ok());

        let back = folder.path().join("back.ron");
        let again = Import { midi, song: back.clone(), force: false };
        assert_eq!(import(&again), Ok(Ended::Ok));
        assert_eq!(load(&back).unwrap().sections[0].metre.bars(), 4);
        assert!(import(&again).is_err());
    }
}
