//! The view of the notes, and the lists over it.

use super::*;

/// The bass, some of it moved and selected, shared with another section.
fn edited_notes() -> Stage {
    let mut song = four_parts();
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut section = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    section.layers.push(chaconne_song::Layer::of(chaconne_song::PassId(12)));
    song.sections.push(Arc::new(section));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text(".sbm");
    stage.press([Key::new(Code::Up), Key::new(Code::Right), Key::new(Code::Right)]);
    stage
}

#[test]
fn the_notes_of_a_layer_are_drawn() {
    let mut stage = edited_notes();
    for (width, height) in [(80, 24), (120, 40), (200, 60), (40, 12)] {
        let name = format!("notes_{width}x{height}");
        insta::assert_snapshot!(name, stage.picture(width, height));
    }
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("notes_ascii", stage.picture(80, 24));
}

#[test]
fn a_transposed_song_has_one_key_on_the_whole_screen() {
    let mut song = four_parts();
    song.key = "D major".parse().ok();
    song.transpose = chaconne_song::Transpose::new(-2).unwrap();
    let section = Arc::make_mut(&mut song.sections[0]);
    section.chords = chaconne_harmony::chart("D | C", &section.metre).unwrap();
    // D4 and C4 as written sound as C4 and Bb3.
    song.lay(Letter::A, pass(15, 2, 3840, &[(0, 200, 62, 90), (960, 200, 60, 90)]));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    let text = stage.text(120, 40);
    assert!(text.contains("1 C ") && text.contains("2 Bb "), "{text}");
    // The rows of the two notes.
    assert!(text.contains(" C4 │▆") && text.contains(" Bb3 │    ▆"), "{text}");
    assert!(!text.contains("A#"), "{text}");
}

#[test]
fn the_notes_of_drums_are_drawn_by_name() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(4))]);
    stage.type_text("y.");
    insta::assert_snapshot!("notes_of_drums", stage.picture(80, 24));
    stage.type_text("z");
    insta::assert_snapshot!("notes_of_every_drum", stage.picture(80, 24));
}

#[test]
fn the_lists_over_the_notes_are_drawn() {
    let mut stage = edited_notes();
    stage.type_text("e");
    insta::assert_snapshot!("notes_edit", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("s");
    insta::assert_snapshot!("notes_select", stage.text(40, 12));
}

#[test]
fn the_notes_of_a_longer_pass_are_drawn_with_the_round_that_plays() {
    let mut song = four_parts();
    let notes = [(0, 900, 40, 90), (4 * 3840, 900, 45, 90), (7 * 3840, 900, 47, 90)];
    song.lay(Letter::A, pass(15, 2, 8 * 3840, &notes));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text(" ");
    // Into the second round.
    stage.wait(9000);
    insta::assert_snapshot!("notes_of_a_longer_pass", stage.text(80, 24));
}

#[test]
fn on_a_screen_of_another_size_the_notes_are_in_the_middle_again() {
    let mut stage = Stage::new(four_parts());
    // On a low screen three keys around the cursor have room.
    stage.screen.size = (80, 12);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    assert!(!stage.text(80, 12).contains(" C4 │"));
    // On a higher one all keys of the bass have, from F2 to C4.
    stage.screen.size = (80, 50);
    stage.wait(10);
    let text = stage.text(80, 50);
    assert!(text.contains(" C4 │") && text.contains(" F2 │"), "{text}");
}

#[test]
fn beside_the_keys_a_wide_screen_tells_how_many_notes_they_have_and_how_hard_they_are() {
    let mut stage = Stage::new(four_parts());
    let of = |text: &str, name: &str, facts: &str| {
        text.lines().any(|row| row.contains(&format!("{facts}  ")) && row.contains(name))
    };
    let text = stage.text(140, 45);
    assert!(of(&text, " Bass Drum 1 │", " 8 notes, velocity 90 to 110"), "{text}");
    assert!(of(&text, " Closed Hi-Hat │", " 32 notes, velocity 45 to 70"), "{text}");
    stage.press([Key::new(Code::Down)]);
    let text = stage.text(140, 45);
    assert!(of(&text, " C3 │", " 2 notes, velocity 96"), "{text}");
    stage.press([Key::new(Code::F(4))]);
    let text = stage.text(140, 45);
    assert!(of(&text, "C3 │", " 2 notes") && !text.contains(" 2 notes, "), "{text}");
    assert!(!stage.text(80, 24).contains(" 2 notes"));
}
