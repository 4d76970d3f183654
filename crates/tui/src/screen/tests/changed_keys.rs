//! A screen with changed keys.

use super::*;
use crate::keymap::Keymap;
use crate::options::Keyboard;

fn player(keys: &str) -> Player {
    let mut player = Player::new(four_parts());
    let keymap = Keymap::read(keys, Keyboard::Us).unwrap();
    player.screen.keymap = keymap;
    player
}

#[test]
fn a_changed_key_acts_and_the_old_one_says_that_it_does_nothing() {
    let mut player =
        player("{ \"loop\": { \"mute\": [\"x\"] }, \"views\": { \"add-track\": [\"Z\"] } }");
    player.type_text("x");
    assert_eq!(player.last(), "Command(Next(MuteTrack(TrackId(1))))");
    let effects = player.effects.len();
    player.type_text("m");
    assert_eq!(player.effects.len(), effects);
    let said = "The m key does nothing here. Layers F3: mute; notes F4: move; levels F5, ports F7: mute; form F6: mark span.";
    assert_eq!(player.screen.notice.text, said);
    player.type_text("/mute the track");
    let Some(Overlay::Finder(finder)) = player.screen.overlays.top() else { panic!() };
    assert_eq!(finder.chosen().unwrap().key_words(player.screen.keymap), "x");
    player.press([Key::new(Code::Esc)]);
    player.type_text("Z");
    assert_eq!(player.screen.scene(), Scene::Form);
}

#[test]
fn messages_and_the_help_name_the_changed_keys() {
    let mut player = player(
        "{ \"views\": { \"add-track\": [\"Ctrl-N\"] }, \"loop\": { \"zoom-in\": [\"Z\"] } }",
    );
    let state = Player::new(empty_song(4, "4/4")).bench.state();
    let mut out = Vec::new();
    player.screen.chosen = None;
    player.screen.ask(Action::Mute, &state, &mut out);
    assert_eq!(player.screen.notice.text, "There is no track yet: press Ctrl-N to add one.");
    let lines = crate::manual::help(80, player.screen.keymap, None);
    let has = |words: &str| lines.iter().any(|line| format!("{line:?}").contains(words));
    assert!(has("Key(\"Ctrl-N\"") && has("Key(\"Z >\""), "{lines:?}");
}

#[test]
fn no_message_names_a_key_that_was_changed() {
    let mut player = player(
        "{ \"views\": { \"record\": [\"F10\"], \"undo\": [\"F11\"] },
           \"notes\": { \"draw\": [\"F12\"], \"arrow-up\": [\"8\"], \"arrow-down\": [\"7\"] } }",
    );
    let said = |player: &Player| player.screen.notice.text.clone();
    player.press([Key::new(Code::F(4))]);
    player.type_text("b");
    player.press([Key::new(Code::F(12))]);
    assert_eq!(said(&player), "A velocity belongs to its note: 8 and 7 change it.");
    player.type_text("B11");
    player.press([Key::new(Code::Enter)]);
    player.type_text(".");
    assert_eq!(said(&player), "There are no points here: F12 adds one.");
    player.press([Key::new(Code::F(12)), Key::new(Code::F(12))]);
    assert_eq!(said(&player), "There is a point here already: 8 and 7 change it.");
    player.press([Key::new(Code::F(2))]);
    player.type_text(" ");
    player.press([Key::new(Code::F(10))]);
    player.type_text("X");
    assert_eq!(said(&player), "Stop recording first: press F10.");
}
