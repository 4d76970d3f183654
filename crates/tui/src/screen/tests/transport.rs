//! Playing, recording, and moving along the song.

use super::*;

#[test]
fn arrows_move_by_bars_while_stopped_and_c_plays_from_there() {
    let mut player = Player::new(four_parts());
    let arrow = |code| [Key::new(code)];
    let bar = |player: &Player| {
        let status = player.bench.state().status;
        (status.place.bar, status.place.beat)
    };
    player.press(arrow(Code::Right));
    assert_eq!((player.last(), bar(&player)), ("Command(LocateBars(1))".into(), (2, 1)));
    // The arrows stop at the last bar and at the first.
    for (code, then) in
        [(Code::Right, 3), (Code::Right, 4), (Code::Right, 4), (Code::Left, 3), (Code::Home, 1)]
    {
        player.press(arrow(code));
        assert_eq!(bar(&player), (then, 1), "{code:?}");
    }
    player.press(arrow(Code::Left));
    assert_eq!(bar(&player), (1, 1));
    player.press(arrow(Code::Right));
    player.type_text("C");
    assert_eq!(player.last(), "Command(Continue)");
    player.bench.wait(600);
    assert_eq!(bar(&player), (2, 2));
    player.press(arrow(Code::Left));
    assert_eq!(player.screen.notice.text, "The song is playing: Space stops it.");
    // From the middle of a bar back to its start.
    player.type_text(" ");
    assert_ne!(bar(&player), (2, 1));
    player.press(arrow(Code::Left));
    assert_eq!(bar(&player), (2, 1));
}

#[test]
fn arrows_move_bar_by_bar_even_if_bars_begin_between_sixteenths() {
    // A bar of n/32 has n times 120 ticks; a sixteenth has 240.
    for (metre, expected) in [
        ("5/32", [0, 600, 1200, 1800, 1800, 1200, 600, 0, 0]),
        ("1/32", [0, 120, 240, 360, 360, 240, 120, 0, 0]),
        ("7/8", [0, 3360, 6720, 10_080, 10_080, 6720, 3360, 0, 0]),
    ] {
        let mut player = Player::new(empty_song(4, metre));
        let mut places = vec![0];
        for code in [Code::Right; 4].into_iter().chain([Code::Left; 4]) {
            player.press([Key::new(code)]);
            places.push(player.bench.state().status.at.0);
        }
        assert_eq!(places, expected, "{metre}");
    }
}

#[test]
fn space_and_r_begin_at_the_bar_gone_to_and_ctrl_r_goes_back_there() {
    let again = Key::ctrl('r');
    let mut player = Player::new(four_parts());
    let here = |player: &Player| {
        let status = player.bench.state().status;
        (status.transport, status.place.bar, status.bar_to_begin())
    };
    player.press([again]);
    assert_eq!(player.screen.notice.text, "There is no take to record again: record one first.");
    for (keys, then) in [
        (" ", (Transport::Rolling, 3, 1)),
        // In the count-in the bars count from 1.
        ("2r", (Transport::CountingIn, 1, 3)),
    ] {
        player.press([Key::new(Code::Right), Key::new(Code::Right)]);
        assert_eq!(here(&player), (Transport::Stopped, 3, 3));
        player.type_text(keys);
        assert_eq!(here(&player), then, "{keys:?}");
        player.type_text(" ");
        player.press([Key::new(Code::Home)]);
    }
    // From the loop, with the piano on, and from another view.
    player.type_text(" ");
    player.bench.wait(500);
    let to_others: [&[Key]; 3] =
        [&[], &[Key::char('p')], &[Key::new(Code::Esc), Key::new(Code::F(6))]];
    for keys in to_others {
        player.press(keys.iter().copied());
        player.press([again]);
        assert_eq!(player.last(), "Command(RecordAgain)");
        assert_eq!(here(&player), (Transport::CountingIn, 1, 3), "{keys:?}");
        assert!(player.bench.state().status.recording);
        player.bench.wait(5000);
    }
}

#[test]
fn space_plays_and_stops() {
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    assert_eq!(player.last(), "Command(Next(Playing))");
    assert_eq!(player.bench.state().status.transport, Transport::Rolling);
    player.type_text(" ");
    assert_eq!(player.bench.state().status.transport, Transport::Stopped);
}

#[test]
fn space_and_r_count_each_time_however_old_the_state_on_the_screen_is() {
    // Three presses before the screen sees the effect of the first.
    for (key, counted_in) in [(' ', false), ('r', true)] {
        let mut player = Player::new(four_parts());
        let (state, mut out) = (player.bench.state(), Vec::new());
        for _ in 0..3 {
            player.screen.take(&Input::Key(Key::char(key)), &state, player.now, &mut out);
        }
        player.obey(out);
        let status = player.bench.state().status;
        assert_ne!(status.transport, Transport::Stopped, "{key}");
        assert_eq!(status.recording, counted_in, "{key}");
        // Here the screen still shows the song playing or recording.
        let (state, mut out) = (player.bench.state(), Vec::new());
        player.bench.command(Command::Stop);
        player.screen.take(&Input::Key(Key::char(key)), &state, player.now, &mut out);
        player.obey(out);
        let status = player.bench.state().status;
        assert_ne!(status.transport, Transport::Stopped, "{key}");
        assert_eq!(status.recording, counted_in, "{key}");
    }
}

#[test]
fn r_in_the_count_in_cancels_recording_and_says_so() {
    let mut player = Player::new(four_parts());
    let label = |player: &Player| {
        let state = player.bench.state();
        let facts = player.screen.facts(&state);
        let mut rows = crate::keymap::here(Scene::Loop).filter(|row| row.action == Action::Record);
        rows.find(|row| facts.meet(row.need)).map(|row| row.label)
    };
    assert_eq!(label(&player), Some("record"));
    player.type_text("r");
    assert_eq!(label(&player), Some("don't record"));
    player.type_text("r");
    let said = "Recording cancelled: the song plays after the count-in.";
    assert_eq!((player.screen.notice.text.as_str(), label(&player)), (said, Some("record")));
    player.type_text("r");
    player.bench.wait(2100);
    assert_eq!(label(&player), Some("stop recording"));
}

#[test]
fn taps_in_one_read_count_as_one_and_the_first_gets_a_message() {
    let mut player = Player::new(four_parts());
    let tempo = |player: &Player| player.bench.state().status.tempo.to_string();
    player.press_ten_times(Key::char('t'));
    let said = "Tap again: two or more taps in time set the tempo.";
    assert_eq!((player.screen.notice.text.as_str(), tempo(&player).as_str()), (said, "120"));
    player.now += Duration::from_millis(600);
    player.bench.wait(600);
    player.press_ten_times(Key::char('t'));
    assert_eq!(player.screen.notice.text, "Tapped tempo: 100.");
    assert_eq!(tempo(&player), "100");
}

#[test]
fn an_empty_song_gets_a_track_and_a_recorded_pass() {
    let mut player = Player::new(empty_song(1, "4/4"));
    player.type_text("r");
    assert_eq!(player.screen.notice.text, "There is no track to record on: add one first.");
    player.type_text("m");
    assert_eq!(player.screen.notice.text, "There is no track yet: press a to add one.");
    player.type_text("a");
    player.enter();
    assert_eq!(player.bench.state().status.song.tracks[0].name, "drums");
    assert_eq!(player.screen.chosen, player.bench.state().status.armed);
    player.type_text("0r");
    player.bench.wait(100);
    assert!(player.bench.state().status.recording);
    player.bench.play(38, 100);
    player.bench.wait(2000);
    player.type_text("r");
    let song = player.bench.state().status.song;
    assert_eq!(song.passes.len(), 1);
    assert_eq!(song.passes_in(&song.sections[0])[0].notes().len(), 1);
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.bench.state().status.song.passes.len(), 0);
    player.type_text("u");
    assert_eq!(player.bench.state().status.song.passes.len(), 1);
    player.type_text("U");
    assert_eq!(player.bench.state().status.song.passes.len(), 0);
}

#[test]
fn sections_are_chosen_by_their_letters() {
    let mut song = four_parts();
    for letter in ["B", "C", "CA"] {
        let metre = MetreMap::new(2, Metre::common()).unwrap();
        let letter: Letter = letter.parse().unwrap();
        song.sections.push(std::sync::Arc::new(Section::new(letter, metre, Tempo::DEFAULT)));
    }
    let mut player = Player::new(song);
    let jumped = |letter: &str| {
        format!(
            "{:?}",
            Effect::Command(Command::Jump(letter.parse().unwrap(), chaconne_engine::When::Seam))
        )
    };
    player.type_text("jb");
    assert_eq!(player.last(), jumped("B"));
    player.type_text("jc");
    assert_eq!(player.screen.scene(), Scene::Sections);
    player.type_text("a");
    assert_eq!(player.last(), jumped("CA"));
    player.type_text("jc");
    player.enter();
    assert_eq!(player.last(), jumped("C"));
    player.type_text("jx");
    assert_eq!(player.screen.notice.text, "There is no section X.");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn suspending_stops_first() {
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    player.press([Key::ctrl('z')]);
    let tail: Vec<String> =
        player.effects.iter().rev().take(2).map(|effect| format!("{effect:?}")).collect();
    assert_eq!(tail, ["Suspend", "Command(Stop)"]);
    player.screen.welcome_back();
    let said = "Back, and stopped: Space plays from the top, C from where it was.";
    assert_eq!(player.screen.notice.text, said);
}

#[test]
fn zooming_and_moving_show_the_place_of_the_song() {
    let mut player = Player::new(empty_song(24, "4/4"));
    let shown = |player: &Player| {
        let fit = crate::draw::loop_fit(&player.bench.state(), &player.screen).unwrap();
        (fit.scale.bars_words(), fit.scale.grain.words())
    };
    let words = |bars: &str, grain: &str| (bars.to_string(), grain.to_string());
    assert_eq!(shown(&player), words("bars 1 to 4 of 24", "1/16"));
    player.press([Key::new(Code::PageUp)]);
    assert_eq!(player.screen.notice.text, "This is the first page.");
    player.press([Key::new(Code::PageDown), Key::new(Code::PageDown)]);
    assert_eq!(shown(&player).0, "bars 9 to 12 of 24");
    // Moving turns back to the page of the place.
    player.press([Key::new(Code::Right)]);
    assert_eq!(shown(&player).0, "bars 1 to 4 of 24");
    player.type_text(">>");
    assert_eq!(shown(&player), words("bars 1 to 16 of 24", "1/4"));
    player.type_text(">>>>");
    assert_eq!(shown(&player), words("24 bars", "1 bar"));
    assert_eq!(player.screen.notice.text, "All the bars are already showing.");
    player.type_text("<<<<<<<<<<<");
    assert_eq!(shown(&player), words("part of bar 2 of 24", "1 tick"));
    assert_eq!(player.screen.notice.text, "One mark is one tick: there is nothing finer.");
    player.type_text(">>>>>>");
    assert_eq!(shown(&player), words("bars 1 to 4 of 24", "1/16"));
    // While the song plays, a page lasts at least a beat.
    player.type_text("<<<<<< ");
    player.bench.wait(100);
    player.follow();
    assert_eq!(shown(&player).1, "1/256");
}

#[test]
fn the_bar_to_begin_at_can_be_chosen_in_piano_mode() {
    let mut player = Player::new(four_parts());
    let begins = |player: &Player| player.bench.state().status.begins.0 / 3840;
    player.type_text("p");
    let octave = player.screen.piano.reach();
    player.press([Key::shift(Code::Right), Key::shift(Code::Right), Key::shift(Code::Left)]);
    assert_eq!((begins(&player), player.screen.piano.reach()), (1, octave));
    // Where Shift has no meaning of its own, the arrow means what it always does.
    player.press([Key::new(Code::Esc), Key::shift(Code::Right)]);
    assert_eq!(begins(&player), 2);
    player.press([Key::shift(Code::Down)]);
    assert_eq!(player.screen.chosen, Some(TrackId(2)));
}

#[test]
fn g_leads_by_hand_and_each_tap_is_a_beat_that_the_song_waits_for() {
    let mut player = Player::new(four_parts());
    let place = |player: &Player| {
        let status = player.bench.state().status;
        (status.place.bar, status.place.beat, status.waits.is_some())
    };
    player.type_text("G");
    assert_eq!(
        player.screen.notice.text,
        "Led by hand: each tap is a beat, and the song waits for it."
    );
    player.type_text(" ");
    player.bench.wait(3000);
    assert!(place(&player).2);
    for expected in [(1, 1), (1, 2), (1, 3), (1, 4), (2, 1)] {
        player.type_text("t");
        assert_eq!(place(&player), (expected.0, expected.1, false));
        player.bench.wait(3000);
        assert!(place(&player).2);
    }
    player.type_text("GGG");
    assert_eq!(player.screen.notice.text, "No longer led by hand: the song has its own tempo.");
    player.bench.wait(1000);
    assert!(!place(&player).2);
}
