//! The samples after pedals, mode messages, resets and program changes.

mod common;

use chaconne_sound::{Font, Instrument};
use common::{Player, measure, tiny};

const NOTE: [u8; 3] = [0x90, 60, 127];
const OFF: [u8; 3] = [0x80, 60, 64];

/// MIDI 1.0 Detailed Specification: 64 and above is down. A released key sounds on until the pedal
/// goes up.
#[test]
fn the_pedal_holds_released_keys() {
    let mut player = Player::new();
    player.send(&NOTE);
    player.send(&[0xB0, 64, 64]);
    player.send(&OFF);
    let (held, _) = player.levels();
    player.play_ms(2000);
    assert!((player.levels().0 - held).abs() < 0.01);
    player.send(&[0xB0, 64, 63]);
    assert!(player.levels().0 < -100.0);
}

/// All notes off releases every key, so the pedal still holds the notes (MIDI 1.0 Detailed
/// Specification, 123). Omni and poly modes (124 to 127) do the same.
#[test]
fn all_notes_off_and_mode_messages_release_the_keys() {
    for mode in 123..=127 {
        let mut player = Player::new();
        player.send(&NOTE);
        player.send(&[0xB0, 64, 127]);
        let (held, _) = player.levels();
        player.send(&[0xB0, mode, 0]);
        assert!((player.levels().0 - held).abs() < 0.01, "{mode}");
        player.send(&[0xB0, 64, 0]);
        assert!(player.levels().0 < -100.0, "{mode}");
    }
}

/// The sostenuto pedal holds the keys that are down when it goes down, and no others (MIDI 1.0
/// Detailed Specification, controller 66).
#[test]
fn sostenuto_holds_the_keys_that_were_down() {
    let mut player = Player::new();
    player.send(&NOTE);
    player.send(&[0xB0, 66, 127]);
    player.send(&[0x90, 72, 127]);
    player.send(&OFF);
    player.send(&[0x80, 72, 0]);
    player.play_ms(50);
    let (sound, _) = player.play_ms(200);
    assert!(measure::tone(&sound, 500.0, 48_000) > -20.0);
    assert!(measure::tone(&sound, 1000.0, 48_000) < -80.0);
    player.send(&[0xB0, 66, 0]);
    assert!(player.levels().0 < -100.0);
}

/// All sound off ends a note, held or not, within a few milliseconds and without a pop.
#[test]
fn all_sound_off_is_quick_and_soft() {
    let mut player = Player::new();
    player.send(&[0xC0, 1]);
    player.send(&NOTE);
    player.send(&[0xB0, 64, 127]);
    let own = measure::step(&player.play_ms(50).0[100..]);
    player.send(&[0xB0, 120, 0]);
    let (end, _) = player.play_ms(10);
    assert!(measure::step(&end) <= own * 1.01);
    assert!(end[240..].iter().all(|x| *x == 0.0));
    // A note during that time sounds at once and at full level.
    player.send(&NOTE);
    let (full, _) = player.levels();
    player.send(&[0xB0, 120, 0]);
    player.play(4);
    player.send(&NOTE);
    assert!((player.levels().0 - full).abs() < 0.01);
}

/// RP-015 (MMA): expression, modulation, pedals, bend, pressure and the selected parameter are
/// reset; bank, program, volume, pan, effects and tunings stay.
#[test]
fn reset_all_controllers_keeps_what_the_standard_keeps() {
    let mut player = Player::new();
    for (controller, value) in [(7, 64), (10, 0), (11, 20), (101, 0), (100, 0), (6, 12), (64, 127)]
    {
        player.send(&[0xB0, controller, value]);
    }
    player.send(&[0xE0, 0, 0]);
    player.send(&[0xB0, 121, 0]);
    // Data entry has no effect now, and the bend range is still 12.
    player.send(&[0xB0, 6, 3]);
    player.send(&NOTE);
    assert!(player.cents().abs() < 0.5);
    let (left, right) = player.levels();
    let expected = -0.2 + 40.0 * (64.0f64 / 127.0).log10() - 3.01;
    assert!((left - expected).abs() < 0.1, "{left} {expected}");
    assert!(right < -200.0);
    player.send(&[0xE0, 0x7F, 0x7F]);
    assert!((player.cents() - 1200.0).abs() < 0.5);
    player.send(&OFF);
    assert!(player.levels().0 < -100.0, "the pedal is up");
}

/// General MIDI Level 1 Developer Guidelines: the state after 'General MIDI on'. Master volume: MIDI
/// 1.0 Detailed Specification, device control; here it follows the law of channel volume.
#[test]
fn general_midi_on_resets_everything_and_master_volume_follows_its_law() {
    let mut fresh = Player::at(48_000);
    fresh.send(&NOTE);
    let fresh = fresh.levels();
    for on in [1, 2] {
        let mut player = Player::at(48_000);
        let settings = [(7, 20), (10, 3), (11, 9), (1, 90), (64, 127), (91, 0), (93, 99), (0, 9)];
        settings.iter().for_each(|(controller, value)| player.send(&[0xB0, *controller, *value]));
        [[101, 0], [100, 2], [6, 70]].iter().for_each(|c| player.send(&[0xB0, c[0], c[1]]));
        player.send(&[0xC0, 1]);
        player.send(&[0xD0, 127]);
        player.send(&[0xE0, 0, 0]);
        player.send(&[0xF0, 0x7F, 0x7F, 0x04, 0x01, 0, 10, 0xF7]);
        player.send(&NOTE);
        player.play_ms(100);
        player.send(&[0xF0, 0x7E, 0x7F, 0x09, on, 0xF7]);
        let (left, right) = player.play_ms(100);
        assert!(measure::db(&left[2400..]) < -60.0, "what sounded has ended");
        assert!(measure::db(&right[2400..]) < -60.0);
        player.play_ms(10_000);
        player.send(&NOTE);
        let now = player.levels();
        assert!(
            (now.0 - fresh.0).abs() < 0.1 && (now.1 - fresh.1).abs() < 0.1,
            "{now:?} {fresh:?}"
        );
        assert!(player.cents().abs() < 0.5);
    }

    let mut player = Player::new();
    player.send(&NOTE);
    let (full, _) = player.levels();
    player.send(&[0xF0, 0x7F, 0x7F, 0x04, 0x01, 0, 64, 0xF7]);
    let (half, _) = player.levels();
    assert!((half - full - 40.0 * (8192.0f64 / 16_383.0).log10()).abs() < 0.1, "{half} {full}");
}

/// Both halves of bank select choose among the font's banks, from the next program change on (MIDI 1.0
/// Detailed Specification, controllers 0 and 32).
#[test]
fn a_bank_is_chosen_by_its_number() {
    // Program 4 stops at once in bank 0, rings for about 4 s in bank 5, and is panned right in bank
    // 7.
    let mut right = tiny::tone(7, 4, -12_000);
    right.generators.insert(0, (tiny::generator::PAN, 500));
    let tones = [tiny::tone(0, 4, -12_000), tiny::tone(5, 4, 2400), right];
    let font = Font::read(&tiny::font(&tones)).unwrap();
    let heard = |messages: &[&[u8]]| {
        let mut player =
            Player { instrument: Instrument::new(&font, 48_000).unwrap(), rate: 48_000 };
        player.send(&[0xB0, 91, 0]);
        messages.iter().for_each(|message| player.send(message));
        player.send(&NOTE);
        let (left, right) = player.levels();
        player.send(&OFF);
        if left < right - 20.0 {
            return 7;
        }
        if player.levels().0 > -60.0 { 5 } else { 0 }
    };
    let program: &[u8] = &[0xC0, 4];
    assert_eq!(heard(&[program]), 0);
    assert_eq!(heard(&[&[0xB0, 0, 5], program]), 5);
    assert_eq!(heard(&[&[0xB0, 32, 7], program]), 7);
    assert_eq!(heard(&[&[0xB0, 0, 5], &[0xB0, 32, 0], program]), 5);
    assert_eq!(heard(&[program, &[0xB0, 0, 5]]), 0, "not before the program changes");
    assert_eq!(heard(&[&[0xB0, 0, 5], program, &[0xB0, 0, 0], program]), 0);
}

/// A bank takes effect with the next program change (MIDI 1.0 Detailed Specification, bank select). A
/// bank that the font lacks falls back to bank 0. Percussion is on channel 10.
#[test]
fn a_missing_bank_plays_bank_0_and_channel_10_plays_percussion() {
    let rings = |messages: &[&[u8]], channel: u8| {
        let mut player = Player::at(48_000);
        player.send(&[0xB0 | channel, 91, 0]);
        messages.iter().for_each(|message| player.send(message));
        player.send(&[0x90 | channel, 60, 127]);
        player.play_ms(100);
        player.send(&[0x80 | channel, 60, 0]);
        player.levels().0 > -60.0
    };
    assert!(!rings(&[], 0));
    assert!(rings(&[&[0xC0, 1]], 0));
    assert!(rings(&[&[0xB0, 0, 5], &[0xB0, 32, 3], &[0xC0, 1]], 0));
    assert!(!rings(&[&[0xC0, 0], &[0xB0, 0, 1]], 0));
    assert!(!rings(&[&[0xC1, 1]], 0), "another channel's program");
    assert!(rings(&[], 9), "percussion has a preset of its own");
    assert!(rings(&[&[0xC9, 77]], 9));
}

/// Anything but a whole message is ignored.
#[test]
fn malformed_messages_are_ignored() {
    let mut player = Player::new();
    player.send(&NOTE);
    let (before, _) = player.levels();
    let messages: [&[u8]; 16] = [
        &[],
        &[0x80],
        &[0x80, 60],
        &[0x80, 60, 0, 0],
        &[0x80, 188, 0],
        &[0xB0, 120],
        &[0xB0, 120, 128],
        &[0xC0, 1, 1],
        &[60, 0],
        &[0xF8],
        &[0xF2, 1, 1],
        &[0xFF],
        &[0xF0],
        &[0xF0, 0xF7],
        &[0xF0, 0x7E, 0x7F, 0x09, 0x01],
        &[0xF0, 0x7F, 0x7F, 0x04, 0x01, 0x80, 0x00, 0xF7],
    ];
    messages.iter().for_each(|message| player.send(message));
    let (after, _) = player.levels();
    assert!((before - after).abs() < 0.01);
}
