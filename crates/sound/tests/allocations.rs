//! Once created, a mix neither allocates nor frees, whatever it plays.

mod common;

use chaconne_counting::{Counting, own_calls};
use chaconne_sound::{Decibels, Mix};
use common::{Dice, tones};

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn playing_allocates_nothing() {
    let mut mix = Mix::new(&tones(), 48_000).unwrap();
    let desk = mix.desk();
    let (mut left, mut right) = ([0.0; 256], [0.0; 256]);
    let mut dice = Dice(1);
    let before = own_calls();
    for round in 0..2000usize {
        for _ in 0..20 {
            let status = 0x80 | dice.below(0x70) as u8;
            let message = [status, dice.seven_bits(), dice.seven_bits()];
            mix.message(if status & 0xE0 == 0xC0 { &message[..2] } else { &message });
        }
        if round % 100 == 0 {
            mix.strike(round % 200 == 0);
            mix.message(&[0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7]);
            desk.set_level(Decibels::new(-(round as f32) / 100.0));
        }
        // Half of it is silence, so that rendering is suspended and resumed.
        mix.render(&mut left, &mut right);
        if round % 400 == 399 {
            for channel in 0..16 {
                mix.message(&[0xB0 | channel, 120, 0]);
                mix.message(&[0xB0 | channel, 121, 0]);
            }
            (0..2000).for_each(|_| mix.render(&mut left, &mut right));
            assert_eq!(left[0], 0.0);
        }
        assert!(desk.meters().peak[0] <= 1.0);
    }
    assert_eq!(own_calls() - before, 0, "calls to the allocator");
    // The counter does see an allocation.
    drop(std::hint::black_box(vec![0u8; 64]));
    assert_eq!(own_calls() - before, 2);
}
