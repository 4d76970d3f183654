//! The view of the layers, and the layers on large screens.

use super::*;

#[test]
fn the_round_that_is_recorded_is_the_top_row_of_the_layers() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("ehats");
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("0r");
    stage.wait(300);
    for key in [42, 46] {
        stage.bench.play(key, 90);
        stage.wait(400);
    }
    insta::assert_snapshot!("layers_recording_80x24", stage.text(80, 24));
    insta::assert_snapshot!("layers_recording_120x40", stage.text(120, 40));
}

#[test]
fn a_layer_that_another_replaces_is_marked() {
    let mut song = four_parts();
    let bar = 3840;
    let mut replaced = Pass::clone(&pass(15, 2, 4 * bar, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(bar))];
    song.lay(Letter::A, Arc::new(replaced));
    let mut punched = Pass::clone(&pass(16, 1, 4 * bar, &[(0, 60, 36, 90)]));
    punched.covers = vec![Span::new(Tick::ZERO, Tick(4 * bar))];
    song.lay(Letter::A, Arc::new(punched));
    let mut stage = Stage::new(song);
    insta::assert_snapshot!("layers_punched_120x40", stage.picture(120, 40));
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("layers_replaced_120x40", stage.picture(120, 40));
}

#[test]
fn layers_are_listed_if_there_is_room_for_one() {
    let mut song = four_parts();
    song.tracks.truncate(3);
    song.lay(Letter::A, pass(30, 1, 2 * 3840, &[(0, 60, 49, 100)]));
    let mut stage = Stage::new(song);
    let text = stage.text(79, 23);
    let caption = " layers of drums, top first ─ 2 more layers below ";
    assert!(text.contains(caption), "{text}");
    assert!(text.contains(" 3 2 bars                        1 note\n"), "{text}");
    // With more room, all layers are listed.
    let text = stage.text(79, 25);
    assert!(text.contains("16 notes") && !text.contains("below"), "{text}");
}

#[test]
fn the_layers_of_a_track_are_drawn() {
    let mut song = four_parts();
    let mut replaced = Pass::clone(&pass(15, 2, 3840, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(960))];
    song.lay(Letter::A, Arc::new(replaced));
    song.lay(Letter::A, pass(16, 2, 4 * 3840, &[(3000, 300, 60, 70), (6000, 300, 62, 80)]));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::Tab), Key::new(Code::Down)]);
    stage.type_text("m");
    insta::assert_snapshot!("layers_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("layers_120x40", stage.text(120, 40));
    insta::assert_snapshot!("layers_40x12", stage.text(40, 12));
}

#[test]
fn a_track_without_layers_says_which_key_records_one() {
    let mut song = four_parts();
    song.tracks.push(Arc::new(Track::pitched(TrackId(5), "pad")));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(3)); 1].into_iter().chain([Key::new(Code::PageDown); 4]));
    assert!(stage.text(80, 24).contains("No layers yet: r records one."));
    stage.type_text("p");
    assert!(stage.text(80, 24).contains("No layers yet: Enter records one."));
}

#[test]
fn the_line_of_keys_of_the_layers_leads_to_other_tracks_at_80_columns() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    let text = stage.text(80, 24);
    for keys in ["PgUp PgDn track", "V layer feel", "Space play"] {
        assert!(text.contains(keys), "{keys}: {text}");
    }
}
