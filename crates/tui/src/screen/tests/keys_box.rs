//! The box for what keys play: settings, chords on keys, and picking up a chord.

use super::*;
use crate::LiveKey;
use chaconne_song::{ChordKeys, KeysPlay, Stack, Track};

const OPEN: Key = Key::ctrl('k');
const RIGHT: Key = Key::new(Code::Right);
const DOWN: Key = Key::new(Code::Down);

/// A player at a track of chords, with the box open.
fn player() -> Player {
    let mut player = Player::new(four_parts());
    player.press([DOWN, DOWN, OPEN]);
    player
}

fn track(player: &Player) -> Track {
    let status = player.bench.state().status;
    Track::clone(status.song.track(status.armed.unwrap()).unwrap())
}

fn keys(player: &Player) -> ChordKeys {
    track(player).chord_keys
}

/// The chords of their own, as text.
fn own(player: &Player) -> String {
    let own = keys(player).own;
    own.iter().map(|(key, chord)| format!("{} {chord} ", key.get())).collect()
}

fn open(player: &Player) -> Option<&KeysBox> {
    player.screen.overlays.iter().find_map(|open| match open {
        Overlay::Keys(open) => Some(&**open),
        _ => None,
    })
}

/// Strikes keys on an input together, and lets them go.
fn strike(player: &mut Player, keys: &[u8]) {
    player.bench.strike(keys, true);
    player.follow();
    player.bench.strike(keys, false);
    player.follow();
}

#[test]
fn every_setting_is_changed_at_once_and_undone_one_press_at_a_time() {
    let mut player = player();
    player.press([RIGHT; 3]);
    assert_eq!(track(&player).keys_play, KeysPlay::Chords);
    player.press([DOWN, RIGHT, RIGHT, DOWN, RIGHT, DOWN, RIGHT, DOWN, Key::new(Code::Left)]);
    let set = ChordKeys {
        stack: Stack::Ninth,
        inversion: 1,
        open: true,
        leading: false,
        ..ChordKeys::default()
    };
    assert_eq!(keys(&player), set);
    player.press([Key::new(Code::Backspace); 2]);
    let undone = ChordKeys { open: false, leading: true, ..set.clone() };
    assert_eq!(keys(&player), undone);
    assert_eq!(open(&player).unwrap().keys, undone);
    player.press([Key::ctrl('y'), Key::new(Code::Esc)]);
    assert_eq!(keys(&player), ChordKeys { open: true, leading: true, ..set });
    assert!(open(&player).is_none());
}

#[test]
fn a_held_arrow_is_one_step_of_undo_and_stops_at_the_last_choice() {
    let mut player = player();
    player.press([RIGHT]);
    player.hold(RIGHT, 6);
    assert_eq!(track(&player).keys_play, KeysPlay::Chart);
    player.press([Key::new(Code::Backspace)]);
    assert_eq!(track(&player).keys_play, KeysPlay::Notes);
}

#[test]
fn a_triad_has_two_inversions_and_a_ninth_chord_four() {
    let mut player = player();
    player.press([RIGHT, RIGHT, RIGHT, DOWN, DOWN]);
    player.press([RIGHT; 5]);
    assert_eq!(keys(&player).inversion, 2);
    player.press([Key::new(Code::Up), RIGHT, RIGHT, DOWN]);
    player.press([RIGHT; 5]);
    assert_eq!(keys(&player).inversion, ChordKeys::LAST_INVERSION);
}

#[test]
fn letters_sound_while_the_box_is_open_and_choose_their_keys() {
    let mut player = player();
    player.press([Key::char('g')]);
    let sounds = player.effects.iter().any(
        |effect| matches!(effect, Effect::Play(LiveKey::Press { key, .. }) if key.get() == 62),
    );
    assert!(sounds && open(&player).unwrap().key.get() == 62);
    // The letter gives no command of the view: the track is not quantised.
    assert_eq!(track(&player).feel.grid, None);
    player.press([Key::new(Code::PageUp)]);
    assert_eq!((open(&player).unwrap().key.get(), player.screen.piano.octave()), (74, 1));
}

#[test]
fn a_chord_is_typed_for_the_chosen_key_and_an_empty_field_gives_back_the_one_in_the_key() {
    let mut player = player();
    player.press([Key::char('g')]);
    player.enter();
    player.type_text("F#m7b5/E");
    player.enter();
    assert_eq!(own(&player), "62 F#m7b5/E ");
    player.enter();
    player.press([Key::ctrl('u')]);
    player.type_text("H7");
    player.enter();
    let Some(Overlay::Form(form)) = player.screen.overlays.top() else { panic!() };
    let refused = "'H7' is not a chord: write it as Am7, Bb or F#m7b5/E.";
    assert_eq!(form.error.as_deref(), Some(refused));
    player.press([Key::ctrl('u')]);
    player.enter();
    assert!(own(&player).is_empty() && open(&player).is_some());
    player.enter();
    player.type_text("N.C.");
    player.enter();
    assert_eq!(own(&player), "62 N.C. ");
    player.press([Key::new(Code::Delete)]);
    assert!(own(&player).is_empty());
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.screen.notice.text, "This key has no chord of its own.");
}

#[test]
fn a_chord_that_was_played_is_picked_up_and_put_on_the_letter_that_is_struck() {
    let mut player = player();
    // While the loop plays, too.
    player.press([Key::char(' ')]);
    strike(&mut player, &[57, 60, 64, 67]);
    player.press([Key::char('c')]);
    assert_eq!(open(&player).unwrap().waits.as_ref().unwrap().chord, "Am7".parse().ok());
    player.press([Key::char('h')]);
    assert_eq!(own(&player), "64 Am7 ");
    assert!(player.bench.state().is_playing() && open(&player).unwrap().waits.is_none());
}

/// With chord keys the notes of a chord do not tell which key sounded it: meanwhile keys play their notes.
#[test]
fn a_chord_is_put_on_the_key_that_is_struck_on_an_input() {
    let mut player = player();
    player.press([RIGHT; 3]);
    strike(&mut player, &[60, 65, 69]);
    let undo = player.bench.state().status.undo;
    player.press([Key::char('c')]);
    assert_eq!(track(&player).keys_play, KeysPlay::Notes);
    // A key of the chord itself.
    strike(&mut player, &[60]);
    assert_eq!((own(&player).as_str(), track(&player).keys_play), ("60 F/C ", KeysPlay::Chords));
    assert_eq!(open(&player).unwrap().plays, KeysPlay::Chords);
    player.press([Key::new(Code::Backspace)]);
    assert_eq!((own(&player).as_str(), player.bench.state().status.undo), ("", undo));
    // While the chord is still held.
    player.bench.strike(&[60, 64, 67], true);
    player.follow();
    player.press([Key::char('c')]);
    player.bench.strike(&[85], true);
    player.follow();
    assert_eq!(own(&player), "85 C ");
}

#[test]
fn a_chord_that_is_picked_up_can_be_dropped_or_put_on_the_chosen_key() {
    let mut player = player();
    player.press([RIGHT; 3]);
    strike(&mut player, &[60, 64, 67]);
    player.press([Key::char('c'), Key::new(Code::Esc)]);
    assert_eq!((own(&player).as_str(), track(&player).keys_play), ("", KeysPlay::Chords));
    player.press([Key::char('c'), RIGHT, RIGHT]);
    player.enter();
    assert_eq!((own(&player).as_str(), track(&player).keys_play), ("62 C ", KeysPlay::Chords));
    // Something that opens over the box ends the wait.
    player.press([Key::char('c'), Key::ctrl('c')]);
    assert_eq!(track(&player).keys_play, KeysPlay::Chords);
}

#[test]
fn what_is_no_chord_is_not_picked_up() {
    let mut player = player();
    player.press([Key::char('c')]);
    let none = "There is no chord to pick up: play one first, on any input.";
    assert_eq!(player.screen.notice.text, none);
    strike(&mut player, &[60, 61, 62]);
    player.press([Key::char('c')]);
    let unnamed = "C4 C#4 D4 are not a chord with a name: play three or more notes together.";
    assert_eq!(player.screen.notice.text, unnamed);
    assert!(open(&player).unwrap().waits.is_none());
}

#[test]
fn a_key_is_chosen_by_striking_it_on_an_input() {
    let mut player = player();
    player.press([RIGHT; 3]);
    player.press([Key::char('n')]);
    strike(&mut player, &[50]);
    assert_eq!((open(&player).unwrap().key.get(), own(&player).as_str()), (50, ""));
    assert_eq!(track(&player).keys_play, KeysPlay::Chords);
}

#[test]
fn the_box_is_for_a_pitched_track_that_is_armed() {
    let mut player = Player::new(four_parts());
    player.press([OPEN]);
    let drums = "On a drum track every key is a drum: arm a pitched track first.";
    assert_eq!((player.screen.notice.text.as_str(), open(&player).is_none()), (drums, true));
    player.press([DOWN, OPEN]);
    player.bench.command(Command::Arm(TrackId(1)));
    player.follow();
    assert!(open(&player).is_none());
    let mut empty = Player::new(empty_song(4, "4/4"));
    empty.press([OPEN]);
    assert_eq!(empty.screen.notice.text, "There is no track yet: press a to add one.");
}

#[test]
fn what_people_say_who_do_not_play_keys_finds_the_box() {
    use crate::keymap::{Here, Keymap, search};
    let arrows = crate::action::Arrows::Cursor;
    let here = Here { view: View::Loop, piano: false, arrows, keymap: Keymap::default() };
    for typed in [
        "chord keys",
        "chords with one finger",
        "one finger chords",
        "play in key",
        "stay in the scale",
        "stay in key",
        "I don't play keys",
        "I can't play keys",
        "snap to chord",
        "snap to scale",
        "keys play",
        "play chords",
        "voice leading",
        "sevenths",
    ] {
        let found = search(typed, here);
        let first = found.first().map(|entry| entry.binding.action);
        let all: Vec<_> = found.iter().map(|entry| entry.binding.action).take(4).collect();
        assert_eq!(first, Some(Action::SetKeys), "{typed}: {all:?}");
    }
}

#[test]
fn without_a_key_the_box_says_which_is_meant_and_how_to_set_it() {
    let mut player = player();
    player.press([RIGHT]);
    let sentence = open(&player).unwrap().sentence(chaconne_harmony::Harmony::default());
    let said = player.screen.keymap.fill_in(Scene::KeysBox, &sentence);
    let without = "Every key plays the nearest note of C major. The song has no key yet: outside this box E sets it.";
    assert_eq!(said, without);
}
