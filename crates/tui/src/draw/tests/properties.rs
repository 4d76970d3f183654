//! Properties of every picture: any size, any key, any figure.

use super::stage::Stage;
use crate::axis::SIXTEENTH;
use crate::glance::Glance;
use crate::input::{Code, Input, Key};
use crate::keymap::table;
use crate::options::Glyphs;
use crate::screen::Effect;
use crate::testing::four_parts;
use crate::{LiveKey, SoundLine};
use chaconne_engine::Command;
use chaconne_song::{GivenGroove, GrooveId, Track, TrackId};
use proptest::prelude::*;
use std::sync::Arc;
use std::time::Duration;

/// Figures around the range of the meters, and all others.
fn any_figure() -> impl Strategy<Value = f32> {
    prop_oneof![-60f32..6.0, prop::num::f32::ANY]
}

fn any_sound() -> impl Strategy<Value = SoundLine> {
    let pair = || [any_figure(), any_figure()];
    let (level, limited) = (prop::option::of(any_figure()), prop::option::of(any_figure()));
    (level, pair(), pair(), limited).prop_map(|(level, peak, held, limited)| SoundLine {
        level,
        peak,
        held,
        limited,
    })
}

#[test]
fn every_size_can_be_drawn_in_every_scene() {
    let mut song = four_parts();
    song.tracks.extend((5..60).map(|id| Arc::new(Track::pitched(TrackId(id), "more"))));
    song.grooves.push(crate::testing::groove(900, "Sam"));
    Arc::make_mut(&mut song.tracks[0]).feel.groove = Some(GivenGroove::whole(GrooveId(900)));
    let mut stage = Stage::new(song);
    stage.bench.command(Command::Play);
    for view in [2, 3, 5, 6] {
        stage.press([Key::new(Code::Esc), Key::new(Code::F(view))]);
        draw_at_all_sizes(&mut stage, 29);
    }
    for keys in ["bbbb", "e", "f"] {
        stage.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
        stage.type_text(keys);
        draw_at_all_sizes(&mut stage, 29);
    }
    stage.press([Key::new(Code::Esc), Key::new(Code::F(4))]);
    for keys in ["", ">>>>", "e", "s", "sam", "<<<<", "<<<<", "z"] {
        stage.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
        stage.type_text(keys);
        draw_at_all_sizes(&mut stage, 29);
    }
    stage.press([Key::new(Code::Esc), Key::new(Code::F(2))]);
    for keys in [
        "", "p", "a", "n", "v", "P", "Pe", "N", "j", "i", "izzz", ">>>", "<<<<", "<<<<", "q", "?",
        "/", "/note",
    ] {
        stage.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
        stage.type_text(keys);
        draw_at_all_sizes(&mut stage, 7);
    }
}

/// Draws at many sizes, widths that many columns apart among them.
fn draw_at_all_sizes(stage: &mut Stage, apart: usize) {
    for width in (1..140).step_by(apart).chain([39, 40, 79, 80]) {
        for height in (1..60).step_by(5).chain([9, 10, 23, 24]) {
            stage.draw(width, height);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Any numbers on the meters, NaN included, at any size: nothing panics, and two pictures that
    /// differ have different glances.
    #[test]
    fn any_meters_can_be_drawn(
        lines in prop::collection::vec(any_sound(), 2),
        width in 1u16..200,
        height in 1u16..60,
        calm: bool,
        glyphs in prop::sample::select(vec![Glyphs::Full, Glyphs::Console, Glyphs::Ascii]),
    ) {
        let mut stage = Stage::new(four_parts());
        (stage.options.calm, stage.options.glyphs) = (calm, glyphs);
        let mut look = |sound: SoundLine| {
            stage.bench.sound = Some(sound);
            (Glance::new(&stage.bench.state(), false, SIXTEENTH), stage.text(width, height))
        };
        let (one, other) = (look(lines[0]), look(lines[1]));
        prop_assert!(one.1 == other.1 || one.0 != other.0);
    }

    /// Any keys in any order: nothing panics, and at the end every key that the piano pressed has
    /// been lifted once.
    #[test]
    fn any_keys_do_no_harm(picks in prop::collection::vec((0usize..999, 0i64..900), 0..80)) {
        let mut keys: Vec<Key> = table().flat_map(|binding| binding.keys).copied().collect();
        keys.extend("fghjkl;x ".chars().map(Key::char));
        // The form is shown often.
        keys.extend([Key::new(Code::F(6)); 8]);
        let mut song = four_parts();
        song.grooves.push(crate::testing::groove(900, "Sam"));
        let mut stage = Stage::new(song);
        let mut balance = 0;
        let mut play = |effects: &[Effect]| {
            for effect in effects {
                balance += match effect {
                    Effect::Play(LiveKey::Press { .. }) => 1,
                    Effect::Play(LiveKey::Lift { .. }) => -1,
                    _ => 0,
                };
            }
        };
        for (pick, pause) in picks {
            stage.bench.wait(pause);
            stage.now += Duration::from_millis(pause as u64);
            let mut effects = Vec::new();
            let state = stage.bench.state();
            stage.screen.follow(&state, stage.now, &mut effects);
            let key = keys[pick % keys.len()];
            stage.screen.take(&Input::Key(key), &state, stage.now, &mut effects);
            play(&effects);
            play(&stage.follow(effects));
            stage.draw(80, 24);
        }
        let lifts = stage.screen.piano.lift_all();
        let lifts: Vec<Effect> = lifts.into_iter().map(Effect::Play).collect();
        play(&lifts);
        prop_assert_eq!(balance, 0);
    }
}
