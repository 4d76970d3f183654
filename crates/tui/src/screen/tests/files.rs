//! The choice of a song to open.

use super::*;
use crate::desk::{EntryKind, FileEntry, Folder};

fn entry(kind: EntryKind, path: &str) -> FileEntry {
    let name = path.rsplit('/').next().unwrap_or_default().to_string();
    FileEntry { kind, name, path: path.to_string(), age: None }
}

/// A player in front of a folder.
fn player() -> Player {
    let mut player = Player::new(four_parts());
    player.press([Key::ctrl('o')]);
    assert_eq!(player.last(), "Browse(None)");
    let entries = vec![
        entry(EntryKind::Song, "/songs/low-tide.ron"),
        entry(EntryKind::Song, "/songs/ebb tide.ron"),
        entry(EntryKind::Recent, "/home/rain.ron"),
        FileEntry { name: "..".into(), ..entry(EntryKind::Parent, "/") },
        entry(EntryKind::Folder, "/songs/old"),
    ];
    player.screen.show_folder(Folder { path: "/songs".into(), entries });
    player
}

#[test]
fn typing_finds_a_song_and_enter_opens_it() {
    let mut player = player();
    player.type_text("TIDE eb");
    player.enter();
    assert_eq!(player.last(), "Open(\"/songs/ebb tide.ron\")");
    assert!(player.screen.overlays.top().is_none());
}

#[test]
fn a_folder_is_shown_in_place_of_the_one_shown() {
    let mut player = player();
    player.press([Key::new(Code::End)]);
    player.press_ten_times(Key::new(Code::Down));
    player.enter();
    assert_eq!(player.last(), "Browse(Some(\"/songs/old\"))");
    player.screen.show_folder(Folder { path: "/songs/old".into(), entries: Vec::new() });
    player.enter();
    assert_eq!(player.screen.notice.text, "No name fits: change or clear what is typed.");
    player.press([Key::new(Code::Esc)]);
    assert!(player.screen.overlays.top().is_none(), "one box, however many folders");
}

#[test]
fn backspace_deletes_what_is_typed_and_then_leads_up() {
    let mut player = player();
    player.type_text("q");
    let backspace = Key::new(Code::Backspace);
    player.press([backspace]);
    assert_eq!(player.last(), "Browse(None)");
    player.press([backspace]);
    assert_eq!(player.last(), "Browse(Some(\"/\"))");
}

#[test]
fn unsaved_changes_are_asked_about_before_another_song_is_opened() {
    let mut player = player();
    player.bench.disk.unsaved = true;
    player.press([Key::new(Code::Down), Key::new(Code::Down)]);
    player.enter();
    assert_eq!(player.last(), "Browse(None)", "nothing is opened yet");
    player.press([Key::new(Code::Esc)]);
    assert!(matches!(player.screen.overlays.top(), Some(Overlay::Files(_))), "back to the choice");
    player.enter();
    player.type_text("s");
    assert_eq!(player.last(), SAVE);
    player.saved(None);
    assert_eq!(player.last(), "Open(\"/home/rain.ron\")");
}

#[test]
fn a_song_that_was_opened_is_named() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = Some("/home/rain.ron".into());
    player.screen.note_opened();
    player.follow();
    assert_eq!(player.screen.notice.text, "Opened /home/rain.ron.");
}
