//! A million random messages cause no panic, no NaN, no runaway filter and nothing above the ceiling.

mod common;

use chaconne_sound::{CEILING_DB, Decibels, Font, Instrument, Mix};
use common::Dice;

#[test]
fn a_million_random_messages_stay_below_the_ceiling() {
    let ceiling = 10f32.powf(CEILING_DB / 20.0);
    let mut mix = Mix::new(&Font::standard(), 48_000).unwrap();
    mix.desk().set_level(Decibels::new(0.0));
    let mut dice = Dice(2026);
    let (mut left, mut right) = ([0.0f32; 240], [0.0f32; 240]);
    let (mut loudest, mut loud) = (0.0f32, 0);
    for _ in 0..2500 {
        for _ in 0..400 {
            message(&mut dice, &mut |message| mix.message(message));
            if dice.below(100) == 0 {
                mix.strike(dice.below(2) == 0);
            }
        }
        let frames = 1 + dice.below(240);
        mix.render(&mut left[..frames], &mut right[..frames]);
        let peak =
            common::measure::peak(&left[..frames]).max(common::measure::peak(&right[..frames]));
        assert!(left.iter().chain(&right).all(|x| x.is_finite()));
        loudest = loudest.max(peak);
        loud += usize::from(peak > 0.01);
    }
    assert!(loudest <= ceiling, "{loudest}");
    assert!(loud > 1000, "it was heard: {loud}");
    // Afterwards there is silence.
    for channel in 0..16 {
        mix.message(&[0xB0 | channel, 120, 0]);
        mix.message(&[0xB0 | channel, 64, 0]);
        mix.message(&[0xB0 | channel, 66, 0]);
    }
    (0..2000).for_each(|_| mix.render(&mut left, &mut right));
    assert!(left.iter().chain(&right).all(|x| *x == 0.0));
}

/// The limiter's input stays within what this many voices can add up to: no filter runs away, and
/// no sample is denormal.
#[test]
fn without_a_limiter_a_million_random_messages_do_not_run_away() {
    let mut instrument = Instrument::new(&Font::standard(), 44_100).unwrap();
    let mut dice = Dice(7);
    let (mut left, mut right) = ([0.0f32; 240], [0.0f32; 240]);
    let mut loudest = 0.0f32;
    for _ in 0..2500 {
        for _ in 0..400 {
            message(&mut dice, &mut |message| instrument.message(message));
        }
        let frames = 1 + dice.below(240);
        instrument.render(&mut left[..frames], &mut right[..frames]);
        assert!(left.iter().chain(&right).all(|x| x.is_finite() && !x.is_subnormal()));
        loudest = loudest.max(common::measure::peak(&left)).max(common::measure::peak(&right));
    }
    assert!((1.0..8.0).contains(&loudest), "{loudest}");
}

/// A random message: mostly notes, otherwise anything; one in a hundred is not even MIDI.
fn message(dice: &mut Dice, send: &mut dyn FnMut(&[u8])) {
    let (channel, a, b) = (dice.below(16) as u8, dice.seven_bits(), dice.seven_bits());
    match dice.below(100) {
        0..40 => send(&[0x90 | channel, a, b]),
        40..70 => send(&[0x80 | channel, a, b]),
        70..85 => send(&[0xB0 | channel, a, b]),
        85..88 => send(&[0xC0 | channel, a]),
        88..93 => send(&[0xE0 | channel, a, b]),
        93 => send(&[0xA0 | channel, a, b]),
        94 => send(&[0xD0 | channel, a]),
        95 => send(&[0xF0, 0x7F, 0x7F, 0x04, 0x01, a, b, 0xF7]),
        96 if dice.below(50) == 0 => send(&[0xF0, 0x7E, 0x7F, 0x09, 1, 0xF7]),
        98 => [[101, 0], [100, a % 3], [6, b]]
            .iter()
            .for_each(|[controller, value]| send(&[0xB0 | channel, *controller, *value])),
        _ => {
            let junk = dice.roll().to_le_bytes();
            send(&junk[..dice.below(9)]);
        }
    }
}
