//! The instrument plays the default font: every program and every drum sounds, ends without a pop,
//! and is silent afterwards. With changed bytes the font is refused or played.

mod common;

use chaconne_sound::{Font, Instrument};
use common::{Dice, Player, measure};

fn player() -> Player {
    let mut player =
        Player { instrument: Instrument::new(&Font::standard(), 48_000).unwrap(), rate: 48_000 };
    for channel in [0, 9] {
        player.send(&[0xB0 | channel, 91, 0]);
    }
    player
}

/// The end of each note steps no further than the last fifth of a second before it, or is 70 dB
/// below full scale.
#[test]
fn every_program_is_heard_and_ends_softly() {
    for (key, program) in (0..128).flat_map(|program| [(36, program), (60, program)]) {
        let mut player = player();
        player.send(&[0xC0, program]);
        player.send(&[0x90, key, 100]);
        let (left, right) = player.play_ms(1500);
        let peak = measure::peak(&left).max(measure::peak(&right));
        assert!((0.01..1.0).contains(&peak), "program {program}: {peak}");
        let own = measure::step(&left[left.len() - 9600..]);
        player.send(&[0x80, key, 0]);
        let step = measure::step(&player.play_ms(500).0);
        assert!(step <= (own * 1.1).max(3e-4), "program {program}: {step} after {own}");
        let tail = player.play_ms(9000);
        assert_eq!(subnormals(&tail), 0, "program {program} ends in numbers that are slow");
        let (left, right) = player.play_ms(200);
        assert!(left.iter().chain(&right).all(|x| *x == 0.0), "program {program} does not end");
    }
}

/// General MIDI Level 1 percussion key map: keys 35 to 81.
#[test]
fn every_drum_is_heard_and_ends() {
    for key in 35..=81 {
        let mut player = player();
        player.send(&[0x99, key, 100]);
        let (left, right) = player.play_ms(300);
        let peak = measure::peak(&left).max(measure::peak(&right));
        assert!((0.01..1.0).contains(&peak), "key {key}: {peak}");
        player.send(&[0x89, key, 0]);
        let tail = player.play_ms(9000);
        assert_eq!(subnormals(&tail), 0, "key {key} ends in numbers that are slow");
        let (left, right) = player.play_ms(200);
        assert!(left.iter().chain(&right).all(|x| *x == 0.0), "key {key} does not end");
    }
}

/// The default font has one kit, whatever program a drum channel asks for.
#[test]
fn there_is_one_drum_kit() {
    assert_eq!(Font::standard().kits(), [(0, "Drum kit".to_string())]);
}

/// Denormal samples, which can be many times slower to process.
fn subnormals((left, right): &(Vec<f32>, Vec<f32>)) -> usize {
    left.iter().chain(right).filter(|x| x.is_subnormal()).count()
}

/// A tail fades while another part plays dry for minutes: it leaves no denormal numbers that would
/// slow the player down, and the other part sounds as it does alone.
#[test]
fn a_tail_under_a_held_note_ends() {
    let play = |with_tail: bool| {
        let mut player = player();
        player.send(&[0xB1, 91, 0]);
        player.send(&[0xC1, 19]);
        if with_tail {
            player.send(&[0xB0, 91, 127]);
            player.send(&[0xB0, 93, 127]);
            player.send(&[0x90, 60, 127]);
        }
        player.play_ms(500);
        player.send(&[0x80, 60, 0]);
        player.send(&[0x91, 48, 30]);
        player.play_ms(60_000);
        let last = player.play_ms(1000);
        assert_eq!(subnormals(&last), 0);
        assert!(measure::db(&last.0) > -60.0);
        last
    };
    assert!(play(true) == play(false));
}

#[test]
fn a_font_with_changed_bytes_is_refused_or_played() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets/default.sf2");
    let whole = std::fs::read(path).unwrap();
    let hydra = whole.windows(4).rposition(|four| four == b"pdta").unwrap() - 8;
    let (mut dice, mut read) = (Dice(19), 0);
    for _ in 0..150 {
        let mut bytes = whole.clone();
        for _ in 0..1 + dice.below(4) {
            let at = hydra + dice.below(bytes.len() - hydra);
            bytes[at] = dice.roll() as u8;
        }
        let Ok(font) = Font::read(&bytes) else { continue };
        read += 1;
        let mut instrument = Instrument::new(&font, 48_000).unwrap();
        let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
        for program in 0..128 {
            let channel = program & 15;
            instrument.message(&[0xC0 | channel, program]);
            instrument.message(&[0x90 | channel, dice.seven_bits(), 127]);
            instrument.render(&mut left, &mut right);
            instrument.message(&[0xB0 | channel, 120, 0]);
            assert!(left.iter().chain(&right).all(|x| x.is_finite()));
        }
    }
    assert!((20..150).contains(&read), "{read}");
}
