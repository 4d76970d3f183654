//! Keys: held down, many in one read, as notes, as a paste, and actions without a key.

use super::*;

#[test]
fn in_piano_mode_only_keys_off_the_two_rows_give_commands() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.strike(Key::char('f'));
    let bass_drum = U7::low_bits(36);
    let velocity = U7::low_bits(96);
    let played = format!("{:?}", Effect::Play(LiveKey::Press { key: bass_drum, velocity }));
    assert_eq!(player.last(), played);
    player.now += Duration::from_millis(200);
    player.follow();
    assert_eq!(player.last(), format!("{:?}", Effect::Play(LiveKey::Lift { key: bass_drum })));
    // A finger that slips to a place without a black key does nothing, with Caps Lock neither.
    let effects = player.effects.len();
    player.type_text("ruRU");
    assert_eq!(player.effects.len(), effects);
    player.press([Key::new(Code::Enter)]);
    assert_eq!(player.last(), "Command(Next(Recording))");
    player.press([Key::new(Code::Backspace)]);
    assert_eq!(player.last(), "Command(Undo)");
    player.type_text("c");
    assert_eq!(player.last(), "Command(Next(Click))");
    player.press([Key::new(Code::Esc)]);
    player.type_text("f");
    assert_eq!(player.last(), "Command(Next(Click))");
}

#[test]
fn leaving_piano_mode_lifts_what_sounds() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.strike(Key::char('f'));
    player.strike(Key::new(Code::Esc));
    let lift = Effect::Play(LiveKey::Lift { key: U7::low_bits(36) });
    assert_eq!(player.last(), format!("{lift:?}"));
}

#[test]
fn a_held_key_does_not_flip_a_switch_again_and_again() {
    let mut player = Player::new(four_parts());
    player.type_text("m");
    player.hold(Key::char('m'), 10);
    let mutes = player.effects.iter().filter(|effect| format!("{effect:?}").contains("MuteTrack"));
    // The first repeat comes so late that it could be a second press.
    assert_eq!(mutes.count(), 2);
}

#[test]
fn ten_presses_in_one_read_count_as_ten() {
    let status = |player: &Player| player.bench.state().status;
    // While the song plays, the tempo that sounds is a moment behind the song's.
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    player.bench.wait(700);
    player.press_ten_times(Key::char('+'));
    player.bench.wait(100);
    assert_eq!(status(&player).tempo.to_string(), "130");
    player.press([Key::char('u')]);
    player.bench.wait(100);
    assert_eq!(status(&player).tempo.to_string(), "120", "a run of steps is one step of undo");
    // Ten presses bring a setting with two states back, and one with three to its second.
    for (key, is) in [
        ('l', "Replace All Recording"),
        ('R', "Replace Newest Recording"),
        ('c', "Replace Newest Always"),
    ] {
        player.press_ten_times(Key::char(key));
        let status = status(&player);
        let settings = format!("{:?} {:?} {:?}", status.mode, status.rounds, status.click);
        assert_eq!(settings, is, "{key}");
    }
    for key in ['m', 's', 'g'] {
        let before = status(&player);
        player.press_ten_times(Key::char(key));
        assert_eq!(status(&player).song, before.song, "{key}");
        assert_eq!(status(&player).solo_tracks, before.solo_tracks, "{key}");
        assert!(player.effects.len() >= 10);
    }
    player.press_ten_times(Key::char('u'));
    player.press_ten_times(Key::char('u'));
    assert_eq!(status(&player).undo, None);
    player.press_ten_times(Key::char('U'));
    assert!(status(&player).undo.is_some() && status(&player).redo.is_some());
}

#[test]
fn ten_presses_in_one_read_move_ten_times() {
    let status = |player: &Player| player.bench.state().status;
    let mut player = Player::new(empty_song(16, "4/4"));
    player.press_ten_times(Key::new(Code::Right));
    assert_eq!(status(&player).place.bar, 11);
    player.press_ten_times(Key::new(Code::Left));
    assert_eq!(status(&player).place.bar, 1);
    // Presses in one read move the choice by their sum, whatever is armed in between.
    let mut player = Player::new(four_parts());
    player.press_ten_times(Key::new(Code::Down));
    assert_eq!((player.screen.chosen, status(&player).armed), (Some(TrackId(4)), Some(TrackId(4))));
    let (state, mut out) = (player.bench.state(), Vec::new());
    for code in [Code::Up, Code::Up, Code::Down] {
        player.screen.take(&Input::Key(Key::new(code)), &state, player.now, &mut out);
    }
    for effect in out {
        player.obey(vec![effect]);
        player.follow();
        assert_eq!(
            player.screen.chosen,
            Some(TrackId(3)),
            "what is armed on the way moves nothing"
        );
    }
    assert_eq!(status(&player).armed, Some(TrackId(3)));
    player.press([Key::new(Code::Up)]);
    assert_eq!((player.screen.chosen, status(&player).armed), (Some(TrackId(2)), Some(TrackId(2))));
}

#[test]
fn a_paste_outside_a_field_does_nothing() {
    let mut player = Player::new(four_parts());
    let mut out = Vec::new();
    let paste = Input::Paste("q r ! space".into());
    player.screen.take(&paste, &player.bench.state(), player.now, &mut out);
    assert!(out.is_empty());
    player.type_text("a");
    let paste = Input::Paste("pad".into());
    player.screen.take(&paste, &player.bench.state(), player.now, &mut out);
    player.enter();
    assert!(player.bench.state().status.song.track_named("pad").is_some());
}

#[test]
fn a_held_key_turns_the_sound_down_and_never_up() {
    let mut player = Player::new(four_parts());
    player.bench.sound();
    let mut hold = |c: char| {
        player.type_text(&c.to_string());
        player.hold(Key::char(c), 5);
        player.bench.sound().level
    };
    assert_eq!(hold('('), Some(-18.0));
    assert_eq!(hold(')'), Some(-16.0));
}

#[test]
fn actions_can_be_asked_for_without_a_key() {
    // A finder, a pedal or a script can ask for the same actions as a key.
    let mut player = Player::new(four_parts());
    let mut ask = |action| {
        let mut out = Vec::new();
        player.screen.ask(action, &player.bench.state(), &mut out);
        player.obey(out);
        player.follow();
        player.bench.state().status
    };
    assert_eq!(ask(Action::CountIn(2)).count_in, 2);
    assert_eq!(ask(Action::Choose(Vertical::Down)).armed, Some(TrackId(2)));
    assert_eq!(ask(Action::Tempo(Vertical::Up)).tempo.to_string(), "121");
    assert!(ask(Action::Mute).song.tracks[1].mute);
    assert!(ask(Action::Undo).undo.is_some());
    assert!(ask(Action::Record).recording);
    assert!(!ask(Action::Record).recording);
    // An action that does not apply is refused, as it is for a key.
    ask(Action::ChooseSection);
    assert_eq!(
        player.screen.notice.text,
        "There is only one section: F6 shows it, and s there adds another."
    );
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn the_topmost_overlay_gets_the_keys() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.bench.disk.path = None;
    player.type_text("p");
    player.press([Key::ctrl('c')]);
    player.press([Key::ctrl('c')]);
    let scenes = |player: &Player| -> Vec<Scene> {
        player.screen.overlays.iter().map(Overlay::scene).collect()
    };
    // Ctrl-C asks whether to leave; when it asks again, only one question is open.
    assert_eq!(scenes(&player), [Scene::Piano, Scene::Leave]);
    player.press([Key::new(Code::Esc)]);
    player.press([Key::ctrl('s')]);
    player.press([Key::ctrl('c'), Key::new(Code::Esc)]);
    assert_eq!(scenes(&player), [Scene::Piano, Scene::Form], "the form is as it was");
    player.type_text("x");
    player.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
    assert_eq!(scenes(&player), []);
}

#[test]
fn keys_that_are_named_in_piano_mode_are_those_that_work_there() {
    let mut player = Player::new(four_parts());
    let named = |player: &Player, text: &str| player.screen.with_keys(text);
    assert_eq!(named(&player, "{record} {undo} {add-track} {find}"), "r u a /");
    player.type_text("p");
    assert_eq!(named(&player, "{record} {undo} {find}"), "Enter Backspace F9");
    // A letter plays a note: first the mode must be left.
    assert_eq!(named(&player, "press {add-track}"), "press Esc, then a");
    let mut empty = Player::new(four_parts());
    empty.press([Key::new(Code::F(3))]);
    empty.type_text("p");
    let state = empty.bench.state();
    empty.screen.ask(Action::PlayForm, &state, &mut Vec::new());
    assert_eq!(
        empty.screen.notice.text,
        "This song has no form yet: F6 shows its sections, Esc, then F writes a form."
    );
}
