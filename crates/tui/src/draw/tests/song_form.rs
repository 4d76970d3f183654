//! The view of the form as pictures.

use super::*;
use chaconne_song::{KeySignature, Layer, Song, Transpose};

/// A verse with four parts, a chorus that shares two of their passes, and a bridge in another metre.
fn three_sections() -> Song {
    let mut song = four_parts();
    let metre = |bars, metre: &str| MetreMap::new(bars, metre.parse().unwrap()).unwrap();
    let mut verse = Section::clone(&song.sections[0]);
    verse.name = "Verse".into();
    let mut chorus = Section::new("B".parse().unwrap(), metre(8, "4/4"), Tempo::DEFAULT);
    chorus.name = "Chorus, with all the voices".into();
    chorus.key = Some("D minor".parse::<KeySignature>().unwrap());
    chorus.layers = verse.layers.iter().take(2).map(|layer| Layer::of(layer.pass)).collect();
    let slow = Tempo::parse_bpm("93.7").unwrap();
    let bridge = Section::new("C".parse().unwrap(), metre(2, "7/8"), slow);
    song.sections = [verse, chorus, bridge].map(Arc::new).to_vec();
    song.key = Some("F major".parse::<KeySignature>().unwrap());
    song
}

fn stage(form: &str) -> Stage {
    let mut song = three_sections();
    song.form = form.parse().unwrap();
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(6))]);
    stage
}

#[test]
fn the_form_is_drawn_stopped_on_every_size() {
    let mut stage = stage("A A B A (B C) x2");
    stage.press([Key::new(Code::Right), Key::new(Code::Down)]);
    insta::assert_snapshot!("form_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("form_120x40", stage.text(120, 40));
    insta::assert_snapshot!("form_200x60", stage.text(200, 60));
    insta::assert_snapshot!("form_40x12", stage.text(40, 12));
}

#[test]
fn the_keys_in_the_list_of_sections_are_those_that_sound() {
    let mut song = three_sections();
    song.transpose = Transpose::new(-2).unwrap();
    Arc::make_mut(&mut song.sections[2]).transpose = Transpose::new(1).unwrap();
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(6))]);
    let text = stage.text(120, 40);
    let keys = ["Eb major", "C minor", "E major"];
    let rows = text.lines().filter(|line| keys.iter().any(|key| line.contains(key)));
    assert_eq!(rows.count(), 3, "{text}");
    assert!(!text.contains("F major") && !text.contains("D minor"), "{text}");
}

#[test]
fn a_span_of_the_form_stands_in_brackets() {
    let mut stage = stage("A A B A (B C) x2");
    stage.press([Key::new(Code::Right); 2]);
    stage.type_text("m");
    stage.press([Key::new(Code::Right); 3]);
    stage.type_text("mLf");
    stage.wait(5_000);
    insta::assert_snapshot!("form_span_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("form_span_120x40", stage.text(120, 40));
}

/// What is to come is in the head: by how many semitones, and whether at the seam, a bar or a beat.
#[test]
fn a_key_change_to_come_is_in_the_head() {
    let mut stage = stage("A B A");
    stage.type_text("f");
    stage.wait(11_000);
    stage.type_text("]]");
    stage.wait(100);
    insta::assert_snapshot!("form_key_change_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("form_key_change_120x40", stage.text(120, 40));
    let narrow = stage.text(60, 16);
    assert!(narrow.contains("+2 seam"), "{narrow}");
    stage.wait(20_000);
    assert!(!stage.text(80, 24).contains("+2 seam"));
}

#[test]
fn the_form_is_drawn_while_it_plays() {
    let mut stage = stage("A B A");
    stage.type_text("f");
    stage.wait(11_000);
    insta::assert_snapshot!("form_playing_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("form_playing_60x16", stage.text(60, 16));
}

#[test]
fn the_head_shows_where_in_a_long_form_the_song_stands() {
    let mut stage = stage("A A B A B C A A B");
    stage.press((0..3).map(|_| Key::new(Code::Right)));
    stage.type_text("f");
    stage.wait(300);
    let head = |text: String| text.lines().nth(2).unwrap_or_default().to_string();
    let wide = head(stage.text(80, 24));
    assert!(wide.contains("1.1  ") && wide.contains("4 of 9  A A B A B C…  4/4"), "{wide}");
    let whole = head(stage.text(120, 40));
    assert!(whole.contains("4 of 9  A A B A B C A A B "), "{whole}");
    // However narrow the screen is, the section and the bar are there.
    for width in 40..80 {
        let fields = head(stage.text(width, 24));
        let fields: Vec<&str> = fields.split_whitespace().collect();
        assert!(fields.contains(&"1.1") && fields.contains(&"A"), "{width}: {fields:?}");
    }
}

#[test]
fn the_head_and_the_playhead_are_back_in_the_form_after_a_detour() {
    let mut stage = stage("C C A C");
    let shows = |stage: &mut Stage| {
        let text = stage.text(120, 40);
        let head = text.lines().nth(2).unwrap_or_default().to_string();
        (head, text.contains('▼'))
    };
    stage.type_text("f");
    stage.wait(300);
    stage.type_text("h");
    let (head, playhead) = shows(&mut stage);
    assert!(head.contains("1 of 4") && playhead, "{head}");
    while stage.bench.state().status.in_form.is_some() {
        stage.wait(100);
    }
    let (head, playhead) = shows(&mut stage);
    assert!(!head.contains(" of ") && !playhead, "{head}");
    stage.type_text("B");
    while stage.bench.state().status.in_form.is_none() {
        stage.wait(100);
    }
    let (head, playhead) = shows(&mut stage);
    assert!(head.contains("2 of 4  C C A C") && playhead, "{head}");
}

#[test]
fn a_song_without_a_form_says_how_to_write_one() {
    let mut stage = stage("");
    insta::assert_snapshot!("no_form_80x24", stage.text(80, 24));
    stage.type_text("F");
    stage.type_text("a q");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("form_refused_80x24", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("s");
    insta::assert_snapshot!("new_section_80x24", stage.text(80, 24));
}

#[test]
fn the_form_is_drawn_in_ascii_and_a_long_one_in_pages() {
    let mut stage = stage("(A B C) x40");
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    stage.press((0..70).map(|_| Key::new(Code::Right)));
    insta::assert_snapshot!("form_ascii_80x24", stage.text(80, 24));
}

#[test]
fn nothing_moves_over_the_form_on_a_calm_screen() {
    let mut stage = stage("A B A");
    stage.options.calm = true;
    stage.type_text("f");
    stage.wait(300);
    let before = stage.text(80, 24);
    stage.wait(300);
    assert_eq!(stage.text(80, 24), before);
    assert!(before.contains("1 of 3"), "{before}");
}

#[test]
fn what_undo_would_undo_names_its_section_if_there_are_several() {
    let mut song = four_parts();
    let mut stage = Stage::new(song.clone());
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("m");
    assert!(stage.text(100, 24).contains("undo: mute layer on drums\n"));
    let copy = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("m");
    assert!(stage.text(100, 24).contains("undo: mute layer on drums in section A"));
}

#[test]
fn a_column_that_no_section_fills_has_no_caption_and_keeps_its_place() {
    let heads = |song| {
        let mut stage = Stage::new(song);
        stage.press([Key::new(Code::F(6))]);
        let text = stage.text(120, 40);
        text.lines().find(|line| line.contains("metre  tempo   ")).unwrap().to_string()
    };
    let empty = empty_song(4, "4/4");
    let mut keyed = empty.clone();
    keyed.key = "F major".parse().ok();
    let (without, with) = (heads(empty), heads(keyed));
    assert!(!without.contains("key") && !without.contains("shares with"), "{without}");
    assert!(with.contains("key") && !with.contains("shares with"), "{with}");
    assert_eq!(without.find("layers"), with.find("layers"));
}
