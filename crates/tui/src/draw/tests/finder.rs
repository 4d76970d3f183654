//! Pictures of the finder.

use super::*;

#[test]
fn the_finder_is_drawn_on_every_size() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("/");
    insta::assert_snapshot!("finder_80x24", stage.picture(80, 24));
    stage.type_text("louder");
    insta::assert_snapshot!("finder_typed_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("finder_typed_40x10", stage.picture(40, 10));
    insta::assert_snapshot!("finder_typed_140x44", stage.picture(140, 44));
}

#[test]
fn the_finder_says_what_an_action_needs() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::char('p'), Key::new(Code::F(9))]);
    stage.type_text("stop");
    insta::assert_snapshot!("finder_not_now_80x24", stage.picture(80, 24));
    stage.type_text(" xylophone");
    stage.press([Key::ctrl('u')]);
    stage.type_text("zebra");
    insta::assert_snapshot!("finder_nothing_80x24", stage.picture(80, 24));
}

#[test]
fn the_finder_answers_what_no_action_does() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("/fade out");
    insta::assert_snapshot!("finder_topic_80x24", stage.picture(80, 24));
    stage.press([Key::ctrl('u')]);
    stage.type_text("lyrics");
    insta::assert_snapshot!("finder_no_such_80x24", stage.picture(80, 24));
    stage.press([Key::ctrl('u')]);
    stage.type_text("qunatise the bass xylophone");
    insta::assert_snapshot!("finder_aimed_80x24", stage.picture(80, 24));
}

#[test]
fn every_explanation_is_shown_whole() {
    use crate::keymap::table;
    let stage = Stage::new(four_parts());
    for binding in table() {
        let words = format!("On chords: {}", stage.screen.with_keys(binding.sentence));
        let lines = crate::text::wrap(&words, 74);
        assert!(lines.len() <= 3, "{lines:?}");
    }
}
