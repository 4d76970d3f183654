//! Single layers made longer, shorter, faster and slower, and a section's own.

use super::*;
use chaconne_song::TrackId;
use std::sync::Arc;

/// Four parts in A, which B shares.
fn player() -> Player {
    let mut song = four_parts();
    let copy = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    Player::new(song)
}

/// The lengths of the layers of a track in a section, in bars, the top one first.
fn bars(player: &Player, letter: &str, track: u32) -> Vec<i64> {
    let song = player.song();
    let section = song.section(letter.parse().unwrap()).unwrap();
    song.layers_of(section, TrackId(track)).rev().map(|(_, pass)| pass.length.0 / 3840).collect()
}

fn preview(player: &Player) -> String {
    let Some(Overlay::Form(form)) = player.screen.overlays.top() else { panic!("no form") };
    form.preview().unwrap().to_string()
}

#[test]
fn the_chosen_layer_gets_another_length_and_the_box_says_what_comes_of_it() {
    let mut player = player();
    player.press([Key::new(Code::F(3)), Key::new(Code::Down), Key::char('A')]);
    // What is typed as a number of bars is a length.
    player.press([Key::new(Code::Down), Key::ctrl('u')]);
    player.type_text("2");
    assert_eq!(
        preview(&player),
        "Layer 1 of drums has 2 bars, 8 notes (8 fewer); B plays on as before."
    );
    player.enter();
    assert_eq!((bars(&player, "A", 1), bars(&player, "B", 1)), (vec![4, 2], vec![4, 4]));
    let said = player.bench.state().status.said.1;
    assert!(said.ends_with("; B plays on as before; undo restores it"), "{said}");
    player.type_text("u");
    assert_eq!(bars(&player, "A", 1), [4, 4]);
}

#[test]
fn all_layers_of_a_track_are_arranged_from_the_notes_and_one_is_made_own() {
    let mut player = player();
    player.press([Key::new(Code::F(4)), Key::char('y'), Key::char('A')]);
    player.press([Key::new(Code::Right); 3]);
    assert_eq!(
        preview(&player),
        "The layers of drums are in half time: 8 bars, 48 notes; B plays on as before."
    );
    player.enter();
    assert_eq!(bars(&player, "A", 1), [8, 8]);
    player.type_text("u");
    // From the choice of layers back to one, and from half time to a layer of its own.
    player.type_text("A");
    player.press([Key::new(Code::Right); 5]);
    player.press([Key::new(Code::Up), Key::new(Code::Left)]);
    let number = preview(&player);
    assert!(number.ends_with(" of drums is now A's own; B plays on as before."), "{number}");
    player.enter();
    let song = player.song();
    let shared = song.sections[0].layers.iter().filter(|layer| song.is_shared(layer.pass));
    assert_eq!(shared.count(), 4);
    assert_eq!(song.section(Letter::A).unwrap().layers.len(), 5);
}

#[test]
fn what_cannot_be_done_to_a_layer_is_said_in_its_box() {
    let mut player = player();
    player.press([Key::new(Code::F(3)), Key::char('A'), Key::new(Code::Down), Key::ctrl('u')]);
    player.type_text("1000");
    player.enter();
    assert!(player.form_error().unwrap().contains("999"), "{:?}", player.form_error());
    player.press([Key::new(Code::Up)]);
    player.press([Key::new(Code::Right); 5]);
    player.enter();
    assert_eq!(player.form_error(), None);
    player.type_text("A");
    player.press([Key::new(Code::Right); 5]);
    assert_eq!(preview(&player), "No other section shares this layer.");
    player.enter();
    assert_eq!(player.form_error().unwrap(), "No other section shares this layer.");
}
