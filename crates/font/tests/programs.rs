//! All programs and drums: names, loudness, silence at the end, and no pop when a note is released.
//!
//! Sources: names, numbers and percussion keys are those of the General MIDI System Level 1 sound
//! set and percussion map. The limits for loudness are our own.

mod ear;

use ear::{Note, RATE, Spectrum, decibels, font, loudest, peak, rms};

#[test]
fn bank_0_has_the_128_programs_and_bank_128_the_percussion() {
    let font = font();
    let mut found: Vec<(i32, i32, &str)> = font
        .get_presets()
        .iter()
        .map(|one| (one.get_bank_number(), one.get_patch_number(), one.get_name()))
        .collect();
    found.sort_unstable();
    let numbers: Vec<(i32, i32)> = found.iter().map(|one| (one.0, one.1)).collect();
    let wanted: Vec<(i32, i32)> = (0..128).map(|program| (0, program)).chain([(128, 0)]).collect();
    assert_eq!(numbers, wanted);
    let some = [
        (1, "Acoustic Grand Piano"),
        (13, "Marimba"),
        (25, "Acoustic Nylon Gtr"),
        (57, "Trumpet"),
        (128, "Gunshot"),
    ];
    for (program, name) in some {
        assert_eq!(found[program - 1].2, name);
    }
}

#[test]
fn no_program_is_much_louder_or_softer_than_the_others() {
    let font = font();
    let level = |program: u8, key: u8| decibels(loudest(&Note::new(program, key, 1.5).mono(&font)));
    let levels: Vec<f64> = (1..=112)
        .map(|program| [48, 60, 72].iter().map(|key| level(program, *key)).sum::<f64>() / 3.0)
        .collect();
    let mut sorted = levels.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted[levels.len() / 2];
    for (at, level) in levels.iter().enumerate() {
        let off = level - middle;
        assert!(off.abs() < 4.5, "program {}: {off:.1} dB from the middle", at + 1);
    }
}

#[test]
fn every_program_stays_below_full_scale_and_ends_in_silence() {
    let font = font();
    for program in 1..=128 {
        let note = Note { velocity: 127, after: 4.0, ..Note::new(program, 60, 1.0) };
        let frames = note.mono(&font);
        let top = decibels(f64::from(peak(&frames)));
        assert!((-45.0..-6.0).contains(&top), "program {program}: peak {top:.1} dB");
        let end = rms(&frames[frames.len() - RATE / 10..]);
        assert!(end < 1e-5, "program {program}: {:.1} dB at the end", decibels(end));
    }
}

#[test]
fn releasing_a_key_does_not_pop() {
    let font = font();
    for program in 1..=120 {
        let note = Note { after: 0.1, ..Note::new(program, 60, 1.0) };
        let frames = note.mono(&font);
        let step = |part: &[f32]| {
            part.windows(3).map(|w| (w[2] - 2.0 * w[1] + w[0]).abs()).fold(0.0, f32::max)
        };
        let before = step(&frames[RATE - RATE / 10..RATE - 64]);
        let after = step(&frames[RATE - 64..]);
        // The player lowers its level in small steps and drops a voice below -60 dB. A sound that
        // is cut off would step by its whole amplitude.
        let steps = 0.03 * peak(&frames[RATE - RATE / 10..RATE]);
        let most = 5e-4 + 1.6 * before + steps;
        assert!(after <= most, "program {program}: bends by {after}, more than {most}");
    }
}

#[test]
fn each_drum_sounds_ends_and_differs_from_the_others() {
    let font = font();
    let mut prints: Vec<(u8, Vec<f64>)> = Vec::new();
    for key in 35..=81 {
        let frames = Note { after: 4.0, ..Note::drum(key, 0.1) }.mono(&font);
        let top = decibels(f64::from(peak(&frames)));
        assert!(top > -40.0, "key {key}: peak {top:.1} dB");
        let end = peak(&frames[frames.len() - RATE / 10..]);
        assert_eq!(end, 0.0, "key {key} does not end");
        let print = fingerprint(&frames);
        for (other, known) in &prints {
            let far: f64 = print.iter().zip(known).map(|(a, b)| (a - b).abs()).sum();
            assert!(far > 0.06, "keys {other} and {key} are {far:.3} apart");
        }
        prints.push((key, print));
    }
}

#[test]
fn each_program_differs_from_the_others() {
    let font = font();
    let print = |program: u8| {
        let note = Note { after: 0.5, ..Note::new(program, 60, 0.8) };
        (program, colour(&note.mono(&font)))
    };
    let prints: Vec<(u8, Vec<f64>)> = (1..=128).map(print).collect();
    for (at, (one, own)) in prints.iter().enumerate() {
        for (other, known) in &prints[..at] {
            let far: f64 = own.iter().zip(known).map(|(a, b)| (a - b).abs()).sum();
            let far = far / own.len() as f64;
            assert!(far > 0.5, "programs {other} and {one} are {far:.2} dB apart");
        }
    }
}

/// What distinguishes sounds to the ear: their power in each third of an octave and in each tenth
/// of their length, in decibels below the strongest, down to -60 dB.
fn colour(frames: &[f32]) -> Vec<f64> {
    let print = fingerprint(frames);
    let (thirds, times) = print.split_at(28);
    let under = |shares: &[f64]| -> Vec<f64> {
        let most = shares.iter().copied().fold(0.0, f64::max);
        shares.iter().map(|share| 10.0 * (share / most).max(1e-6).log10()).collect()
    };
    [under(thirds), under(times)].concat()
}

/// The share of power in each third of an octave and in each tenth of the length.
fn fingerprint(frames: &[f32]) -> Vec<f64> {
    let spectrum = Spectrum::of(&frames[..RATE]);
    let edge = |at: u32| (30.0 * f64::from(at as i32).exp2().cbrt() / spectrum.spacing) as usize;
    let thirds = (0..28).map(|at| {
        spectrum.lines[edge(at)..edge(at + 1)].iter().map(|line| line * line).sum::<f64>()
    });
    let thirds: Vec<f64> = thirds.collect();
    let all: f64 = thirds.iter().sum();
    let times: Vec<f64> =
        frames[..RATE].chunks(RATE / 10).map(|part| rms(part) * rms(part)).collect();
    let sum: f64 = times.iter().sum();
    thirds.iter().map(|one| one / all).chain(times.iter().map(|one| one / sum)).collect()
}

#[test]
fn a_closed_hat_cuts_an_open_one_off() {
    let font = font();
    let ring = |cut: Option<i32>| {
        let mut player = ear::player(&font);
        let (mut left, mut right) = (vec![0.0; RATE / 5], vec![0.0; RATE / 5]);
        player.note_on(ear::PERCUSSION, 46, 100);
        player.render(&mut left, &mut right);
        if let Some(key) = cut {
            player.note_on(ear::PERCUSSION, key, 100);
        }
        player.render(&mut left, &mut right);
        rms(&left[RATE / 8..])
    };
    // Common practice, and a rule from General MIDI Level 2 on.
    assert!(ring(Some(42)) < 0.2 * ring(None));
    assert!(ring(Some(44)) < 0.2 * ring(None));
    assert!(ring(Some(51)) > 0.9 * ring(None));
}
