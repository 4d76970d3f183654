//! Voices: which one a new note takes over, and how they end.

mod common;

use chaconne_sound::POLYPHONY;
use common::{Player, measure};

/// Of 88 keys held at once, more than 64 voices could play, each is as loud as the others.
#[test]
fn every_key_of_a_keyboard_sounds_at_once() {
    let mut player = Player::new();
    let keys = 21..=108u8;
    keys.clone().for_each(|key| player.send(&[0x90, key, 100]));
    player.play_ms(100);
    let (left, _) = player.play_ms(4000);
    let level = |key: f64| measure::tone(&left, 500.0 * 2f64.powf((key - 60.0) / 12.0), 48_000);
    let levels: Vec<f64> = keys.map(|key| level(f64::from(key))).collect();
    let (low, high) = levels
        .iter()
        .fold((0.0f64, -200.0f64), |(low, high), &level| (low.min(level), high.max(level)));
    // The highest lose a little, because the player interpolates samples by straight lines.
    assert!(low > -30.0 && high - low < 3.0, "{levels:.1?}");
    // There is nothing between two keys.
    assert!(level(60.5) < low - 30.0 && level(20.0) < low - 30.0);
}

/// A new note takes over the quietest released voice; never a held one while any is released.
#[test]
fn the_quietest_released_voice_is_taken_first() {
    let mut player = Player::at(48_000);
    // The voices under test are hard left and ring long; all others are hard right and held.
    for message in [[0xB0, 10, 0], [0xB0, 91, 0], [0xB1, 10, 127], [0xB1, 91, 0]] {
        player.send(&message);
    }
    player.send(&[0xC0, 1]);
    let (held, released) = ([48u8, 55], [60u8, 67, 72, 79]);
    held.iter().chain(&released).for_each(|key| player.send(&[0x90, *key, 100]));
    player.play_ms(50);
    for key in released {
        player.send(&[0x80, key, 0]);
        player.play_ms(100);
    }
    (0..POLYPHONY - 6).for_each(|_| player.send(&[0x91, 90, 20]));
    for taken in 0..=4 {
        let (left, _) = player.play_ms(200);
        let level = |key: u8| {
            let hertz = 500.0 * 2f64.powf((f64::from(key) - 60.0) / 12.0);
            measure::tone(&left, hertz, 48_000)
        };
        for (i, key) in released.iter().enumerate() {
            assert_eq!(level(*key) > -60.0, i >= taken, "{key} after {taken}: {}", level(*key));
        }
        assert!(held.iter().all(|key| level(*key) > -30.0));
        player.send(&[0x91, 90, 20]);
    }
}

/// The end of a note steps no further than the note itself, whether it rings on or stops as quickly
/// as the player can: in 10 ms, which adds 16 % to the steepest step of a 250 Hz tone. Cut off, it
/// would step 30 times as far.
#[test]
fn the_end_of_a_note_does_not_pop() {
    for (program, most) in [(0, 1.2), (1, 1.001)] {
        for key in [48, 60, 72, 84] {
            let mut player = Player::new();
            player.send(&[0xC0, program]);
            player.send(&[0x90, key, 127]);
            player.play_ms(100);
            let own = measure::step(&player.play_ms(100).0);
            for part in 0..7 {
                player.play(part * 13);
                player.send(&[0x80, key, 0]);
                let (end, _) = player.play_ms(6000);
                assert!(measure::step(&end) <= own * most, "{program} {key}");
                player.send(&[0x90, key, 127]);
                player.play_ms(50);
            }
        }
    }
}

/// A few seconds after the last release the silence is exact, without rounding residue.
#[test]
fn final_silence_is_exact() {
    let mut player = Player::at(44_100);
    for channel in 0..16 {
        player.send(&[0xC0 | channel, 1]);
        player.send(&[0xB0 | channel, 91, 127]);
        player.send(&[0xB0 | channel, 93, 127]);
        player.send(&[0x90 | channel, 40 + channel, 127]);
    }
    player.play_ms(500);
    (0..16).for_each(|channel| player.send(&[0x80 | channel, 40 + channel, 0]));
    player.play_ms(8000);
    let (left, right) = player.play_ms(1000);
    assert!(left.iter().chain(&right).all(|x| *x == 0.0), "{}", measure::db(&left));
    // Then it plays again as before.
    player.send(&[0x90, 60, 127]);
    assert!(player.levels().0 > -20.0);
}
