//! The limiter never exceeds its ceiling, changes nothing below it, and does not pop.

mod common;

use chaconne_sound::{CEILING_DB, Limiter};
use common::{Dice, measure};
use proptest::prelude::*;

const RATE: u32 = 48_000;

fn ceiling() -> f32 {
    10f32.powf(CEILING_DB / 20.0)
}

fn limit(left: &[f32], right: &[f32]) -> (Vec<f32>, Vec<f32>) {
    let (mut left, mut right) = (left.to_vec(), right.to_vec());
    Limiter::new(RATE).process(&mut left, &mut right);
    (left, right)
}

fn sine(hertz: f64, amplitude: f64, frames: usize) -> Vec<f32> {
    let turn = std::f64::consts::TAU * hertz / f64::from(RATE);
    (0..frames).map(|i| (amplitude * (turn * i as f64 + 0.1).sin()) as f32).collect()
}

#[test]
fn frames_below_the_ceiling_are_only_delayed() {
    let sound = sine(997.0, 0.89, 5000);
    let ahead = Limiter::latency(RATE);
    assert_eq!(ahead, 96);
    let (left, right) = limit(&sound, &sound);
    assert!(left[..ahead].iter().all(|x| *x == 0.0));
    assert!(left[ahead..] == sound[..5000 - ahead]);
    assert!(left == right);
}

#[test]
fn a_peak_lowers_both_sides_equally_and_the_gain_recovers() {
    let mut left = sine(500.0, 0.5, 72_000);
    let right = sine(700.0, 0.25, 72_000);
    left[20_000] = 8.0;
    let ahead = Limiter::latency(RATE);
    let (l, r) = limit(&left, &right);
    assert!((l[20_000 + ahead] - ceiling()).abs() < 1e-3);
    // Nothing is turned down before the look-ahead, or a second after the peak.
    assert!(l[ahead..20_000] == left[..20_000 - ahead]);
    assert!(l[70_000..] == left[70_000 - ahead..72_000 - ahead]);
    for i in
        (19_000..70_000).filter(|i| left[i - ahead].abs() > 0.1 && right[i - ahead].abs() > 0.1)
    {
        let (a, b) = (l[i] / left[i - ahead], r[i] / right[i - ahead]);
        assert!((a - b).abs() < 1e-5, "{i}: {a} {b}");
    }
    // A tenth of a second later, 63 % of the gain has recovered, roughly half in decibels.
    let at = 20_000 + ahead + 4800 + ahead;
    let near = (at..at + 96).max_by(|a, b| left[a - ahead].abs().total_cmp(&left[b - ahead].abs()));
    let gain = near.map(|i| l[i] / left[i - ahead]).unwrap();
    assert!((gain - (1.0 - (1.0 - ceiling() / 8.0) * 0.368)).abs() < 0.02, "{gain}");
}

/// A tone 12 dB too loud comes out at the ceiling, undistorted.
#[test]
fn a_loud_tone_stays_a_tone() {
    let sound = sine(1000.0, 4.0, 48_000);
    let (left, _) = limit(&sound, &sound);
    let left = &left[9600..];
    assert!(measure::peak(left) <= ceiling());
    let tone = measure::tone(left, 1000.0, RATE);
    assert!(tone > -1.5 - 3.02, "{tone}");
    for harmonic in 2..12 {
        let other = measure::tone(left, 1000.0 * f64::from(harmonic), RATE);
        assert!(other < tone - 50.0, "{harmonic}: {other}");
    }
}

#[test]
fn nan_becomes_silence() {
    for wrong in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut sound = sine(500.0, 0.5, 2000);
        let fine = limit(&sound, &sound).0;
        sound[500] = wrong;
        let (left, right) = limit(&sound, &sine(500.0, 0.5, 2000));
        let at = 500 + Limiter::latency(RATE);
        assert!(left[at] == 0.0 && left[..at] == fine[..at] && left[at + 1..] == fine[at + 1..]);
        assert!(right == fine);
    }
}

#[test]
fn denormal_samples_become_zero() {
    let sound = vec![f32::MIN_POSITIVE / 4.0; 1000];
    assert!(limit(&sound, &sound).0.iter().all(|x| *x == 0.0));
}

proptest! {
    #[test]
    fn nothing_comes_out_above_the_ceiling(
        seed in any::<u64>(),
        size in prop::sample::select(vec![0.5f32, 1.0, 3.0, 100.0, 1e10, f32::MAX]),
    ) {
        let mut dice = Dice(seed);
        let mut any = || {
            let x = (dice.roll() >> 40) as f32 / (1 << 23) as f32 - 1.0;
            match dice.below(20) { 0 => x * size, 1 => f32::from_bits(dice.roll() as u32), _ => x }
        };
        let (left, right): (Vec<f32>, Vec<f32>) = (0..3000).map(|_| (any(), any())).unzip();
        let (left, right) = limit(&left, &right);
        prop_assert!(left.iter().chain(&right).all(|x| x.abs() <= ceiling()));
    }
}
