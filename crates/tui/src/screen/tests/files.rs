//! The choice of a song to open.

use super::*;
use crate::desk::{EntryKind, FileEntry, Folder};

fn entry(kind: EntryKind, path: &str) -> FileEntry {
    let name = path.rsplit('/').next().unwrap_or_default().to_string();
    FileEntry { kind, name, path: path.to_string(), age: None }
}

impl Player {
    /// The disk answers a request for a folder.
    fn answered(&mut self, number: u64, folder: Result<Folder, String>) {
        self.bench.answer_folder(number, folder);
        self.follow();
    }

    /// The names in the box; `None` if it is closed.
    fn names(&mut self) -> Option<Vec<String>> {
        let pick = self.screen.overlays.files_mut()?;
        Some(pick.found().iter().map(|entry| entry.name.clone()).collect())
    }
}

/// A request for a folder.
fn asks(number: u64, path: Option<&str>) -> String {
    format!("Browse {{ number: {number}, path: {path:?} }}")
}

/// A folder with these songs.
fn songs(path: &str, names: &[&str]) -> Folder {
    let entries = names.iter().map(|name| entry(EntryKind::Song, &format!("{path}/{name}")));
    Folder { path: path.into(), entries: entries.collect() }
}

/// A player in front of a folder.
fn player() -> Player {
    let mut player = Player::new(four_parts());
    player.press([Key::ctrl('o')]);
    assert_eq!(player.last(), asks(1, None));
    let entries = vec![
        entry(EntryKind::Song, "/songs/low-tide.ron"),
        entry(EntryKind::Song, "/songs/ebb tide.ron"),
        entry(EntryKind::Recent, "/home/rain.ron"),
        FileEntry { name: "..".into(), ..entry(EntryKind::Parent, "/") },
        entry(EntryKind::Folder, "/songs/old"),
    ];
    player.answered(1, Ok(Folder { path: "/songs".into(), entries }));
    player
}

#[test]
fn typing_finds_a_song_and_enter_opens_it() {
    let mut player = player();
    player.type_text("TIDE eb");
    player.enter();
    assert_eq!(player.last(), reads(1, "Open(\"/songs/ebb tide.ron\")"));
    assert!(player.screen.overlays.top().is_none());
}

#[test]
fn a_folder_is_shown_in_place_of_the_one_shown() {
    let mut player = player();
    player.press([Key::new(Code::End)]);
    player.press_ten_times(Key::new(Code::Down));
    player.enter();
    assert_eq!(player.last(), asks(2, Some("/songs/old")));
    player.answered(2, Ok(songs("/songs/old", &[])));
    player.enter();
    assert_eq!(player.screen.notice.text, "No name matches: change or clear what you typed.");
    player.press([Key::new(Code::Esc)]);
    assert!(player.screen.overlays.top().is_none(), "one box, however many folders");
}

#[test]
fn backspace_deletes_what_is_typed_and_then_leads_up() {
    let mut player = player();
    player.type_text("q");
    let backspace = Key::new(Code::Backspace);
    player.press([backspace]);
    assert_eq!(player.last(), asks(1, None));
    player.press([backspace]);
    assert_eq!(player.last(), asks(2, Some("/")));
    player.press([backspace]);
    assert_eq!(player.last(), asks(2, Some("/")), "it is not known yet where that leads");
}

#[test]
fn a_slow_disk_leaves_the_keys_alone_and_what_is_typed_is_kept() {
    let mut player = Player::new(four_parts());
    player.press([Key::ctrl('o')]);
    player.type_text("tide");
    player.enter();
    assert_eq!(player.last(), asks(1, None), "there is nothing to open yet");
    assert_eq!(player.screen.notice.text, "The folder is still being read.");
    player.answered(1, Ok(songs("/songs", &["rain.ron", "tide.ron"])));
    assert_eq!(player.names(), Some(vec!["tide.ron".to_string()]));
    player.enter();
    assert_eq!(player.last(), reads(1, "Open(\"/songs/tide.ron\")"));
}

#[test]
fn an_answer_that_comes_after_the_box_was_left_is_dropped() {
    let mut player = Player::new(four_parts());
    let leave = Key::new(Code::Esc);
    player.press([Key::ctrl('o'), leave]);
    player.answered(1, Ok(songs("/songs", &["tide.ron"])));
    assert_eq!(player.names(), None, "the box stays closed");
    // The box is opened again before the old answer comes.
    player.press([Key::ctrl('o'), leave, Key::ctrl('o')]);
    assert_eq!(player.last(), asks(3, None));
    player.answered(2, Ok(songs("/songs", &["tide.ron"])));
    assert_eq!(player.names(), Some(Vec::new()), "it still waits for its own answer");
    player.answered(3, Ok(songs("/songs", &["rain.ron"])));
    assert_eq!(player.names(), Some(vec!["rain.ron".to_string()]));
    // A question about something else may be on top when the answer comes.
    player.screen.browse(Some("/songs/old".into()), &mut Vec::new());
    player.bench.disk.rescue = Some("a rescue copy".into());
    player.answered(4, Ok(songs("/songs/old", &["ebb.ron"])));
    assert!(matches!(player.screen.overlays.top(), Some(Overlay::Question(_))));
    assert_eq!(player.names(), Some(vec!["ebb.ron".to_string()]));
}

#[test]
fn a_folder_that_cannot_be_read_leads_back_to_the_one_before() {
    let error = || Err("the folder '/songs/old' cannot be read: not allowed".to_string());
    let mut player = player();
    player.press([Key::new(Code::End)]);
    player.press_ten_times(Key::new(Code::Down));
    player.enter();
    assert_eq!(player.names(), Some(Vec::new()));
    player.answered(2, error());
    assert_eq!(player.names().map(|names| names.len()), Some(5));
    assert!(player.screen.notice.wrong && player.screen.notice.text.contains("not allowed"));
    player.press([Key::new(Code::Esc), Key::ctrl('o')]);
    player.answered(3, error());
    assert_eq!(player.names(), None, "there is nothing to show");
    assert!(player.screen.notice.wrong);
}

#[test]
fn unsaved_changes_are_asked_about_before_another_song_is_opened() {
    let mut player = player();
    player.bench.disk.unsaved = true;
    player.press([Key::new(Code::Down), Key::new(Code::Down)]);
    player.enter();
    assert_eq!(player.last(), asks(1, None), "nothing is opened yet");
    player.press([Key::new(Code::Esc)]);
    assert!(matches!(player.screen.overlays.top(), Some(Overlay::Files(_))), "back to the choice");
    player.enter();
    player.type_text("s");
    assert_eq!(player.last(), SAVE);
    player.saved(None);
    assert_eq!(player.last(), reads(1, "Open(\"/home/rain.ron\")"));
}

#[test]
fn a_song_that_was_opened_is_named_and_one_that_cannot_be_read_says_why() {
    let mut player = player();
    player.enter();
    assert_eq!(player.last(), reads(1, "Open(\"/songs/low-tide.ron\")"));
    assert_eq!(player.screen.notice.text, "Opening /songs/low-tide.ron.");
    player.bench.disk.path = Some("/songs/low-tide.ron".into());
    player.bench.answer_song(1, Ok(SongRead::Opened));
    player.follow();
    assert_eq!(player.screen.notice.text, "Opened /songs/low-tide.ron.");
    player.press([Key::ctrl('o')]);
    player.answered(2, Ok(songs("/songs", &["ebb.ron"])));
    player.enter();
    assert_eq!(player.screen.notice.text, "Opening /songs/ebb.ron.", "not the answer before");
    player.bench.answer_song(2, Err("/songs/ebb.ron cannot be read: not allowed".into()));
    player.follow();
    assert!(player.screen.notice.wrong && player.screen.notice.text.contains("not allowed"));
}
