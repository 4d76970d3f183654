//! The bounce: when messages sound, how files end, and that results do not depend on piece sizes.

mod common;

use chaconne_sound::Decibels;
use chaconne_sound::bounce::{Bounce, Score, ScoreEvent, Settings, Tail};
use common::{Dice, tones};

const PLAIN: Settings = Settings {
    rate: 44_100,
    from: 0,
    to: 44_100,
    tail: Tail::Frames(0),
    gain: 1.0,
    click: Decibels::CLICK,
};

/// Renders a score; returns the left side of the mix, of the dry mix, and of each stem.
fn render(score: &Score, settings: Settings) -> (Vec<f32>, Vec<f32>, Vec<Vec<f32>>) {
    let mut bounce = Bounce::new(&tones(), score, settings).unwrap();
    let (mut mix, mut dry, mut stems) = (Vec::new(), Vec::new(), vec![Vec::new(); score.stems]);
    while bounce.step() {
        mix.extend(&bounce.mix().left);
        dry.extend(&bounce.dry().left);
        for (place, stem) in stems.iter_mut().enumerate() {
            stem.extend(&bounce.stem(place).left);
        }
    }
    assert!(!bounce.step(), "it stays at its end");
    (mix, dry, stems)
}

/// A score with one note at `frame`, without reverb, on a program that stops at its release.
fn note(frame: u64, until: u64, velocity: u8) -> Score {
    let events = vec![
        ScoreEvent::new(0, 0, 0, &[0xB0, 91, 0]),
        ScoreEvent::new(frame, 0, 0, &[0x90, 60, velocity]),
        ScoreEvent::new(until, 0, 0, &[0x80, 60, 64]),
    ];
    Score { stems: 1, events }
}

#[test]
fn a_note_sounds_at_its_frame_give_or_take_six() {
    let mut dice = Dice(3);
    let frames = (0..16).chain((0..60).map(|_| dice.below(40_000)));
    for frame in frames {
        let (mix, dry, stems) = render(&note(frame as u64, 44_100, 100), PLAIN);
        assert_eq!([mix.len(), dry.len(), stems[0].len()], [44_100; 3]);
        // The tone is a cosine: its first frame is its loudest.
        let onset = |sound: &[f32]| sound.iter().position(|x| x.abs() > 0.01).unwrap() as i64;
        let late = onset(&mix) - frame as i64;
        // 0.14 ms at 44.1 kHz.
        assert!((-6..=5).contains(&late), "{frame}: {late}");
        assert_eq!([onset(&dry), onset(&stems[0])], [onset(&mix); 2]);
        if frame == 0 {
            assert_eq!(late, 0, "the first beat is exact");
        }
    }
}

#[test]
fn frames_below_the_ceiling_pass_the_limiter_unchanged() {
    let (mix, dry, stems) = render(&note(100, 30_000, 60), PLAIN);
    assert!(mix == dry && dry == stems[0]);
    let loud = Settings { gain: 100.0, ..PLAIN };
    let (mix, dry, stems) = render(&note(100, 30_000, 127), loud);
    assert!(dry == stems[0] && mix != dry);
    assert!(mix.iter().all(|x| x.abs() <= 0.8913), "-1 dBFS");
}

#[test]
fn a_tail_ends_at_silence_or_at_its_set_length() {
    let until_silent = Settings { to: 20_000, tail: Tail::Silence, ..PLAIN };
    // With nothing to play, it ends with the music.
    let (mix, ..) = render(&Score { stems: 1, events: Vec::new() }, until_silent);
    assert_eq!(mix.len(), 20_000);
    // The note is released at the end and rings for less than a tenth of a second. Rendering goes on
    // until a twentieth of a second has been silent, rounded up to a whole piece.
    let (mix, _, stems) = render(&note(0, 20_000, 100), until_silent);
    assert!((20_000 + 2205..20_000 + 4410 + 2205 + 4096).contains(&mix.len()), "{}", mix.len());
    assert!(mix[mix.len() - 2205..].iter().all(|x| x.abs() < 3.2e-5));
    assert_eq!(stems[0].len(), mix.len());
    // A held note rings to the limit of 10 s and fades out there.
    let (mix, ..) = render(&note(0, u64::MAX / 4, 100), until_silent);
    assert_eq!(mix.len(), 20_000 + 441_000);
    assert_eq!(mix[mix.len() - 1], 0.0);
    assert!(mix[mix.len() - 2000..].iter().any(|x| x.abs() > 0.01));
}

#[test]
fn a_program_change_affects_every_stem_on_its_channel() {
    // Program 1 rings for seconds after its end, program 0 stops at once.
    let mut score = note(1000, 5000, 100);
    score.stems = 2;
    let plain = render(&score, PLAIN).2;
    score.events.insert(0, ScoreEvent::new(0, 1, 0, &[0xC0, 1]));
    let moved = render(&score, PLAIN).2;
    assert!(plain[0][20_000..].iter().all(|x| x.abs() < 1e-4));
    assert!(moved[0][20_000..21_000].iter().any(|x| x.abs() > 0.01));
    assert!(moved[1].iter().all(|x| *x == 0.0), "the other has no note of its own");
    // On another port it affects no stem.
    score.events[0] = ScoreEvent::new(0, 1, 1, &[0xC0, 1]);
    assert!(render(&score, PLAIN).2 == plain);
}
