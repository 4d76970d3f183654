//! The view of the layers: every key, against the song of a real engine.

use super::*;
use crate::testing::pass;
use chaconne_song::{PassId, TrackId};
use std::sync::Arc;

/// Three passes of the bass, the lowest first; the lowest is shared with section B.
fn stacked() -> Song {
    let mut song = four_parts();
    song.lay(Letter::A, pass(15, 2, 3840, &[(0, 200, 50, 90)]));
    song.lay(Letter::A, pass(16, 1, 3840, &[(0, 200, 40, 90)]));
    song.lay(Letter::A, pass(17, 2, 3840, &[(480, 200, 52, 90)]));
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut section = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    section.layers.push(chaconne_song::Layer::of(PassId(12)));
    song.sections.push(std::sync::Arc::new(section));
    song
}

fn player() -> Player {
    let mut player = Player::new(stacked());
    player.press([Key::new(Code::Down), Key::new(Code::F(3))]);
    player
}

impl Player {
    /// The passes of the bass, top first, with an M after those that are muted.
    fn stack(&self) -> String {
        let state = self.bench.state();
        let stack = self.screen.stack(&state).unwrap();
        let word = |(pass, mute): &(std::sync::Arc<chaconne_song::Pass>, bool)| {
            format!("{}{}", pass.id.0, if *mute { "M" } else { "" })
        };
        stack.layers.iter().map(word).collect::<Vec<_>>().join(" ")
    }

    fn cursor(&self) -> Option<u32> {
        let stack = self.screen.stack(&self.bench.state())?;
        self.screen.layers.chosen(&stack).map(|at| stack.layers[at].0.id.0)
    }
}

#[test]
fn a_muted_layer_that_is_soloed_is_said_to_be_muted() {
    let mut player = player();
    player.type_text("s");
    assert!(!player.screen.notice.text.contains("muted"), "{}", player.screen.notice.text);
    player.type_text("sms");
    assert_eq!(player.screen.notice.text, "The layer is muted: m unmutes it.");
}

#[test]
fn a_layer_can_be_muted_moved_and_removed_and_each_is_undone() {
    let mut player = player();
    assert_eq!((player.stack().as_str(), player.cursor()), ("17 15 12", Some(17)));
    player.press([Key::new(Code::Down)]);
    player.type_text("m");
    assert_eq!((player.stack().as_str(), player.cursor()), ("17 15M 12", Some(15)));
    player.type_text(",");
    assert_eq!((player.stack().as_str(), player.cursor()), ("15M 17 12", Some(15)));
    player.type_text("..");
    assert_eq!((player.stack().as_str(), player.cursor()), ("17 12 15M", Some(15)));
    player.press([Key::new(Code::Delete)]);
    assert_eq!((player.stack().as_str(), player.cursor()), ("17 12", Some(12)));
    for before in ["17 12 15M", "17 15M 12", "15M 17 12", "17 15M 12", "17 15 12"] {
        player.type_text("u");
        assert_eq!(player.stack(), before);
    }
}

#[test]
fn a_layer_can_be_heard_without_the_others() {
    let mut player = player();
    player.type_text("s");
    assert_eq!(player.bench.state().status.solo_passes, [PassId(17)].into());
    player.type_text("s");
    assert!(player.bench.state().status.solo_passes.is_empty());
}

#[test]
fn a_shared_layer_can_be_made_the_sections_own() {
    let mut player = player();
    player.type_text("o");
    assert_eq!(player.screen.notice.text, "No other section shares this layer.");
    player.press([Key::new(Code::End)]);
    assert_eq!(player.cursor(), Some(12));
    player.type_text("o");
    let song = player.bench.state().status.song;
    let own = player.cursor().map(PassId).unwrap();
    assert!(own != PassId(12) && !song.is_shared(own) && !song.is_shared(PassId(12)));
    assert_eq!(song.pass(own).unwrap().notes(), song.pass(PassId(12)).unwrap().notes());
    player.type_text("u");
    assert_eq!((player.stack().as_str(), player.cursor()), ("17 15 12", Some(17)));
}

#[test]
fn the_ends_of_the_stack_are_named_and_nothing_changes() {
    let mut player = player();
    player.type_text(",");
    assert_eq!(player.screen.notice.text, "This is the top layer.");
    player.press([Key::new(Code::End)]);
    player.type_text(".");
    assert_eq!(player.screen.notice.text, "This is the bottom layer.");
    assert_eq!(player.bench.state().status.undo, None);
}

#[test]
fn a_view_keeps_its_place_while_another_is_shown() {
    let mut player = player();
    player.press([Key::new(Code::Down)]);
    player.press(View::ALL.map(|_| Key::new(Code::Tab)));
    assert_eq!((player.screen.view, player.cursor()), (View::Layers, Some(15)));
    player.press([Key::new(Code::BackTab)]);
    assert_eq!(player.screen.view, View::Loop);
    // In the loop the arrows choose a track, and m mutes it.
    player.press([Key::new(Code::Up)]);
    player.type_text("m");
    assert_eq!(player.screen.chosen, Some(TrackId(1)));
    assert!(player.bench.state().status.song.tracks[0].mute);
}

#[test]
fn a_layer_is_named_and_merged_with_the_one_below() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(3))]);
    let stack = |player: &Player| player.screen.stack(&player.bench.state()).unwrap();
    let counts = |player: &Player| -> Vec<usize> {
        stack(player).layers.iter().map(|(pass, _)| pass.notes().len()).collect()
    };
    assert_eq!(counts(&player), [32, 16]);
    player.type_text("ehats");
    player.press([Key::new(Code::Enter)]);
    assert_eq!(stack(&player).layers[0].0.name, "hats");
    player.type_text("b");
    assert_eq!(counts(&player), [48]);
    // Neither had a name of its own to keep but the upper one.
    assert_eq!(stack(&player).layers[0].0.name, "hats");
    player.type_text("b");
    assert!(player.screen.notice.text.contains("the bottom layer"));
    player.type_text("u");
    assert_eq!(counts(&player), [32, 16]);
    player.type_text("u");
    assert_eq!(stack(&player).layers[0].0.name, "");
}

#[test]
fn merging_a_layer_that_another_section_shares_says_that_it_keeps_its_own() {
    let mut song = four_parts();
    let copy = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(3))]);
    player.type_text("b");
    let layers = |at: usize| player.bench.state().status.song.sections[at].layers.len();
    assert_eq!(layers(0) + 1, layers(1));
    assert_eq!(player.screen.notice.text, "Merged in A only; the layers in B stay as they were.");
}

/// What a song plays once through, as start and key of each note.
fn played(song: &Song) -> Vec<(i64, u8)> {
    let route = chaconne_engine::Route::of(song, &[Letter::A]).unwrap();
    let span = chaconne_time::Span::new(chaconne_time::Tick(-240), song.sections[0].length());
    let events =
        chaconne_engine::perform(song, &route, span, chaconne_engine::View::Corrected).events;
    let struck = |event: &chaconne_engine::Event| match event.wire {
        chaconne_engine::Wire::Message(chaconne_engine::Message::NoteOn { key, .. }) => {
            Some((event.at.0, key.get()))
        }
        _ => None,
    };
    let mut all: Vec<(i64, u8)> = events.iter().filter_map(struck).collect();
    all.sort_unstable();
    all
}

#[test]
fn only_the_hats_can_swing() {
    // Bass drum and hats in one layer, on sixteenths.
    let mut song = empty_song(1, "4/4");
    let track = chaconne_song::Track::drums(TrackId(1), "drums");
    song.tracks.push(std::sync::Arc::new(track));
    let hats = (0..16).map(|at| (at * 240, 60, 42, 70));
    let kit: Vec<_> = hats.chain([(240, 60, 36, 100), (2640, 60, 36, 100)]).collect();
    song.lay(Letter::A, pass(10, 1, 3840, &kit));
    let mut player = Player::new(song);
    let song = |player: &Player| player.bench.state().status.song;
    let before = played(&song(&player));
    player.press([Key::new(Code::F(4))]);
    // The row of the hats; its notes; a layer of their own.
    while player.screen.notes.key != U7::low_bits(42) {
        player.press([Key::new(Code::Up)]);
    }
    player.type_text("spel");
    assert!(player.screen.notice.text.starts_with("16 notes in a layer of their own: V sets"));
    assert_eq!(played(&song(&player)), before);
    assert_eq!(player.screen.notes.selected.len(), 16);
    assert_eq!(player.cursor(), Some(song(&player).passes.keys().last().unwrap().0));
    // A grid of sixteenths and a swing of 60 %, for that layer only.
    player.type_text("V");
    player.press([Key::new(Code::Right)]);
    while song(&player).passes.values().last().unwrap().feel.unwrap().grid
        != Some(NoteValue::SIXTEENTH)
    {
        player.press([Key::new(Code::Right)]);
    }
    player.press(vec![Key::new(Code::Down); 3]);
    player.press(vec![Key::new(Code::Right); 10]);
    player.enter();
    assert_eq!(
        player.screen.notice.text,
        "Feel of this layer: quantise 1/16, pull 100 %, swing 60 %."
    );
    // The off-beats of the hats fall at 60 % of an eighth, 288 ticks; the bass drum stays.
    let swung = |&(at, key): &(i64, u8)| {
        let late = if key == 42 && at % 480 == 240 { 48 } else { 0 };
        (at + late, key)
    };
    let mut wanted: Vec<(i64, u8)> = before.iter().map(swung).collect();
    wanted.sort_unstable();
    assert_eq!(played(&song(&player)), wanted);
    assert_eq!(song(&player).tracks[0].feel.grid, None);
    // All of that is two steps, and the layer can have the feel of its track again.
    player.type_text("V");
    player.press([Key::new(Code::Up), Key::new(Code::Left)]);
    player.enter();
    assert_eq!(player.screen.notice.text, "This layer has the feel of its track.");
    player.type_text("uuu");
    assert_eq!(song(&player).passes.len(), 1);
    assert_eq!(played(&song(&player)), before);
}

#[test]
fn a_feel_of_a_layer_that_is_cancelled_is_put_back() {
    let mut player = player();
    let feel = |player: &Player| player.bench.state().status.song.pass(PassId(17)).unwrap().feel;
    player.type_text("V");
    player.press([Key::new(Code::Right)]);
    assert!(feel(&player).is_some());
    player.press([Key::new(Code::Esc)]);
    assert_eq!(feel(&player), None);
    assert_eq!(player.bench.state().status.undo, None);
}
