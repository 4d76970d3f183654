//! Voices that are cut off: by a drum of the same class, or by a note that finds no free voice.

mod common;

use chaconne_sound::{Font, Instrument, POLYPHONY};
use common::{Player, measure};

fn kit(font: &Font) -> Player {
    let mut player = Player { instrument: Instrument::new(font, 48_000).unwrap(), rate: 48_000 };
    player.send(&[0xB9, 91, 0]);
    player
}

/// Renders a drum, and another struck this many frames later; the two sides added.
fn strokes(first: Option<u8>, second: Option<u8>, after: usize) -> Vec<f32> {
    let mut player = kit(&Font::standard());
    let strike = |player: &mut Player, key: Option<u8>| {
        key.into_iter().for_each(|key| player.send(&[0x99, key, 110]));
    };
    strike(&mut player, first);
    let (mut left, mut right) = player.play(after);
    strike(&mut player, second);
    let rest = player.play(4800);
    left.extend(rest.0);
    right.extend(rest.1);
    left.iter().zip(&right).map(|(left, right)| left + right).collect()
}

/// Isolates the drum that is cut off; nothing reaches the limiter, so the mix is a plain sum. The
/// drum is gone within 20 ms, and none of its steps is larger than those it has when played alone.
/// Cut off within a frame, a cuica would step almost six times as far, a whistle twice. The groups
/// are common practice, and a rule from General MIDI Level 2 on (from memory).
#[test]
fn a_drum_is_cut_off_quickly_and_without_a_pop() {
    for (first, second) in [(46, 42), (46, 44), (46, 46), (72, 71), (74, 73), (79, 78), (81, 80)] {
        for after in (2400..4800).step_by(301) {
            let (both, new) =
                (strokes(Some(first), Some(second), after), strokes(None, Some(second), after));
            let old: Vec<f32> = both.iter().zip(&new).map(|(both, new)| both - new).collect();
            let own = measure::step(&old[after - 960..after - 1]);
            let cut = measure::step(&old[after - 1..]);
            assert!(cut <= own * 1.05, "{first} {second}: {cut} after {own}");
            let left = measure::db(&old[after + 960..]) - measure::db(&old[after - 960..after]);
            assert!(left < -50.0, "{first} {second}: {left} dB are left");
        }
    }
    // Other drums ring on unchanged.
    let (both, new) = (strokes(Some(49), Some(42), 3000), strokes(None, Some(42), 3000));
    let crash = strokes(Some(49), None, 3000);
    assert!((0..both.len()).all(|at| (both[at] - new[at] - crash[at]).abs() < 1e-5));
}

/// Releasing a drum does not end it, nor does any message that releases keys.
#[test]
fn a_released_drum_rings_on() {
    let ways: [&[&[u8]]; 4] = [
        &[&[0x89, 46, 64]],
        &[&[0xB9, 123, 0]],
        &[&[0xB9, 64, 127], &[0x89, 46, 64], &[0xB9, 64, 0]],
        &[&[0xB9, 66, 127], &[0x89, 46, 64], &[0xB9, 66, 0]],
    ];
    let ring = |messages: &[&[u8]]| {
        let mut player = kit(&Font::standard());
        player.send(&[0x99, 46, 110]);
        player.play_ms(20);
        messages.iter().for_each(|message| player.send(message));
        player.play_ms(300).0
    };
    let held = ring(&[]);
    assert!(measure::db(&held) > -50.0);
    ways.iter().for_each(|messages| assert!(ring(messages) == held, "{messages:?}"));
    // It is cut off even with the pedal down.
    let cut = ring(&[&[0xB9, 64, 127], &[0x99, 42, 1]]);
    assert!(measure::db(&cut[4800..]) < measure::db(&held[4800..]) - 30.0);
    // The bytes of the file give the same font.
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets/default.sf2");
    let mut player = kit(&Font::open(std::path::Path::new(path)).unwrap());
    player.send(&[0x99, 46, 110]);
    player.play_ms(20);
    assert!(player.play_ms(300).0 == held);
}

/// If every voice is held, a new note cuts one off within a frame: the one whose envelope has fallen
/// furthest, and of equal ones the oldest. The player does this and cannot be told to fade, so the
/// promise is only that the step is no larger than that voice. It takes more than a hundred held keys.
#[test]
fn a_held_voice_that_is_cut_off_steps_by_no_more_than_its_level() {
    let mut player = Player::at(48_000);
    for message in [[0xB0, 10, 0], [0xB0, 91, 0], [0xB1, 10, 127], [0xB1, 91, 0]] {
        player.send(&message);
    }
    player.send(&[0x90, 36, 100]);
    player.send(&[0x90, 43, 100]);
    player.play_ms(50);
    (0..POLYPHONY - 2).for_each(|_| player.send(&[0x91, 90, 20]));
    let (before, _) = player.play_ms(200);
    let level = |sound: &[f32], key: u8| {
        let hertz = 500.0 * 2f64.powf((f64::from(key) - 60.0) / 12.0);
        measure::tone(sound, hertz, 48_000)
    };
    // The peak of a tone is 3 dB above its RMS level.
    let size = 10f64.powf((level(&before, 36) + 3.02) / 20.0) as f32;
    player.send(&[0x91, 90, 20]);
    let (after, _) = player.play_ms(200);
    assert!(measure::step(&after) <= size * 1.01 + measure::step(&before));
    assert!(level(&after[480..], 36) < level(&before, 36) - 60.0, "the oldest is taken");
    assert!((level(&after[480..], 43) - level(&before, 43)).abs() < 0.1, "no other");
}
