//! The box of the grooves, the form that takes one, and the feel box with a groove.

use super::*;
use crate::testing::groove;
use chaconne_song::{Feel, GivenGroove, Groove, GrooveId, Human, Song, StepAt};

/// Four parts with two grooves, of which one is given to the bass and to the hats.
fn song() -> Song {
    let mut song = four_parts();
    song.grooves = vec![groove(90, "Sam"), two_bars()];
    let given = GivenGroove { timing: 80, loudness: 60, ..GivenGroove::whole(GrooveId(90)) };
    let bass = Arc::make_mut(&mut song.tracks[1]);
    bass.feel.groove = Some(given);
    let hats = Arc::make_mut(song.passes.get_mut(&chaconne_song::PassId(11)).unwrap());
    hats.name = "hats".into();
    let human = Human { timing: 40, loudness: 20, seed: 3 };
    hats.feel = Some(Feel { groove: Some(given), human, ..Feel::off(true) });
    song
}

/// A groove of two bars, in the second of which every step is later.
fn two_bars() -> Arc<Groove> {
    let mut both = Groove::clone(&groove(91, "Rim shots, laid back"));
    both.bars = 2;
    let late = |(at, lean): (&StepAt, &chaconne_song::Lean)| {
        let timing = (lean.timing + Tick(30)).min(both.furthest());
        (StepAt { bar: 2, ..*at }, chaconne_song::Lean { timing, ..*lean })
    };
    let second: Vec<_> = both.steps.iter().map(late).collect();
    both.steps.extend(second);
    Arc::new(both)
}

#[test]
fn the_grooves_are_drawn_as_curves_over_the_bar() {
    let mut stage = Stage::new(song());
    stage.type_text("P");
    insta::assert_snapshot!("grooves_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("grooves_120x40", stage.picture(120, 40));
    insta::assert_snapshot!("grooves_40x12", stage.text(40, 12));
    stage.press([Key::new(Code::Down), Key::new(Code::Right)]);
    insta::assert_snapshot!("grooves_second_bar_80x24", stage.text(80, 24));
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("grooves_without_colour_80x24", stage.picture(80, 24));
    stage.options.glyphs = Glyphs::Ascii;
    insta::assert_snapshot!("grooves_ascii_60x30", stage.text(60, 30));
}

#[test]
fn what_would_be_taken_is_drawn_in_the_form() {
    let mut stage = Stage::new(song());
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("N");
    stage.press([Key::new(Code::Tab)]);
    stage.type_text("1/8");
    insta::assert_snapshot!("take_a_groove_80x24", stage.picture(80, 24));
    stage.type_text("x");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("take_a_groove_refused_40x16", stage.text(40, 16));
}

#[test]
fn the_feel_shows_its_groove_where_there_is_room() {
    let mut stage = Stage::new(song());
    stage.press([Key::new(Code::Down)]);
    stage.type_text("v");
    stage.press([Key::new(Code::Down); 5]);
    insta::assert_snapshot!("feel_with_a_groove_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("feel_with_a_groove_120x40", stage.picture(120, 40));
    insta::assert_snapshot!("feel_with_a_groove_40x16", stage.text(40, 16));
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("feel_with_a_groove_without_colour_80x24", stage.picture(80, 24));
    stage.options.glyphs = Glyphs::Ascii;
    insta::assert_snapshot!("feel_with_a_groove_ascii_80x24", stage.text(80, 24));
}

#[test]
fn the_feel_of_a_layer_and_of_a_part_far_down_leave_its_notes_in_sight() {
    let mut stage = Stage::new(song());
    stage.press([Key::new(Code::Down); 3]);
    stage.type_text("v");
    let text = stage.text(80, 24);
    insta::assert_snapshot!("feel_of_the_last_track_80x24", text);
    assert!(text.contains(" 4 line "), "{text}");
    stage.press([Key::new(Code::Esc), Key::new(Code::Up), Key::new(Code::Up)]);
    stage.press([Key::new(Code::Up), Key::new(Code::F(3))]);
    stage.type_text("V");
    insta::assert_snapshot!("feel_of_a_layer_with_a_groove_80x24", stage.picture(80, 24));
}

#[test]
fn the_head_of_a_track_names_its_groove() {
    let mut stage = Stage::new(song());
    let text = stage.text(80, 24);
    assert!(text.contains(" 2 bass                       1 layer      groove "), "{text}");
    // In five columns there is only a sign that there is more.
    let text = stage.text(100, 24);
    let row = text.lines().find(|line| line.contains(" bass ")).unwrap();
    assert!(row.contains(" -+ ") || row.contains(" groove "), "{row}");
}

#[test]
fn a_note_tells_how_a_groove_makes_it_sound() {
    let mut stage = Stage::new(song());
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    let text = stage.text(80, 24);
    // 96 times 1 + 0.18 * 0.6, and 4 ticks early times 0.8.
    let row = text.lines().find(|line| line.contains("velocity 96")).unwrap();
    assert!(row.contains("velocity 96, sounds 106") && row.contains("3 early"), "{row}");
}
