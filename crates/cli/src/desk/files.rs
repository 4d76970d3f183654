//! Folders and songs that were read, as the screen shows them.

use crate::say;
use chaconne_rig::{self as rig, Answer, FolderReport, SongFile, SongFolder};
use chaconne_tui::{EntryKind, FileEntry, Folder, FolderAnswer, SongAnswer, SongRead, SongRequest};
use std::path::{Path, PathBuf};

/// The most recent songs that are shown.
const MOST_RECENT: usize = 8;

/// A folder that was read: its songs, then recent songs of other folders, then folders.
pub fn answer(report: &Answer<FolderReport>) -> FolderAnswer {
    let folder = match &report.result {
        Ok(read) => Ok(shown(&read.folder, &read.recent)),
        Err(error) => Err(say::plain(error)),
    };
    FolderAnswer { number: report.number, folder }
}

/// A request for a song, as the rig knows it.
pub fn song_request(request: SongRequest) -> rig::SongRequest {
    match request {
        SongRequest::Open(path) => rig::SongRequest::Open(path.into()),
        SongRequest::Restore => rig::SongRequest::Restore,
        SongRequest::Compare => rig::SongRequest::Compare,
    }
}

/// What came of a request for a song.
pub fn song_answer(answer: &Answer<rig::SongRead>) -> SongAnswer {
    let done = match &answer.result {
        Ok(rig::SongRead::Opened) => Ok(SongRead::Opened),
        Ok(rig::SongRead::Restored) => Ok(SongRead::Restored),
        Ok(rig::SongRead::Compared(lines)) => Ok(SongRead::Compared(lines.clone())),
        Err(error) => Err(say::plain(error)),
    };
    SongAnswer { number: answer.number, done }
}

/// The name of the folder that a file is in.
pub fn folder_name(path: &Path) -> Option<String> {
    let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
    let folder = std::path::absolute(parent.unwrap_or(Path::new("."))).ok()?;
    Some(folder.file_name()?.to_string_lossy().into_owned())
}

fn shown(read: &SongFolder, recent: &[PathBuf]) -> Folder {
    let song = |song: &SongFile| entry(EntryKind::Song, &song.path, song.age);
    let songs = read.songs.iter().filter_map(song);
    let elsewhere = recent.iter().filter(|path| path.parent() != Some(&read.path));
    let recent = elsewhere.filter_map(|path| entry(EntryKind::Recent, path, None));
    let folders = read.folders.iter().filter_map(|path| entry(EntryKind::Folder, path, None));
    let parent = read.path.parent().and_then(|parent| {
        let path = parent.to_str()?.to_string();
        Some(FileEntry { kind: EntryKind::Parent, name: "..".to_string(), path, age: None })
    });
    Folder {
        path: read.path.display().to_string(),
        entries: songs.chain(recent.take(MOST_RECENT)).chain(parent).chain(folders).collect(),
    }
}

/// A line; `None` for a name that is no text, which the screen could not give back.
fn entry(kind: EntryKind, path: &Path, age: Option<std::time::Duration>) -> Option<FileEntry> {
    let name = path.file_name()?.to_str()?.to_string();
    Some(FileEntry { kind, name, path: path.to_str()?.to_string(), age })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn songs_come_first_then_recent_ones_of_other_folders_then_folders() {
        let age = Some(Duration::from_secs(60));
        let song = |path: &str| SongFile { path: path.into(), age };
        let read = SongFolder {
            path: "/songs".into(),
            songs: vec![song("/songs/ebb.ron"), song("/songs/tide.ron")],
            folders: vec!["/songs/old".into()],
        };
        let recent = ["/songs/tide.ron".into(), "/home/rain.ron".into()];
        let folder = shown(&read, &recent);
        let lines: Vec<(EntryKind, &str, &str)> = folder
            .entries
            .iter()
            .map(|entry| (entry.kind, entry.name.as_str(), entry.path.as_str()))
            .collect();
        let expected = [
            (EntryKind::Song, "ebb.ron", "/songs/ebb.ron"),
            (EntryKind::Song, "tide.ron", "/songs/tide.ron"),
            (EntryKind::Recent, "rain.ron", "/home/rain.ron"),
            (EntryKind::Parent, "..", "/"),
            (EntryKind::Folder, "old", "/songs/old"),
        ];
        assert_eq!(lines, expected);
        assert_eq!(folder.entries[0].age, age);
    }

    #[test]
    fn the_folder_of_a_song_is_named_even_if_its_path_is_relative() {
        assert_eq!(folder_name(Path::new("/songs/old/ebb.ron")).as_deref(), Some("old"));
        let here = std::env::current_dir().unwrap();
        let here = here.file_name().map(|name| name.to_string_lossy().into_owned());
        assert_eq!(folder_name(Path::new("ebb.ron")), here);
        assert_eq!(folder_name(Path::new("/ebb.ron")), None);
    }
}
