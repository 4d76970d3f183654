//! A loudness meter that shares nothing with the program's own.
//!
//! In: samples at 48 kHz. Out: the integrated loudness by Recommendation ITU-R BS.1770-4, annex 1:
//! two filters, blocks of 400 ms that overlap by three quarters, and two gates. The coefficients are
//! those of its tables 1 and 2 (from memory).

/// A filter's coefficients: b0, b1, b2, a1, a2.
type Filter = [f64; 5];

/// The first filter, a high shelf, which models the acoustic effect of a listener's head.
const SHELF: Filter = [
    1.535_124_859_586_97,
    -2.691_696_189_406_38,
    1.198_392_810_852_85,
    -1.690_659_293_182_41,
    0.732_480_774_215_85,
];
/// The second filter, a high-pass: low sounds seem less loud.
const HIGH_PASS: Filter = [1.0, -2.0, 1.0, -1.990_047_454_833_98, 0.990_072_250_366_21];
/// The length of a block in frames: 400 ms.
const BLOCK: usize = 19_200;
/// The frames from the start of a block to the start of the next: 100 ms.
const STEP: usize = 4_800;

/// The integrated loudness of left and right in LUFS; `None` if nothing passes the gates.
pub fn lufs(left: &[f32], right: &[f32]) -> Option<f64> {
    let sides = [left, right].map(|side| {
        let side: Vec<f64> = side.iter().map(|&sample| f64::from(sample)).collect();
        filtered(&filtered(&side, SHELF), HIGH_PASS)
    });
    let power = |from: usize| -> f64 {
        let mean = |side: &Vec<f64>| {
            side[from..from + BLOCK].iter().map(|x| x * x).sum::<f64>() / BLOCK as f64
        };
        sides.iter().map(mean).sum()
    };
    let last = left.len().min(right.len()).checked_sub(BLOCK)?;
    let loudness = |power: f64| -0.691 + 10.0 * power.log10();
    let mean = |powers: &[f64]| powers.iter().sum::<f64>() / powers.len() as f64;
    let mut powers: Vec<f64> = (0..=last).step_by(STEP).map(power).collect();
    powers.retain(|&power| loudness(power) > -70.0);
    let gate = loudness(mean(&powers)) - 10.0;
    powers.retain(|&power| loudness(power) > gate);
    (!powers.is_empty()).then(|| loudness(mean(&powers)))
}

fn filtered(samples: &[f64], [b0, b1, b2, a1, a2]: Filter) -> Vec<f64> {
    let ((mut x1, mut x2), (mut y1, mut y2)) = ((0.0, 0.0), (0.0, 0.0));
    let next = |&x: &f64| {
        let y = b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
        (x2, x1, y2, y1) = (x1, x, y1, y);
        y
    };
    samples.iter().map(next).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EBU Tech 3341, minimum requirements, test case 1 (from memory): a stereo sine of 1 kHz with
    /// peaks at -23 dBFS for 20 s reads -23.0 LUFS, give or take 0.1.
    #[test]
    fn a_known_sine_has_its_known_loudness() {
        let turn = std::f64::consts::TAU * 1000.0 / 48_000.0;
        let sine = (0..960_000).map(|i| (10f64.powf(-1.15) * (turn * f64::from(i)).sin()) as f32);
        let sine: Vec<f32> = sine.collect();
        assert!((lufs(&sine, &sine).unwrap() + 23.0).abs() < 0.1);
        assert_eq!(lufs(&[0.0; 50_000], &[0.0; 50_000]), None);
        assert_eq!(lufs(&sine[..19_199], &sine), None);
    }
}
