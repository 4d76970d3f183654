//! However a sound fades, it leaves no denormal numbers, which can be slow to process.

mod common;

use chaconne_sound::{Font, Instrument};
use common::{Player, measure, tiny};

/// A tone followed by endless silence through a filter, which is how many fonts end a drum.
#[test]
fn a_held_voice_whose_sample_has_ended_in_silence_costs_no_more_than_sound() {
    for cutoff in [1500, 4000, 8000, 12_000] {
        let mut tone = tiny::tone(0, 0, -12_000);
        // The loop is moved into the silence after the tone; section 8.1.2 of the SoundFont
        // Technical Specification 2.01 numbers its ends 2 and 3, and the filter's cutoff 8.
        tone.generators.splice(0..0, [(2, 1538), (3, 424), (8, cutoff)]);
        let font = Font::read(&tiny::font(&[tone])).unwrap();
        let instrument = Instrument::new(&font, 48_000).unwrap();
        let mut player = Player { instrument, rate: 48_000 };
        player.send(&[0xB0, 91, 0]);
        player.send(&[0x90, 60, 127]);
        let (left, right) = player.play_ms(5000);
        assert!(measure::peak(&left[..100]) > 1e-3, "the tone is heard");
        assert!(left.iter().chain(&right).all(|x| !x.is_subnormal()), "cutoff {cutoff}");
        assert!(measure::db(&left[48_000..]) < -90.0, "it is silence still");
        player.send(&[0x80, 60, 0]);
        player.play_ms(1000);
        assert!(player.play_ms(100).0.iter().all(|x| *x == 0.0));
    }
}
