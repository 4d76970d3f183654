//! Settings of recording, of tracks, and of the sound.

use super::*;

#[test]
fn each_key_steps_through_its_setting() {
    let mut player = Player::new(four_parts());
    let status = |player: &Player| player.bench.state().status;
    player.type_text("l");
    assert_eq!(status(&player).mode, Mode::Replace);
    player.type_text("ll");
    assert_eq!(status(&player).mode, Mode::Layer);
    player.type_text("R");
    assert_eq!(status(&player).rounds, Rounds::Newest);
    player.type_text("c");
    assert_eq!(status(&player).click, Click::Always);
    player.type_text("3");
    assert_eq!(status(&player).count_in, 3);
    player.type_text("+");
    assert_eq!(status(&player).tempo.to_string(), "121");
    player.type_text("--");
    assert_eq!(status(&player).tempo.to_string(), "119");
    player.type_text("s");
    assert!(status(&player).solo_tracks.contains(&TrackId(1)));
    player.type_text("s");
    assert!(status(&player).solo_tracks.is_empty());
}

#[test]
fn the_grid_switches_off_and_comes_back_unchanged() {
    let mut player = Player::new(four_parts());
    let grid = |player: &Player| {
        let song = player.bench.state().status.song;
        song.track(player.screen.chosen.unwrap()).unwrap().feel.grid
    };
    player.press([Key::new(Code::Down)]);
    player.type_text("g");
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
    player.type_text("v");
    player.press([Key::new(Code::Left)]);
    let eighth = NoteValue::new(8, NoteKind::Straight).unwrap();
    assert_eq!(grid(&player), Some(eighth));
    player.enter();
    player.type_text("g");
    assert_eq!(grid(&player), None);
    player.type_text("g");
    assert_eq!(grid(&player), Some(eighth));
    player.type_text("v");
    player.press([Key::new(Code::Right), Key::new(Code::Esc)]);
    assert_eq!(grid(&player), Some(eighth));
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn as_played_is_the_first_of_the_grids() {
    let mut player = Player::new(four_parts());
    let grid = |player: &Player| player.bench.state().status.song.tracks[0].feel.grid;
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
    player.type_text("v");
    player.press([Key::new(Code::Left); 8]);
    assert_eq!(grid(&player), None);
    player.enter();
    assert_eq!(player.screen.notice.text, "Feel of drums: quantise off, as you played it.");
    // The choice opens at the track's grid, and g brings the earlier grid back.
    player.type_text("v");
    player.enter();
    assert_eq!(grid(&player), None);
    player.type_text("g");
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
}

#[test]
fn a_feel_that_is_cancelled_is_not_an_undo_step() {
    let mut player = Player::new(four_parts());
    let undo = |player: &Player| player.bench.state().status.undo;
    player.type_text("v");
    player.press([Code::Right, Code::Down, Code::Left, Code::Esc].map(Key::new));
    assert_eq!(undo(&player), None);
    // Two in a row are two steps.
    for _ in 0..2 {
        player.type_text("v");
        player.press([Key::new(Code::Right), Key::new(Code::Enter)]);
    }
    player.type_text("u");
    // One step finer than 1/16, and not two.
    let finer = NoteValue::new(32, NoteKind::Straight).ok();
    let song = player.bench.state().status.song;
    assert_eq!(song.tracks[0].feel.grid, finer);
    assert!(undo(&player).is_some());
}

#[test]
fn a_feel_is_heard_while_it_is_set_and_is_one_undo_step() {
    let mut player = Player::new(four_parts());
    let feel = |player: &Player| player.bench.state().status.song.tracks[1].feel;
    player.press([Key::new(Code::Down)]);
    player.type_text("g");
    let before = feel(&player);
    player.type_text("v");
    player.press([Key::new(Code::Left)]);
    assert_eq!(feel(&player).grid, NoteValue::new(8, NoteKind::Straight).ok());
    player.press([Code::Down, Code::Left, Code::Left, Code::Down, Code::Left].map(Key::new));
    assert_eq!((feel(&player).pull, feel(&player).reach), (90, 95));
    player.press([Code::Down, Code::Right, Code::Right, Code::Down, Code::Right].map(Key::new));
    assert_eq!((feel(&player).swing.to_string().as_str(), feel(&player).rolls), ("52", true));
    player.enter();
    assert_eq!(player.screen.notice.text, "Feel of bass: quantise 1/8, pull 90 %, swing 52 %.");
    player.type_text("u");
    assert_eq!(player.screen.notice.text, "Undone: feel of bass.");
    assert_eq!(feel(&player), before);
    // All in one read, so the screen still has the earlier state.
    let (state, mut out) = (player.bench.state(), Vec::new());
    for key in [Key::char('v'), Key::new(Code::Right), Key::new(Code::Esc)] {
        player.screen.take(&Input::Key(key), &state, player.now, &mut out);
    }
    player.obey(out);
    assert_eq!(feel(&player), before);
}

#[test]
fn a_feel_goes_as_far_as_its_range() {
    let mut player = Player::new(four_parts());
    let feel = |player: &Player| player.bench.state().status.song.tracks[0].feel;
    player.type_text("v");
    for (code, count, expected) in [
        (Code::Right, 20, "1/64 dotted 100 100 50 true"),
        (Code::Down, 1, "1/64 dotted 100 100 50 true"),
        (Code::Left, 25, "1/64 dotted 0 100 50 true"),
        (Code::Down, 2, "1/64 dotted 0 100 50 true"),
        (Code::Right, 40, "1/64 dotted 0 100 75 true"),
        (Code::Left, 3, "1/64 dotted 0 100 72 true"),
        (Code::Down, 1, "1/64 dotted 0 100 72 true"),
        (Code::Left, 2, "1/64 dotted 0 100 72 false"),
    ] {
        player.press(std::iter::repeat_n(Key::new(code), count));
        let Feel { grid, pull, reach, swing, rolls, .. } = feel(&player);
        let words = format!("{} {pull} {reach} {swing} {rolls}", grid.unwrap());
        assert_eq!(words, expected, "{code:?} {count} times");
    }
}

#[test]
fn quantising_says_what_it_did_and_so_does_undoing_it() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    for (key, said) in [
        ("g", "Feel of bass: quantise 1/16, pull 100 %."),
        ("g", "Feel of bass: quantise off, as you played it."),
        ("u", "Undone: quantise of bass."),
        ("U", "Redone: quantise of bass."),
    ] {
        player.type_text(key);
        assert_eq!(player.screen.notice.text, said, "{key}");
    }
}

#[test]
fn two_keys_change_the_level_wherever_letters_are_not_typed() {
    let mut player = Player::new(four_parts());
    player.type_text("(");
    assert!(player.effects.is_empty());
    assert!(player.screen.notice.text.contains("not in use"));
    player.bench.sound();
    for (keys, level, said) in [
        ("(", Some(-13.0), "The sound is 13 dB under full scale."),
        ("))", Some(-11.0), "The sound is 11 dB under full scale."),
        ("p)", Some(-10.0), "The sound is 10 dB under full scale."),
        ("?)", Some(-9.0), "The sound is 9 dB under full scale."),
        ("?v)", Some(-8.0), "The sound is 8 dB under full scale."),
    ] {
        player.type_text(keys);
        assert_eq!(player.bench.sound().level, level, "{keys}");
        assert_eq!(player.screen.notice.text, said, "{keys}");
    }
    player.press([Key::new(Code::Esc)]);
    player.type_text("))))))))))");
    assert_eq!(player.screen.notice.text, "The sound is at full scale, as loud as it goes.");
    player.bench.sound().level = Some(-59.0);
    player.type_text("(");
    assert_eq!(player.screen.notice.text, "The sound is off: press ) to turn it up.");
    // The level is not part of the song, so there is nothing to undo.
    assert!(player.bench.state().status.undo.is_none());
}

#[test]
fn the_level_keys_say_if_there_is_no_audio_device() {
    let mut player = Player::new(four_parts());
    player.type_text("(");
    assert!(player.screen.notice.text.contains("your own gear"));
    player.bench.kits = crate::Kits::Font([].into());
    player.type_text("(");
    assert!(player.screen.notice.text.starts_with("No audio device"));
    assert!(player.effects.is_empty());
}

#[test]
fn a_setting_of_the_feel_that_does_nothing_says_why() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("v");
    let said = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Feel(pick)) => pick.sentence(),
        other => panic!("{other:?}"),
    };
    let is_idle = |player: &Player| said(player).starts_with("No effect ");
    // Grid, groove, human and dynamics always do something.
    let mut idle = Vec::new();
    for at in 0..11 {
        idle.extend(is_idle(&player).then_some(at));
        player.press([Key::new(Code::Down)]);
    }
    assert_eq!(idle, [1, 2, 3, 4, 6, 7, 10]);
    player.press(vec![Key::new(Code::Up); 12]);
    player.press([Key::new(Code::Right), Key::new(Code::Down), Key::new(Code::Down)]);
    assert!(!is_idle(&player));
}

/// A drummer's hats in eighths do not swing on a grid of sixteenths, however far one turns it.
#[test]
fn swing_says_which_notes_it_delays() {
    let mut player = Player::new(four_parts());
    player.type_text("v");
    let said = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Feel(pick)) => (pick.feel.grid.map(|grid| grid.to_string()), pick.sentence()),
        other => panic!("{other:?}"),
    };
    let mut all = Vec::new();
    player.press(vec![Key::new(Code::Left); 40]);
    for _ in 0..40 {
        player.press([
            Key::new(Code::Right),
            Key::new(Code::Down),
            Key::new(Code::Down),
            Key::new(Code::Down),
        ]);
        all.push(said(&player));
        player.press(vec![Key::new(Code::Up); 3]);
    }
    let sentence = |grid: &str| {
        let found = all.iter().find(|(known, _)| known.as_deref() == Some(grid));
        found.map(|(_, sentence)| &sentence[..])
    };
    assert_eq!(sentence("1/16"), Some("Delays every second 1/16; 1/8 notes stay where they are."));
    assert_eq!(sentence("1/8"), Some("Delays every second 1/8; 1/4 notes stay where they are."));
    assert_eq!(sentence("1/8 triplet"), Some("Delays every second 1/8 triplet: 50 % is even."));
    // All fit the box, which is 58 wide.
    assert!(all.iter().all(|(_, sentence)| sentence.chars().count() <= 58), "{all:?}");
}

#[test]
fn the_values_of_a_feel_can_be_typed() {
    let mut player = Player::new(four_parts());
    let grid = |player: &Player| {
        let song = player.bench.state().status.song;
        song.tracks[0].feel.grid.map(|grid| grid.to_string()).unwrap_or_default()
    };
    player.type_text("v");
    for (typed, expected) in [
        ("1/8", "1/8"),
        ("t", "1/8 triplet"),
        // What comes after a whole value begins anew.
        ("1/32d", "1/32 dotted"),
        ("1/4.", "1/4 dotted"),
        ("16", "1/16"),
        ("9", "1/16"),
        ("8t", "1/8 triplet"),
    ] {
        player.type_text(typed);
        assert_eq!(grid(&player), expected, "{typed}");
    }
    let feel = |player: &Player| player.bench.state().status.song.tracks[0].feel;
    player.press([Key::new(Code::Down)]);
    player.type_text("85");
    player.press([Key::new(Code::Down)]);
    player.type_text("100");
    player.type_text("40");
    player.press([Key::new(Code::Down)]);
    player.type_text("6");
    player.type_text("2.5");
    let Feel { pull, reach, swing, .. } = feel(&player);
    assert_eq!((pull, reach, swing.to_string().as_str()), (85, 40, "62.5"));
    player.press([Key::new(Code::Backspace); 2]);
    assert_eq!(feel(&player).swing.to_string(), "62");
    player.type_text("99");
    assert_eq!(feel(&player).swing.to_string(), "62");
    // All of it is one step.
    player.enter();
    player.type_text("u");
    assert_eq!(grid(&player), "1/16");
    assert_eq!(feel(&player).pull, 100);
}
