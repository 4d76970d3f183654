//! A save when another program has changed the song's file.

use super::*;
use crate::keymap::Scene;
use crate::{Disk, OwnSave};

/// A player whose save has found the file changed.
fn player() -> Player {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.press([Key::ctrl('s')]);
    refuse(&mut player);
    player
}

/// The save that was asked for is refused.
fn refuse(player: &mut Player) {
    let why = Some("low-tide.ron was changed by another program".to_string());
    let attempts = player.bench.disk.attempts + 1;
    let disk = Disk { attempts, error: why.clone(), in_the_way: why, ..player.bench.disk.clone() };
    player.bench.disk = Disk { own: OwnSave::Waits, ..disk };
    player.follow();
    assert_eq!(player.screen.scene(), Scene::Changed);
}

#[test]
fn nothing_is_written_over_another_programs_save_without_an_answer() {
    let mut player = player();
    assert_eq!(player.last(), SAVE);
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.last(), SAVE, "Escape saves nothing");
    player.press([Key::ctrl('s')]);
    refuse(&mut player);
    player.type_text("r");
    assert_eq!(player.last(), "Save { file: None, replace: true }");
}

#[test]
fn the_file_can_be_loaded_instead() {
    let mut player = player();
    player.type_text("l");
    assert_eq!(player.last(), reads(1, "Open(\"low-tide.ron\")"));
    assert!(player.screen.overlays.top().is_none());
    player.bench.answer_song(1, Ok(SongRead::Opened));
    player.follow();
    let said = "Loaded low-tide.ron: undo starts afresh from here.";
    assert_eq!(player.screen.notice.text, said);
}

#[test]
fn the_song_can_be_saved_under_another_name_instead() {
    let mut player = player();
    player.type_text("w");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"low-tide-2.ron\"), replace: false }");
}

#[test]
fn both_can_be_compared_before_the_answer() {
    let mut player = player();
    player.type_text("c");
    assert_eq!(player.last(), reads(1, "Compare"));
    assert_eq!(player.screen.scene(), Scene::Changed, "until the disk answers");
    let differences = || Ok(SongRead::Compared(vec!["section A, bass: bars 2-3 differ".into()]));
    player.bench.answer_song(1, differences());
    player.follow();
    assert_eq!(player.screen.scene(), Scene::Comparison);
    player.press([Key::new(Code::Down), Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Changed, "back to the question");
    // The question is left before the disk answers.
    player.type_text("c");
    player.press([Key::new(Code::Esc)]);
    player.bench.answer_song(2, differences());
    player.follow();
    assert!(player.screen.overlays.top().is_none());
}

#[test]
fn on_the_way_out_the_same_question_comes_and_loading_the_file_stays() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    assert_eq!(player.last(), SAVE);
    refuse(&mut player);
    player.type_text("l");
    assert_eq!(player.last(), reads(1, "Open(\"low-tide.ron\")"));
    player.saved(None);
    assert!(!player.effects.iter().any(|effect| matches!(effect, Effect::Quit)));
}
