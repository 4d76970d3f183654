//! Saving, leaving, and the questions before anything is lost.

use super::*;
use std::sync::Arc;

#[test]
fn quitting_asks_nothing_if_all_is_stopped_and_saved() {
    let mut player = Player::new(four_parts());
    player.type_text("q");
    assert_eq!(player.last(), "Quit");
}

#[test]
fn quitting_while_the_song_plays_asks_first() {
    let mut player = Player::new(four_parts());
    player.type_text(" q");
    assert_eq!(player.screen.scene(), Scene::Leave);
    player.press([Key::new(Code::Esc)]);
    assert_eq!(
        (player.screen.scene(), player.last()),
        (Scene::Loop, "Command(Next(Playing))".into())
    );
    player.type_text("qq");
    assert_eq!(player.last(), "Quit");
}

#[test]
fn an_untouched_song_for_a_file_that_does_not_exist_is_left_without_a_question() {
    let empty = || {
        let mut song = four_parts();
        song.tracks.clear();
        song.passes.clear();
        song.sections.truncate(1);
        Arc::make_mut(&mut song.sections[0]).layers.clear();
        let mut player = Player::new(song);
        player.bench.disk = crate::desk::Disk { unsaved: true, ..Default::default() };
        player
    };
    let mut player = empty();
    player.type_text("q");
    assert_eq!(player.last(), "Quit");
    let mut player = empty();
    player.type_text("+");
    player.bench.disk.unsaved = true;
    player.type_text("q");
    assert_eq!(player.screen.scene(), Scene::Leave, "a tempo was set");
}

#[test]
fn saving_first_stops_saves_and_then_quits() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text(" qs");
    assert_eq!(player.last(), SAVE);
    assert!(format!("{:?}", player.effects).contains("Command(Stop)"));
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn a_failed_save_keeps_the_song_and_says_why() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.saved(Some("the disk is full"));
    assert_eq!(player.last(), SAVE);
    assert_eq!(player.screen.notice, Notice::said("The disk is full.", true));
    // A later save that succeeds does not quit any more.
    player.press([Key::ctrl('s')]);
    player.saved(None);
    assert_eq!(player.last(), SAVE);
}

#[test]
fn saving_a_song_without_a_file_asks_for_a_name() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.enter();
    assert_eq!(player.last(), SAVE_AS);
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn cancelling_the_file_name_cancels_leaving() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.press([Key::new(Code::Esc), Key::ctrl('s')]);
    player.enter();
    player.saved(None);
    assert_eq!(player.last(), SAVE_AS);
}

#[test]
fn a_new_song_asks_before_it_takes_the_place_of_an_unsaved_one() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("n");
    assert_eq!(player.screen.scene(), Scene::Leave);
    player.type_text("l");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.type_text("Ebb");
    player.enter();
    let Some(Effect::NewSong(spec)) = player.effects.last() else { panic!() };
    assert_eq!((spec.title.as_str(), spec.bars), ("Ebb", 4));
}

#[test]
fn saving_asks_before_it_replaces_what_another_program_wrote() {
    const REPLACE: &str = "Save { file: None, replace: true }";
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    let in_the_way = |player: &mut Player| {
        player.bench.disk.in_the_way = Some("low-tide.ron was changed by another program".into());
        player.saved(Some("not saved"));
        assert_eq!(player.screen.scene(), Scene::Replace);
        player.bench.disk.in_the_way = None;
    };
    // A plain save, and Escape.
    player.press([Key::ctrl('s')]);
    in_the_way(&mut player);
    assert_eq!(player.screen.notice.text, "", "it is not decided yet");
    player.press([Key::new(Code::Esc)]);
    assert_eq!((player.screen.scene(), player.last().as_str()), (Scene::Loop, SAVE));
    assert_eq!(player.screen.notice.text, "Not saved.");
    // Saving before leaving asks the same question every time, and leaves only once the song is
    // saved.
    player.type_text("qs");
    in_the_way(&mut player);
    assert_eq!(player.last(), SAVE);
    player.press([Key::new(Code::Esc)]);
    player.saved(None);
    assert_eq!(player.last(), SAVE, "Escape stays");
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    in_the_way(&mut player);
    player.type_text("r");
    assert_eq!(player.last(), REPLACE);
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn a_rescue_copy_is_offered_once() {
    let mut player = Player::new(four_parts());
    player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    player.follow();
    assert_eq!(player.screen.scene(), Scene::Rescue);
    player.press([Key::new(Code::Esc)]);
    player.follow();
    assert_eq!((player.screen.scene(), player.effects.len()), (Scene::Loop, 0));
    for (key, effect) in [("r", &*reads(1, "Restore")), ("x", "RemoveRescue")] {
        let mut player = Player::new(four_parts());
        player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
        player.follow();
        player.type_text(key);
        assert_eq!((player.screen.scene(), player.last().as_str()), (Scene::Loop, effect));
    }
}

#[test]
fn a_save_asks_about_a_rescue_copy_that_was_put_off() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = Some("low-tide.ron".into());
    player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    player.follow();
    player.press([Key::new(Code::Esc), Key::ctrl('s')]);
    assert_eq!((player.screen.scene(), player.effects.len()), (Scene::Rescue, 0));
    player.type_text("x");
    player.bench.disk.rescue = None;
    player.follow();
    player.press([Key::ctrl('s')]);
    assert!(player.last().starts_with("Save"), "{}", player.last());
}

#[test]
fn a_restored_song_is_reported_as_unsaved() {
    let mut player = Player::new(four_parts());
    player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    player.follow();
    player.type_text("r");
    assert_eq!(player.screen.notice.text, RESTORED);
    player.type_text("q");
    assert_eq!(player.screen.scene(), Scene::Leave);
}

#[test]
fn cancelling_a_replacement_returns_to_the_file_name() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.type_text("ebb");
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"ebb\"), replace: false }");
    player.bench.disk.in_the_way = Some("ebb.ron is there already".into());
    player.saved(Some("not saved"));
    player.bench.disk.in_the_way = None;
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Form);
    player.type_text("2");
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"ebb2\"), replace: false }");
    // The user was leaving, and still is.
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn a_song_with_a_file_is_saved_to_another_one_on_request() {
    let mut player = Player::new(four_parts());
    player.type_text("w");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"low-tide-2.ron\"), replace: false }");
    player.bench.disk.in_the_way = Some("low-tide-2.ron is there already".into());
    player.saved(Some("not saved"));
    player.bench.disk.in_the_way = None;
    assert_eq!(player.screen.scene(), Scene::Replace);
    // The file changes between the question and the answer: it is asked about again.
    for again in [true, false] {
        player.type_text("r");
        assert_eq!(player.last(), "Save { file: Some(\"low-tide-2.ron\"), replace: true }");
        player.bench.disk.in_the_way = again.then(|| "low-tide-2.ron is there already".into());
        if again {
            player.saved(Some("not saved"));
            assert_eq!(player.screen.scene(), Scene::Replace);
        }
    }
    player.bench.disk.path = Some("low-tide-2.ron".into());
    player.saved(None);
    assert_eq!(
        player.screen.notice.text,
        "Saved to low-tide-2.ron: later saves go there, too; low-tide.ron stays as it was."
    );
    // Escape changes nothing.
    let saves = player.effects.len();
    player.type_text("w");
    player.press([Key::new(Code::Esc)]);
    assert_eq!((player.screen.scene(), player.effects.len()), (Scene::Loop, saves));
}

#[test]
fn the_question_before_leaving_has_plain_labels() {
    let mut player = Player::new(four_parts());
    let labels = |player: &Player| -> Vec<&'static str> {
        let state = player.bench.state();
        let facts = player.screen.facts(&state);
        let here = crate::keymap::here(player.screen.scene());
        here.filter(|row| facts.meet(row.need)).map(|row| row.label).take(2).collect()
    };
    player.type_text(" q");
    assert_eq!(labels(&player), ["quit", "back"]);
    player.press([Key::new(Code::Esc)]);
    player.bench.disk.unsaved = true;
    player.type_text("q");
    assert_eq!(labels(&player), ["save", "don't save"]);
    player.press([Key::new(Code::Esc)]);
    player.type_text("n");
    assert_eq!(labels(&player), ["save", "don't save"]);
}

/// The form on top: what is typed in it, and its error.
fn open_form(player: &Player) -> (String, Option<String>) {
    let Some(Overlay::Form(form)) = player.screen.overlays.top() else { panic!("no form") };
    let crate::form::Value::Text(line) = &form.fields[0].value else { panic!("no text") };
    (line.text(), form.error.clone())
}

#[test]
fn a_failed_save_as_keeps_the_form_with_the_name_and_the_error() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("wnone/ebb");
    player.enter();
    let asked = player.effects.len();
    player.saved(Some("none/ebb.ron cannot be written: there is no folder none"));
    let error = "none/ebb.ron cannot be written: there is no folder none.".to_string();
    assert_eq!(open_form(&player), ("none/ebb".into(), Some(error)));
    // What is typed now corrects the name: no letter is a command.
    player.type_text("nql");
    assert_eq!((open_form(&player).0.as_str(), player.effects.len()), ("none/ebbnql", asked));
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"none/ebbnql\"), replace: false }");
    player.saved(None);
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn keys_are_ignored_until_a_save_as_has_ended() {
    let mut player = Player::new(four_parts());
    player.type_text("webb");
    player.enter();
    let asked = player.effects.len();
    player.type_text("nql ");
    player.enter();
    player.screen.take(
        &Input::Paste("x".into()),
        &player.bench.state(),
        player.now,
        &mut Vec::new(),
    );
    assert_eq!((open_form(&player), player.effects.len()), (("ebb".into(), None), asked));
    // So they are while a replacement that was agreed to is written.
    player.bench.disk.in_the_way = Some("ebb.ron already exists".into());
    player.saved(Some("ebb.ron already exists"));
    player.bench.disk.in_the_way = None;
    player.type_text("rn");
    assert_eq!(player.last(), "Save { file: Some(\"ebb\"), replace: true }");
    assert_eq!(open_form(&player).0, "ebb");
    // Escape does not wait; how the save ended is then only reported.
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Loop);
    player.saved(Some("the disk is full"));
    assert_eq!(player.screen.notice, Notice::said("The disk is full.", true));
}

#[test]
fn a_save_as_that_failed_before_quitting_can_be_corrected() {
    let mut player = Player::new(four_parts());
    (player.bench.disk.path, player.bench.disk.unsaved) = (None, true);
    player.type_text("qsmy");
    player.enter();
    player.saved(Some("'my' is a folder: add a file name, e.g. my/song.ron"));
    let error = "'my' is a folder: add a file name, e.g. my/song.ron.".to_string();
    assert_eq!(open_form(&player), ("my".into(), Some(error)));
    player.type_text("/ebb");
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"my/ebb\"), replace: false }");
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn a_song_without_a_title_gets_that_of_the_file_it_is_saved_to() {
    let mut song = four_parts();
    song.title = "untitled".into();
    let mut player = Player::new(song);
    player.bench.disk.path = None;
    let title = |player: &Player| player.bench.state().status.song.title.clone();
    player.press([Key::ctrl('s')]);
    player.type_text("sketches/first light.ron");
    player.enter();
    assert_eq!(title(&player), "first light");
    let effects: Vec<String> = player.effects.iter().map(|e| format!("{e:?}")).collect();
    let at = |word: &str| effects.iter().position(|effect| effect.contains(word)).unwrap();
    assert!(at("Title(") < at("Save {"), "it is saved with its title");
    // Under another name after all, as long as nobody has given it one by hand.
    player.saved(Some("the disk is full"));
    player.press([Key::ctrl('u')]);
    player.type_text("second light");
    player.enter();
    assert_eq!(title(&player), "second light");
    player.saved(None);
    player.bench.disk.path = Some("second light".into());
    player.bench.command(Command::Edit(chaconne_song::Commit::of(chaconne_song::Edit::Title(
        "Ebb".into(),
    ))));
    player.follow();
    player.type_text("w");
    player.press([Key::ctrl('u')]);
    player.type_text("third.ron");
    player.enter();
    assert_eq!(title(&player), "Ebb");
}
