//! Arranging a section from the view of the form: every operation by its keys, against a real engine.

use super::*;
use crate::testing::pass;
use chaconne_engine::Route;
use std::sync::Arc;

const TAB: Key = Key::new(Code::Tab);
const DOWN: Key = Key::new(Code::Down);
const UP: Key = Key::new(Code::Up);
const CLEAR: Key = Key::ctrl('u');

/// A section of four bars and one of two, which the form plays in this order twice.
fn song() -> Song {
    let mut song = four_parts();
    let metre = MetreMap::new(2, Metre::common()).unwrap();
    let second = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    song.sections.push(Arc::new(second));
    song.lay("B".parse().unwrap(), pass(20, 2, 7680, &[(0, 900, 45, 96)]));
    song.form = "A B A B".parse().unwrap();
    song
}

fn player() -> Player {
    let mut player = Player::new(song());
    player.press([Key::new(Code::F(6))]);
    player
}

impl Player {
    fn bars(&self) -> String {
        let song = self.bench.state().status.song;
        let each = song.sections.iter();
        let each: Vec<String> =
            each.map(|one| format!("{}{}", one.letter, one.metre.bars())).collect();
        format!("{}: {}", each.join(" "), song.form)
    }

    fn error(&self) -> Option<String> {
        match self.screen.overlays.top() {
            Some(Overlay::Form(form)) => form.error.clone(),
            _ => None,
        }
    }

    fn preview(&self) -> Option<String> {
        match self.screen.overlays.top() {
            Some(Overlay::Form(form)) => form.preview().map(str::to_string),
            _ => None,
        }
    }

    fn undo_is(&self) -> String {
        self.bench.state().status.undo.map_or(String::new(), |turn| turn.to_string())
    }

    fn told(&self) -> &str {
        &self.screen.notice.text
    }

    /// The tempo box with this typed.
    fn tempo(&mut self, typed: &str) {
        self.type_text("M");
        self.type_text(typed);
    }
}

#[test]
fn a_section_is_split_and_joined_and_both_are_undone() {
    let mut player = player();
    player.type_text("As");
    assert_eq!(player.screen.scene(), Scene::Form);
    assert_eq!(
        player.preview().as_deref(),
        Some("A has 2 bars, the new section C has 2 bars; form: A C B A C B.")
    );
    player.type_text("4");
    player.enter();
    assert_eq!(player.bars(), "A3 C1 B2: A C B A C B");
    assert_eq!(player.undo_is(), "split section");
    assert_eq!(
        player.told(),
        "A has 3 bars, the new section C has 1 bar; form: A C B A C B; undo joins them again."
    );
    player.type_text("Aj");
    assert_eq!(player.bars(), "A4 B2: A B A B");
    assert_eq!(player.undo_is(), "join sections");
    assert_eq!(player.told(), "C becomes part of A: 4 bars; form: A B A B; undo separates them.");
    player.type_text("uu");
    assert_eq!(*player.bench.state().status.song, song());
}

#[test]
fn a_split_proposes_the_bar_that_plays() {
    let mut player = player();
    player.type_text("f");
    player.bench.wait(5000);
    player.type_text("As");
    player.enter();
    assert_eq!(player.bars(), "A2 C2 B2: A C B A C B");
    assert!(player.bench.state().is_playing());
}

#[test]
fn what_cannot_be_done_is_said_and_nothing_changes() {
    let mut player = player();
    for (keys, typed, error) in [
        ("As", "1", "Section A has 4 bars: split it at a bar from 2 to 4."),
        ("As", "x", "'x' is no bar of section A: use 1 to 4."),
        ("Al", "5", "'5' is no bar of section A: use 1 to 4."),
        ("Ab", "0", "'0' is not a bar count: use a whole number from 1 to 999."),
        ("Ab", "999", "Section A would have 1024 bars, and a section has at most 999."),
        ("M", "fast", "'fast' is not a tempo: use e.g. 96, 95 %, 3:20, or 104 to 92 over 2 bars."),
        (
            "M",
            "104 to 92",
            "'104 to 92' is not a tempo: use e.g. 96, 95 %, 3:20, or 104 to 92 over 2 bars.",
        ),
        ("M", "to 92 over 9 bars", "Section A has bars 1 to 4: the ramp has to lie in these."),
        ("M", "to 92 over 0 bars", "Section A has bars 1 to 4: the ramp has to lie in these."),
        ("M", "no ramp", "Bar 1 of section A has no ramp."),
        ("M", "5000", "Tempo 5000 is outside 10 to 1000 quarter notes per minute."),
    ] {
        player.type_text(keys);
        player.type_text(typed);
        player.enter();
        assert_eq!(player.error().as_deref(), Some(error), "{keys} {typed}");
        player.press([Key::new(Code::Esc)]);
    }
    player.press([DOWN]);
    player.type_text("Ad");
    assert_eq!(player.bars(), "A4 B1: A B A B");
    player.type_text("Ad");
    assert!(player.screen.notice.wrong, "{}", player.told());
    player.type_text("u");
    assert_eq!(*player.bench.state().status.song, song());
}

#[test]
fn bars_are_lifted_into_a_section_of_their_own_below_the_cursor() {
    let mut player = player();
    player.type_text("Al2");
    player.press([TAB]);
    player.type_text("1");
    player.enter();
    let error = player.error();
    assert_eq!(error.as_deref(), Some("The last bar comes before the first: use 2 or more."));
    player.press([CLEAR]);
    player.type_text("3");
    player.enter();
    assert_eq!(player.bars(), "A4 C2 B2: A B A B");
    assert_eq!(player.screen.song_form.chosen(&player.bench.state().status), 1);
    assert_eq!(player.undo_is(), "lift bars");
}

#[test]
fn a_section_gets_other_lengths_and_speeds() {
    let mut player = player();
    player.type_text("Ab2");
    player.enter();
    assert_eq!(
        (player.bars().as_str(), player.undo_is().as_str()),
        ("A2 B2: A B A B", "length of section")
    );
    player.type_text("Ab4");
    player.enter();
    assert_eq!(player.undo_is(), "double section");
    let notes = |player: &Player| {
        let song = player.bench.state().status.song;
        song.layers(&song.sections[0]).map(|(_, pass)| pass.notes().len()).sum::<usize>()
    };
    let doubled = notes(&player);
    player.type_text("u");
    player.type_text("Ab4");
    player.press([TAB, Key::new(Code::Right)]);
    player.enter();
    assert_eq!(player.undo_is(), "length of section");
    assert!(notes(&player) < doubled);
    player.type_text("uAh");
    assert_eq!(
        (player.bars().as_str(), player.undo_is().as_str()),
        ("A4 B2: A B A B", "half time")
    );
    // The list stays where its cursor is moved to.
    player.type_text("A");
    player.press([UP, DOWN, DOWN, DOWN, DOWN, DOWN, DOWN, DOWN]);
    player.enter();
    assert_eq!(
        (player.bars().as_str(), player.undo_is().as_str()),
        ("A2 B2: A B A B", "double time")
    );
    player.type_text("uuu");
    assert_eq!(*player.bench.state().status.song, song());
}

/// Four bars of 4/4 at 120 take 8 seconds; A B A B takes 24.
#[test]
fn the_tempo_box_takes_a_value_a_percentage_a_duration_and_a_ramp() {
    let mut player = player();
    let length = |player: &Player| {
        let song = player.bench.state().status.song;
        Route::form(&song).unwrap().duration(&song) / 1_000_000
    };
    player.tempo("96");
    assert_eq!(
        player.preview().as_deref(),
        Some("Tempo A 96: one round of A lasts 0:10, the form lasts 0:28.")
    );
    player.enter();
    assert_eq!((length(&player), player.undo_is().as_str()), (28_000, "tempo"));
    player.type_text("u");
    player.tempo("50 %");
    player.press([UP]);
    player.type_text(" ");
    assert_eq!(player.preview().as_deref(), Some("Tempo A 60, B 60: the form lasts 0:48."));
    player.enter();
    assert_eq!((length(&player), player.undo_is().as_str()), (48_000, "tempo of all sections"));
    player.type_text("u");
    // A duration is that of the song.
    player.tempo("0:20");
    assert_eq!(player.preview().as_deref(), Some("Tempo A 144, B 144: the form lasts 0:20."));
    player.enter();
    // Right to half a microsecond for each of 48 quarter notes.
    assert!((length(&player) - 20_000).abs() <= 1, "{}", length(&player));
    assert_eq!(player.undo_is(), "tempo for a duration");
    assert_eq!(
        player.told(),
        "Tempo A 144, B 144: the form lasts 0:20; undo brings the old tempo back."
    );
    player.type_text("u");
    player.tempo("104 to 92 over 2 bars");
    player.press([TAB]);
    player.enter();
    assert_eq!(player.undo_is(), "tempo ramp");
    let tempi = |player: &Player| {
        let song = player.bench.state().status.song;
        let steps: Vec<String> =
            song.sections[0].tempo.steps().map(|(at, tempo)| format!("{} {tempo}", at.0)).collect();
        (steps.len(), steps[0].clone(), steps[1].clone(), steps.last().unwrap().clone())
    };
    let (count, top, first, last) = tempi(&player);
    assert_eq!((count, top.as_str(), first.as_str()), (1 + 2 * 96, "0 120", "7680 104"));
    assert_eq!(last, format!("{} 92", 4 * 3840 - 40));
    player.tempo("no ramp");
    player.enter();
    assert_eq!(player.undo_is(), "remove tempo ramp");
    player.tempo("60");
    player.press([TAB]);
    player.type_text("3");
    player.enter();
    assert_eq!(tempi(&player).3, "7680 60");
    player.type_text("uuu");
    assert_eq!(*player.bench.state().status.song, song());
}

#[test]
fn a_tempo_that_is_set_already_closes_the_box_and_changes_nothing() {
    let mut player = player();
    player.type_text("M");
    assert_eq!(
        player.preview().as_deref(),
        Some("Tempo A 120: one round of A lasts 0:08, the form lasts 0:24.")
    );
    player.enter();
    assert_eq!((player.screen.scene(), player.undo_is().as_str()), (Scene::SongForm, ""));
}

#[test]
fn a_split_while_a_track_is_recorded_keeps_what_was_played() {
    let mut player = player();
    player.press([Key::new(Code::F(2)), DOWN]);
    player.type_text("0r");
    player.bench.wait(500);
    player.bench.play(86, 90);
    player.bench.wait(4000);
    player.bench.play(88, 90);
    player.press([Key::new(Code::F(6))]);
    player.type_text("As");
    assert!(player.bench.state().status.recording);
    player.press([CLEAR]);
    player.type_text("3");
    player.enter();
    let state = player.bench.state();
    assert!(!state.status.recording && state.is_playing());
    let song = &state.status.song;
    let has = |section: usize, key: u8| {
        let passes = song.layers(&song.sections[section]).map(|(_, pass)| pass);
        let mut notes = passes.filter(|pass| pass.track.0 == 2).flat_map(|pass| pass.notes());
        notes.any(|note| note.played.key.get() == key)
    };
    assert_eq!([has(0, 86), has(0, 88), has(1, 86), has(1, 88)], [true, false, false, true]);
    player.type_text("uu");
    assert_eq!(*player.bench.state().status.song, self::song());
}

#[test]
fn a_form_goes_on_as_a_form_when_the_section_that_plays_is_split() {
    let mut player = player();
    player.type_text("f");
    player.bench.wait(5000);
    player.type_text("As");
    player.enter();
    player.bench.wait(300);
    let status = player.bench.state().status;
    assert!(player.bench.state().is_playing());
    assert_eq!(status.in_form, Some((1, 6)), "{:?}", status.section);
}
