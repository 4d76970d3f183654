//! Screens as pictures: each as text, followed by its cursor and its runs of style.

mod arrange;
mod boxes;
mod chords;
mod export;
mod files;
mod finder;
mod foot;
mod frames;
mod grooves;
mod keys_box;
mod lane;
mod layers;
mod many_notes;
mod notes;
mod ports;
mod properties;
mod sizes;
mod song_form;
mod sound;
mod stage;
mod time_marks;
mod tour;
mod trouble;
mod whole;

use super::*;
use crate::axis::SIXTEENTH;
use crate::glance::Glance;
use crate::input::{Code, Key};
use crate::options::{Colours, Glyphs};
use crate::testing::{empty_song, four_parts, pass};
use chaconne_engine::{Config, Engine, Follow, OnLoss};
use chaconne_song::{Letter, Pass, Section, Track, TrackId, U7};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use stage::{Stage, text_of};
use std::fmt::Write;
use std::sync::Arc;
use std::time::Duration;

#[test]
fn a_new_song_is_drawn_stopped() {
    let mut stage = Stage::new(empty_song(4, "4/4"));
    stage.bench.disk.path = None;
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn the_chosen_bar_is_drawn_while_stopped() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::Right), Key::new(Code::Right)]);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn four_tracks_are_drawn_while_playing() {
    let mut stage = Stage::new(four_parts());
    stage.type_text(" ");
    stage.wait(4700);
    insta::assert_snapshot!("playing_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("playing_120x40", stage.picture(120, 40));
}

#[test]
fn an_unfinished_round_is_drawn_while_recording() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.unsaved = true;
    stage.press([Key::new(Code::Down)]);
    stage.type_text("0lr");
    for key in [45, 52, 57] {
        stage.wait(400);
        stage.bench.play(key, 90);
    }
    stage.wait(300);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn the_save_key_is_always_shown() {
    let mut stage = Stage::new(four_parts());
    stage.bench.sound();
    for keys in ["", "p", " ", "r", "u"] {
        stage.type_text(keys);
        let text = stage.text(80, 24);
        assert!(text.contains("Ctrl-S save"), "{keys}: {text}");
    }
}

#[test]
fn a_count_in_is_drawn() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("2r");
    stage.wait(3200);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn a_count_in_to_another_bar_shows_where_the_take_will_begin() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::Right); 2]);
    stage.type_text("2r");
    stage.wait(3200);
    insta::assert_snapshot!("count_in_to_bar_3_80x24", stage.picture(80, 24));
    // Left of the mark there is no room for the words before bar 2.
    stage.type_text(" ");
    stage.press([Key::new(Code::Home), Key::new(Code::Right)]);
    stage.type_text("r");
    let text = stage.text(80, 24);
    let row = text.lines().find(|line| line.contains("count-in  1 2 3 4")).unwrap();
    let column = |sign: &str| row.find(sign).map(|byte| row[..byte].chars().count()).unwrap();
    assert!(row.contains("bar 1 of 2, then bar 2"), "{row}");
    let ruler = text.lines().find(|line| line.contains("│1") && line.contains("│2")).unwrap();
    let bar_2 = ruler[..ruler.find("│2").unwrap()].chars().count();
    assert_eq!(column("▼"), bar_2 + 1);
    assert!(column("count-in") > column("▼"));
    for (width, height) in [(60, 16), (40, 12)] {
        assert!(stage.text(width, height).contains("at bar 2"), "{width}x{height}");
    }
}

#[test]
fn a_count_in_to_a_bar_that_is_not_on_the_page_turns_to_it() {
    let mut song = empty_song(24, "4/4");
    song.tracks = four_parts().tracks;
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Right); 9]);
    stage.press([Key::new(Code::PageUp); 3]);
    assert!(stage.text(80, 24).contains("│1"));
    stage.type_text("1r");
    stage.wait(1000);
    let text = stage.text(80, 24);
    assert!(text.contains("then bar 10") && text.contains("▼") && text.contains("│10"), "{text}");
}

#[test]
fn piano_mode_is_drawn_on_every_size() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("p");
    stage.press([Key::new(Code::Left), Key::new(Code::Up)]);
    insta::assert_snapshot!("piano_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("piano_60x16", stage.picture(60, 16));
    insta::assert_snapshot!("piano_60x24", stage.text(60, 24));
    insta::assert_snapshot!("piano_40x24", stage.text(40, 24));
}

#[test]
fn recording_that_waits_for_a_start_says_so() {
    let mut stage = Stage::new(four_parts());
    let follow = Follow { name: "desk".into(), on_loss: OnLoss::Keep };
    let config = Config { follow: Some(follow), ..Default::default() };
    let song = Arc::clone(stage.bench.engine.song());
    stage.bench.engine = Engine::new(song, config);
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("r");
    let text = stage.text(80, 24);
    assert!(text.contains(" STOPPED   at the next start "), "{text}");
    let least = stage.text(39, 9).replace('\n', " ");
    assert!(least.starts_with("STOPPED, recording at the next start. "), "{least}");
}

#[test]
fn the_levels_of_the_tracks_are_drawn() {
    let mut song = four_parts();
    let levels = [(Some(127), Some(64)), (Some(100), Some(0)), (None, Some(127)), (Some(37), None)];
    for (track, (volume, pan)) in song.tracks.iter_mut().zip(levels) {
        let track = Arc::make_mut(track);
        let value = |value: Option<u8>| value.map(U7::low_bits);
        (track.levels.volume, track.levels.pan) = (value(volume), value(pan));
    }
    let bass = Arc::make_mut(&mut song.tracks[1]);
    (bass.program, bass.feel.grid) = (U7::new(33), "1/8 triplet".parse().ok());
    (bass.feel.pull, bass.feel.swing) = (60, "58.25".parse().unwrap());
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(5)), Key::new(Code::Down)]);
    insta::assert_snapshot!("levels_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("levels_120x40", stage.text(120, 40));
    insta::assert_snapshot!("levels_40x12", stage.text(40, 12));
    // Where the whole feel does not fit, a plus says that there is more of it.
    assert!(stage.text(40, 12).contains(" 1/8t+\n"), "{}", stage.text(40, 12));
    stage.press([Key::new(Code::F(2))]);
    insta::assert_snapshot!("feel_on_the_tracks_80x24", stage.text(80, 24));
}

#[test]
fn the_drum_keys_have_air_around_every_label() {
    let mut song = four_parts();
    song.tracks.truncate(1);
    let mut stage = Stage::new(song);
    stage.type_text("p");
    insta::assert_snapshot!("drum_keys_80x24", stage.text(80, 24));
    for octave in -4..=4 {
        stage.screen.piano.set_octave(octave);
        let text = stage.text(80, 24);
        let top = Frame::of(&stage.screen).foot.piano.start;
        let upper = text.lines().nth(top.into()).unwrap();
        let words: Vec<&str> = upper[..66].split_whitespace().collect();
        // Each key is followed by its label; two places have none.
        assert_eq!(words.len(), 16, "{text}");
        assert!(words.iter().all(|word| [1, 3].contains(&word.len())), "{words:?}");
    }
}
