//! What keys play, as a box over the foot.

use super::*;

/// A song in E flat major with a chart, whose third track is armed: its keys play chords.
fn stage() -> Stage {
    let mut song = four_parts();
    song.key = "Eb major".parse().ok();
    let section = Arc::make_mut(&mut song.sections[0]);
    section.chords = chaconne_harmony::chart("Eb | Cm7 | Ab | Bb7", &section.metre).unwrap();
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down); 2]);
    stage
}

fn open(stage: &mut Stage) {
    stage.press([Key::ctrl('k')]);
}

#[test]
fn what_keys_play_is_drawn_on_every_size() {
    let mut stage = stage();
    open(&mut stage);
    insta::assert_snapshot!("keys_notes_80x24", stage.picture(80, 24));
    stage.press([Key::new(Code::Right); 3]);
    stage.press([Key::char('h'), Key::new(Code::Enter)]);
    stage.type_text("F#m7b5/E");
    insta::assert_snapshot!("chord_on_key_80x24", stage.text(80, 24));
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("keys_chords_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("keys_chords_120x40", stage.text(120, 40));
    insta::assert_snapshot!("keys_chords_60x18", stage.text(60, 18));
    insta::assert_snapshot!("keys_chords_40x24", stage.text(40, 24));
    insta::assert_snapshot!("keys_chords_40x10", stage.text(40, 10));
}

#[test]
fn a_refusal_is_read_in_the_box_over_the_row_of_messages() {
    let mut stage = stage();
    open(&mut stage);
    stage.type_text("c");
    for (width, height) in [(80, 24), (40, 10)] {
        let text = stage.text(width, height).replace(['│', '\n'], " ");
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").contains("There is no chord to pick up: play one first"), "{text}");
    }
    stage.press([Key::new(Code::Down)]);
    assert!(!stage.text(80, 24).contains("There is no chord"));
}

/// Sets what the keys play, so many steps after notes, and closes the box.
fn set(stage: &mut Stage, steps: usize) {
    open(stage);
    stage.press(std::iter::repeat_n(Key::new(Code::Right), steps));
    stage.press([Key::new(Code::Esc)]);
}

#[test]
fn the_letters_of_the_piano_have_the_names_of_what_they_play() {
    for (steps, name) in [(1, "scale"), (2, "chord_notes"), (3, "chords"), (4, "chart")] {
        let mut stage = stage();
        set(&mut stage, steps);
        stage.type_text("p");
        insta::assert_snapshot!(format!("piano_{name}_80x24"), stage.text(80, 24));
        if name == "chords" {
            insta::assert_snapshot!("piano_chords_60x24", stage.text(60, 24));
            insta::assert_snapshot!("piano_chords_40x24", stage.text(40, 24));
            insta::assert_snapshot!("piano_chords_40x10", stage.text(40, 10));
            insta::assert_snapshot!("piano_chords_120x40", stage.text(120, 40));
        }
    }
}

#[test]
fn the_chord_that_is_held_is_named_and_stays_until_the_next_press() {
    let mut stage = stage();
    set(&mut stage, 3);
    assert!(!stage.text(80, 24).contains("chord "), "{}", stage.text(80, 24));
    // C minor seventh over E flat, as its key plays it; without that it would be E flat with a sixth.
    stage.press([Key::ctrl('k'), Key::new(Code::Down), Key::new(Code::Right), Key::new(Code::Esc)]);
    stage.bench.strike(&[63, 67, 70, 72], true);
    stage.wait(10);
    insta::assert_snapshot!("chord_held_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("chord_held_40x10", stage.picture(40, 10));
    insta::assert_snapshot!("chord_held_120x40", stage.text(120, 40));
    stage.bench.strike(&[63, 67, 70, 72], false);
    stage.wait(10);
    insta::assert_snapshot!("chord_let_go_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("chord_let_go_40x10", stage.picture(40, 10));
    stage.bench.strike(&[60], true);
    stage.wait(10);
    let text = stage.text(80, 24);
    assert!(text.lines().nth(2).unwrap().trim_end().ends_with(" -"), "{text}");
}

#[test]
fn a_chord_is_named_alone_while_the_one_before_is_still_held() {
    let mut stage = stage();
    set(&mut stage, 3);
    let named = |stage: &mut Stage| {
        stage.wait(10);
        let text = stage.text(80, 24);
        text.lines().nth(2).unwrap().split_whitespace().last().unwrap().to_string()
    };
    stage.bench.strike(&[63, 67, 70], true);
    assert_eq!(named(&mut stage), "Eb");
    // C minor over the E flat that both have.
    stage.bench.strike(&[67, 72, 75], true);
    assert_eq!(named(&mut stage), "Cm/Eb");
    stage.bench.strike(&[63, 70], false);
    stage.bench.strike(&[68, 72, 75], true);
    assert_eq!(named(&mut stage), "Ab");
    // Where keys play notes, everything that is held counts.
    let mut stage = self::stage();
    stage.bench.strike(&[63, 67, 70], true);
    assert_eq!(named(&mut stage), "Eb");
    stage.bench.strike(&[67, 72, 75], true);
    assert_eq!(named(&mut stage), "Eb6");
}

#[test]
fn the_box_can_be_drawn_in_ascii_without_colour() {
    let mut stage = stage();
    open(&mut stage);
    stage.press([Key::new(Code::Right); 4]);
    stage.press([Key::char('d'), Key::new(Code::Enter)]);
    stage.type_text("Gb");
    stage.press([Key::new(Code::Enter)]);
    (stage.options.colours, stage.options.glyphs) = (Colours::None, Glyphs::Ascii);
    insta::assert_snapshot!("keys_chart_ascii_80x24", stage.picture(80, 24));
}
