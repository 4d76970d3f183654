//! Size, spectrum and correlation of human variation.

use super::*;
use proptest::prelude::*;

const BAR: i64 = 3840;

fn player(seed: u16, bars: i64) -> Player {
    Player::new(&Human { seed, ..Human::NONE }, TrackId(1), Tick(bars * BAR))
}

/// The values of the series at each sixteenth, in standard deviations.
fn series(player: &Player, series: Series, count: i64) -> Vec<f64> {
    let at = |step| player.deviation(series, Tick(step * STEP)) as f64 / ONE as f64;
    (0..count).map(at).collect()
}

/// The mean correlation of values `lag` sixteenths apart, over many seeds.
fn correlation(lag: i64) -> f64 {
    let products = (0..200).flat_map(|seed| {
        let values = series(&player(seed, 64), Series::Timing, 1024);
        (0..1024 - lag as usize).map(move |at| values[at] * values[at + lag as usize])
    });
    let products: Vec<f64> = products.collect();
    products.iter().sum::<f64>() / products.len() as f64
}

/// The published test values of SplitMix64 for the seed 1234567 (the generator adds its constant before
/// each step, so its first output is the finaliser of the seed).
#[test]
fn the_hash_is_that_of_splitmix64() {
    assert_eq!(mixed(1_234_567), 6_457_827_717_110_365_317);
    assert_eq!(mixed(1_234_567u64.wrapping_add(0x9E37_79B9_7F4A_7C15)), 3_203_168_211_198_807_973);
}

#[test]
fn the_standard_deviation_is_one_however_long_the_pass_is() {
    for bars in [1, 2, 4, 16, 64] {
        let values: Vec<f64> = (0..400)
            .flat_map(|seed| series(&player(seed, bars), Series::Timing, 16 * bars))
            .collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let square = values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64;
        assert!(mean.abs() < 0.1, "{bars} bars: mean {mean}");
        assert!((square.sqrt() - 1.0).abs() < 0.05, "{bars} bars: {}", square.sqrt());
    }
}

#[test]
fn neighbours_are_alike_and_the_likeness_fades_slowly() {
    // By hand: a sum of ten rows that change every 1, 2, 4 … 512 sixteenths. Values `lag` apart share a row
    // of period p with probability 1 - lag / p, so their correlation is the mean of that over the rows.
    for (lag, expected) in [(1, 0.8), (4, 0.6), (16, 0.4), (64, 0.2)] {
        let found = correlation(lag);
        assert!((found - expected).abs() < 0.06, "lag {lag}: {found}, expected {expected}");
    }
}

/// The power of the series at a frequency (in cycles of the whole), summed over seeds.
fn power(frequency: usize) -> f64 {
    let count = 1024;
    let of = |seed| {
        let values = series(&player(seed, 64), Series::Timing, count);
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (at, value) in values.iter().enumerate() {
            let turn = std::f64::consts::TAU * frequency as f64 * at as f64 / count as f64;
            real += value * turn.cos();
            imaginary += value * turn.sin();
        }
        real * real + imaginary * imaginary
    };
    (0..60).map(of).sum()
}

#[test]
fn the_spectrum_falls_about_as_one_over_the_frequency() {
    // Published exponents of players are between about 0.5 and 1.5 (Hennig et al. 2011; from memory).
    // The slope is fitted to octave bands from 2 to 400 cycles of 64 bars.
    let bands: Vec<(f64, f64)> = (1..8)
        .map(|octave: u32| {
            let (low, high) = (1usize << octave, 1usize << (octave + 1));
            let inside: Vec<usize> = (low..high).step_by((high - low).div_ceil(12)).collect();
            let mean = inside.iter().map(|&at| power(at)).sum::<f64>() / inside.len() as f64;
            ((low as f64 * 1.4).ln(), mean.ln())
        })
        .collect();
    let count = bands.len() as f64;
    let (x, y) = bands.iter().fold((0.0, 0.0), |(x, y), band| (x + band.0, y + band.1));
    let (x, y) = (x / count, y / count);
    let over = bands.iter().map(|band| (band.0 - x) * (band.1 - y)).sum::<f64>();
    let slope = over / bands.iter().map(|band| (band.0 - x).powi(2)).sum::<f64>();
    assert!((-1.3..=-0.7).contains(&slope), "{slope}");
}

#[test]
fn timing_loudness_tracks_and_seeds_vary_independently() {
    let other = Player::new(&Human::NONE, TrackId(2), Tick(64 * BAR));
    let one = series(&player(0, 64), Series::Timing, 1024);
    for values in [
        series(&player(0, 64), Series::Loudness, 1024),
        series(&player(1, 64), Series::Timing, 1024),
        series(&other, Series::Timing, 1024),
    ] {
        assert!(std::iter::zip(&one, &values).filter(|(one, other)| one == other).count() < 3);
    }
}

#[test]
fn at_100_percent_a_standard_deviation_is_20_ms_and_a_tenth_of_the_velocity() {
    let (player, quarter) = (player(3, 4), 500_000);
    for step in 0..64 {
        let at = Tick(step * STEP);
        // At 120 BPM a tick is 500/960 ms, so 20 ms are 38.4 ticks.
        let expected = player.deviation(Series::Timing, at) as f64 / ONE as f64 * 38.4;
        let expected = expected.clamp(-119.0, 119.0);
        assert!((player.timing(at, 100, quarter).0 as f64 - expected).abs() <= 0.51);
        assert!((player.timing(at, 50, quarter).0 as f64 * 2.0 - expected).abs() <= 1.01);
        let factor = 1.0 + player.deviation(Series::Loudness, at) as f64 / ONE as f64 / 10.0;
        assert!((player.loudness(at, 100) as f64 / ONE as f64 - factor).abs() < 0.001);
    }
    assert_eq!(
        (player.timing(Tick(480), 0, quarter), player.loudness(Tick(480), 0)),
        (Tick(0), ONE)
    );
}

#[test]
fn it_goes_on_over_the_seam_and_is_the_same_in_every_round() {
    let player = player(5, 1);
    for at in [-300, -1, 0, 1, 3839] {
        let here = player.deviation(Series::Timing, Tick(at));
        assert_eq!(here, player.deviation(Series::Timing, Tick(at + BAR)));
    }
    let (last, first) =
        (player.deviation(Series::Timing, Tick(-1)), player.deviation(Series::Timing, Tick(0)));
    // Within one sixteenth it can go from end to end of its range, so a tick is a 240th of that at most.
    assert!((last - first).abs() <= 2 * 6 * ONE / STEP, "{last} {first}");
}

/// These values are written down so that no machine and no later version gives others.
#[test]
fn the_first_values_never_change() {
    let values: Vec<i64> =
        (0..4).map(|step| player(0, 4).deviation(Series::Timing, Tick(step * STEP))).collect();
    assert_eq!(values, FIRST);
}

const FIRST: [i64; 4] = [147_822, 151_387, 45_331, 83_669];

/// At 1000 quarter notes a minute a standard deviation is more than a sixteenth.
#[test]
fn what_comes_first_stays_first_at_the_fastest_tempo() {
    for seed in 0..50 {
        let player = Player::new(&Human { seed, ..Human::NONE }, TrackId(4), Tick(2 * 480));
        let late = |at: i64| at + player.timing(Tick(at), 100, 60_000).0;
        assert!((-960..960).all(|at| late(at) <= late(at + 1)), "{seed}");
    }
}

proptest! {
    #[test]
    fn what_comes_first_stays_first(
        at in -4000i64..16_000, apart in 1i64..400, seed in 0u16..50, beats in 1i64..20,
        tempo in 60_000u32..2_000_000,
    ) {
        let player = Player::new(&Human { seed, ..Human::NONE }, TrackId(4), Tick(beats * 480));
        let late = |at: i64| at + player.timing(Tick(at), 100, tempo).0;
        prop_assert!(late(at) <= late(at + apart));
    }
}
