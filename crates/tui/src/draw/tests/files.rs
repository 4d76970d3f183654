//! The choice of a song as pictures.

use super::*;
use crate::desk::{EntryKind, FileEntry, Folder};

fn stage() -> Stage {
    let mut stage = Stage::new(four_parts());
    let entry = |kind, path: &str, minutes: Option<u64>| FileEntry {
        kind,
        name: path.rsplit('/').next().unwrap_or_default().to_string(),
        path: path.to_string(),
        age: minutes.map(|minutes| Duration::from_secs(60 * minutes)),
    };
    let deep =
        "/home/ada/sketches/from the rehearsal room/with the band in spring/second light.ron";
    let up = FileEntry { name: "..".into(), ..entry(EntryKind::Parent, "/home/ada", None) };
    let entries = vec![
        entry(EntryKind::Song, "/home/ada/sketches/low-tide.ron", Some(12)),
        entry(EntryKind::Song, "/home/ada/sketches/first light.ron", Some(60 * 30)),
        entry(EntryKind::Recent, "/home/ada/stage/rain.ron", None),
        entry(EntryKind::Recent, deep, None),
        up,
        entry(EntryKind::Folder, "/home/ada/sketches/old", None),
    ];
    stage.press([Key::ctrl('o')]);
    stage.bench.answer_folder(1, Ok(Folder { path: "/home/ada/sketches".into(), entries }));
    stage.wait(10);
    stage
}

#[test]
fn songs_to_open_are_drawn() {
    let mut stage = stage();
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("files_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("files_140x44", stage.text(140, 44));
    stage.options.glyphs = Glyphs::Ascii;
    stage.type_text("LIGHT");
    insta::assert_snapshot!("files_found_60x16", stage.text(60, 16));
    stage.type_text("x");
    let text = stage.text(80, 24);
    assert!(text.contains("No name fits") && text.is_ascii(), "{text}");
}

#[test]
fn a_folder_that_is_still_being_read_is_drawn_so() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::ctrl('o')]);
    stage.type_text("light");
    insta::assert_snapshot!("files_reading_80x24", stage.picture(80, 24));
    stage.options.glyphs = Glyphs::Ascii;
    let text = stage.text(60, 16);
    assert!(text.contains("reading...") && text.is_ascii(), "{text}");
}

#[test]
fn the_head_shows_the_folder_if_there_is_room() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.folder = Some("sketches".into());
    assert!(stage.text(80, 24).contains("sketches/low-tide.ron\n"));
    let narrow = stage.text(60, 24);
    assert!(narrow.contains("low-tide.ron\n") && !narrow.contains("sketches"), "{narrow}");
}

#[test]
fn a_file_changed_by_another_program_is_drawn_with_every_way_on() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::ctrl('s')]);
    let disk = &mut stage.bench.disk;
    disk.error = Some("sketches/low-tide.ron was changed by another program".into());
    disk.in_the_way.clone_from(&disk.error);
    (disk.own, disk.attempts) = (crate::OwnSave::Waits, 1);
    stage.wait(10);
    insta::assert_snapshot!("question_changed", stage.text(80, 24));
    let lines: Vec<String> =
        (1..=20).map(|bar| format!("section A, bass: bar {bar} differs")).collect();
    stage.screen.show_comparison(&lines);
    insta::assert_snapshot!("comparison_80x24", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.screen.show_comparison(&[]);
    assert!(stage.text(60, 16).contains("Both play the same"));
}
