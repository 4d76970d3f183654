//! The list and the boxes that arrange a section, as pictures.

use super::*;
use chaconne_song::Song;

/// Two sections, with a ramp at the end of the first.
fn song() -> Song {
    let mut song = four_parts();
    let metre = MetreMap::new(8, "4/4".parse().unwrap()).unwrap();
    let mut verse = Section::clone(&song.sections[0]);
    verse.name = "Verse".into();
    let chorus = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    song.sections = vec![Arc::new(verse), Arc::new(chorus)];
    song.form = "A B A B".parse().unwrap();
    song
}

fn stage() -> Stage {
    let mut stage = Stage::new(song());
    stage.press([Key::new(Code::F(6))]);
    stage
}

#[test]
fn the_list_and_the_boxes_are_drawn() {
    let mut stage = stage();
    stage.type_text("A");
    insta::assert_snapshot!("arrange_list_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("arrange_list_40x12", stage.text(40, 12));
    stage.type_text("s");
    insta::assert_snapshot!("split_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("split_120x40", stage.text(120, 40));
    insta::assert_snapshot!("split_40x12", stage.text(40, 12));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("Ab16");
    insta::assert_snapshot!("length_80x24", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("Al5");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("lift_refused_80x24", stage.text(80, 24));
}

#[test]
fn the_tempo_box_says_what_comes_of_it() {
    let mut stage = stage();
    stage.type_text("M3:20");
    insta::assert_snapshot!("tempo_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("tempo_120x40", stage.text(120, 40));
    insta::assert_snapshot!("tempo_40x12", stage.text(40, 12));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    stage.press([Key::ctrl('u')]);
    stage.type_text("104 to 92 over 2 bars");
    insta::assert_snapshot!("tempo_ramp_ascii_80x24", stage.text(80, 24));
}

#[test]
fn a_ramp_is_shown_with_its_two_tempi() {
    let mut stage = stage();
    stage.type_text("M120 to 92.5 over 2 bars");
    stage.press([Key::new(Code::Enter)]);
    stage.press([Key::new(Code::Down)]);
    stage.type_text("Mto 144 in 1 bar");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("ramps_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("ramps_120x40", stage.text(120, 40));
    insta::assert_snapshot!("ramps_40x12", stage.text(40, 12));
    stage.press([Key::new(Code::Up)]);
    stage.options.glyphs = Glyphs::Ascii;
    insta::assert_snapshot!("ramps_ascii_80x24", stage.text(80, 24));
}

#[test]
fn suggested_keys_and_parts_beyond_their_compass_are_drawn() {
    let mut song = song();
    let [low, high] = [60, 76].map(|key| U7::new(key).unwrap());
    Arc::make_mut(&mut song.tracks[3]).compass = chaconne_song::Compass::new(low, high);
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(6))]);
    stage.type_text("Y");
    insta::assert_snapshot!("key_box_80x24", stage.picture(80, 24));
    stage.press([Key::new(Code::Down); 4]);
    insta::assert_snapshot!("key_box_compass_80x24", stage.text(80, 24));
    insta::assert_snapshot!("key_box_compass_120x40", stage.text(120, 40));
    insta::assert_snapshot!("key_box_compass_40x12", stage.text(40, 12));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("key_box_ascii_80x24", stage.text(80, 24));
}
