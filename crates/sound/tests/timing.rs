//! When messages sound, and that samples do not depend on how rendering is divided into calls.

mod common;

use chaconne_sound::{DELAY, Decibels, FLOOR_DB, Instrument, Mix};
use common::{Dice, Player, tones};

/// Onsets are within 0.2 ms, after subtracting the constant delay: a tenth of the 2 ms or so at which
/// two onsets begin to be heard as two.
#[test]
fn onsets_are_within_a_block_and_exact_when_compensated() {
    for rate in [44_100, 48_000] {
        let mut dice = Dice(u64::from(rate));
        let mut errors = Vec::new();
        for _ in 0..200 {
            let mut player = Player::at(rate);
            let wanted = 1000 + dice.below(3000);
            player.play(wanted);
            player.send(&[0x90, 60, 127]);
            // The tone is a cosine: its first frame is its loudest.
            let onset = player.play(1000).0.iter().position(|x| x.abs() > 0.1).unwrap();
            assert!(onset < 2 * DELAY, "{onset}");
            errors.push((onset as f64 - DELAY as f64) * 1000.0 / f64::from(rate));
        }
        assert!(errors.iter().all(|ms| ms.abs() <= 0.2), "{errors:?}");
        assert!(errors.iter().sum::<f64>().abs() / 200.0 < 0.02);
    }
}

#[test]
fn the_click_and_the_instrument_leave_the_mix_together() {
    for rate in [44_100, 48_000] {
        let latency = Mix::latency(rate);
        for wanted in [0, 1, 333, 4001] {
            let mut mix = Mix::new(&tones(), rate).unwrap();
            let sound = |mix: &mut Mix, frames| {
                let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
                mix.render(&mut left, &mut right);
                left
            };
            sound(&mut mix, wanted);
            mix.strike(true);
            let click = sound(&mut mix, 20_000).iter().position(|x| *x != 0.0).unwrap();
            // The first frame of a sine is zero.
            assert_eq!(click, latency + 1);
            mix.message(&[0x90, 60, 127]);
            let note = sound(&mut mix, 1000).iter().position(|x| x.abs() > 0.01).unwrap();
            let ms = (note as f64 - latency as f64) * 1000.0 / f64::from(rate);
            assert!(ms.abs() <= 0.2, "{ms}");
        }
    }
}

#[test]
fn samples_do_not_depend_on_how_rendering_is_divided() {
    let play = |cut: &mut dyn FnMut() -> usize| {
        let mut mix = Mix::new(&tones(), 48_000).unwrap();
        mix.desk().set_level(Decibels::new(-3.0));
        let mut dice = Dice(7);
        let mut sound = Vec::new();
        for round in 0..200 {
            random(&mut dice, &mut |message| mix.message(message));
            if round % 8 == 0 {
                mix.strike(round % 32 == 0);
            }
            let mut left = 1 + dice.below(700);
            while left > 0 {
                let frames = cut().clamp(1, left);
                let (mut l, mut r) = (vec![0.0; frames], vec![0.0; frames]);
                mix.render(&mut l, &mut r);
                sound.extend(l.iter().zip(&r).map(|(l, r)| (l.to_bits(), r.to_bits())));
                left -= frames;
            }
        }
        sound
    };
    let whole = play(&mut || usize::MAX);
    assert!(whole.iter().any(|(left, _)| f32::from_bits(*left).abs() > 0.1));
    assert!(whole == play(&mut || usize::MAX), "a second time");
    assert!(whole == play(&mut || 1), "frame by frame");
    let mut dice = Dice(3);
    assert!(whole == play(&mut || dice.below(100)), "in parts");
}

fn random(dice: &mut Dice, send: &mut dyn FnMut(&[u8])) {
    let channel = dice.below(3) as u8;
    let (key, value) = (40 + dice.below(40) as u8, dice.seven_bits());
    match dice.below(6) {
        0 => send(&[0x80 | channel, key, 0]),
        1 => send(&[0xB0 | channel, [1, 7, 10, 11, 64, 91, 93, 120][dice.below(8)], value]),
        2 => send(&[0xE0 | channel, 0, value]),
        _ => send(&[0x90 | channel, key, value]),
    }
}

/// Off is silent to the last bit, and the default level is safe.
#[test]
fn an_off_level_is_silent_and_the_default_level_is_safe() {
    let loudest = |level: Option<f32>, click: f32| {
        let mut mix = Mix::new(&tones(), 48_000).unwrap();
        level.into_iter().for_each(|level| mix.desk().set_level(Decibels::new(level)));
        mix.desk().set_click(Decibels::new(click));
        mix.strike(true);
        let (mut left, mut right) = (vec![0.0; 9600], vec![0.0; 9600]);
        mix.render(&mut left, &mut right);
        assert!(left == right);
        20.0 * common::measure::peak(&left).log10()
    };
    let (full, safe) = (loudest(Some(0.0), -10.0), loudest(None, -10.0));
    assert!((full + 10.0).abs() < 2.0, "{full}");
    assert!((full - safe - 12.0).abs() < 0.01);
    assert!((loudest(Some(-6.0), -3.0) - full - 1.0).abs() < 0.01);
    assert_eq!(loudest(Some(0.0), FLOOR_DB), f32::NEG_INFINITY);
    assert_eq!(loudest(Some(FLOOR_DB), 0.0), f32::NEG_INFINITY);
    assert!(
        Instrument::new(&tones(), 8000).is_err() && Instrument::new(&tones(), 1 << 31).is_err()
    );
}
