//! Finds the level at which a bounce reaches the loudness that the user asked for.
//!
//! In: a loudness, and a function that renders and measures at a gain. Out: the gain. As long as
//! the limiter has nothing to do, 3 dB of gain add 3 LU, and one measurement is enough. Once it
//! turns the mix down, they add less: then the bounce is rendered and measured again with better
//! guesses.

use chaconne_sound::CEILING_DB;

/// The tolerance in LU: the result is printed with one decimal.
const NEAR: f64 = 0.04;
/// The error in LU beyond which a remark says so.
const FAR: f64 = 0.1;
/// How far the limiter may turn the mix down, in decibels. Beyond that, little is left of the
/// music.
const MOST_LIMITED: f64 = 24.0;
/// The most measurements with the limiter at work.
const MOST_TRIES: usize = 10;

/// The measurements of one rendering.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// The loudness before the limiter, in LUFS; `None` for silence.
    pub dry: Option<f64>,
    /// The peak before the limiter, in dBFS.
    pub peak: Option<f64>,
    /// The loudness after the limiter, in LUFS.
    pub mix: Option<f64>,
}

/// A level, and a remark if it misses the loudness that was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// The factor for every sample.
    pub gain: f32,
    /// Why the loudness is not the one asked for.
    pub remark: Option<String>,
}

/// A gain in decibels, and the error of the loudness with it, in LU.
type Try = (f64, f64);

/// Finds the level for `wanted` LUFS. `hear` renders and measures at a gain; `None` if it is
/// stopped.
pub fn find(
    wanted: f64,
    hear: &mut dyn FnMut(f32) -> Result<Option<Heard>, String>,
) -> Result<Option<Level>, String> {
    let Some(first) = hear(1.0)? else { return Ok(None) };
    let (Some(dry), Some(peak)) = (first.dry, first.peak) else {
        let remark = "the music is silent or shorter than 0.4 s, so its loudness cannot be set";
        return Ok(Some(Level { gain: 1.0, remark: Some(remark.into()) }));
    };
    let ceiling = f64::from(CEILING_DB);
    let plain = wanted - dry;
    if peak + plain <= ceiling {
        return Ok(Some(Level { gain: factor(plain), remark: None }));
    }
    let most = ceiling + MOST_LIMITED - peak;
    let (mut gain, mut best) = (plain.min(most), None::<Try>);
    let (mut soft, mut loud) = (None, None);
    for _ in 0..MOST_TRIES {
        let Some(heard) = hear(factor(gain))? else { return Ok(None) };
        let this = (gain, wanted - heard.mix.unwrap_or(dry + gain));
        if best.is_none_or(|best| this.1.abs() < best.1.abs()) {
            best = Some(this);
        }
        if this.1.abs() <= NEAR || (this.1 > 0.0 && gain >= most) {
            break;
        }
        *(if this.1 > 0.0 { &mut soft } else { &mut loud }) = Some(this);
        gain = next(soft, loud).min(most);
    }
    let (gain, miss) = best.unwrap_or((gain, 0.0));
    let remark = (miss.abs() > FAR).then(|| {
        format!(
            "the loudness is {:.1} LUFS instead of {wanted:.1}: the limiter turns the mix down by \
             {MOST_LIMITED:.0} dB at most",
            wanted - miss
        )
    });
    Ok(Some(Level { gain: factor(gain), remark }))
}

/// The next gain to try, from one that was too soft and one that was too loud.
fn next(soft: Option<Try>, loud: Option<Try>) -> f64 {
    match (soft, loud) {
        (Some((low, missing)), Some((high, over))) => {
            // The point where a straight line between both meets the target, but not too near to
            // either.
            let part = missing / (missing - over);
            low + (high - low) * part.clamp(0.1, 0.9)
        }
        // The limiter lets about half of an increase through.
        (Some((low, missing)), None) => low + 2.0 * missing,
        (None, Some((high, over))) => high + over,
        (None, None) => 0.0,
    }
}

fn factor(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Music of this loudness and peak; above the ceiling, this share of the gain comes out.
    fn music(dry: f64, peak: f64, part: f64, tries: &mut u32, gain: f32) -> Heard {
        *tries += 1;
        let db = 20.0 * f64::from(gain).log10();
        let over = (peak + db + 1.0).max(0.0);
        let lost = over * (1.0 - part);
        Heard { dry: Some(dry + db), peak: Some(peak + db), mix: Some(dry + db - lost) }
    }

    fn found(wanted: f64, part: f64) -> (Level, Heard, u32) {
        let mut tries = 0;
        let mut hear = |gain| Ok(Some(music(-24.0, -6.0, part, &mut tries, gain)));
        let level = find(wanted, &mut hear).unwrap().unwrap();
        let heard = music(-24.0, -6.0, part, &mut 0, level.gain);
        (level, heard, tries)
    }

    #[test]
    fn one_measurement_is_enough_without_limiting() {
        for wanted in [-40.0, -24.0, -19.0] {
            let (level, heard, tries) = found(wanted, 0.1);
            assert!((heard.mix.unwrap() - wanted).abs() < 1e-4 && level.remark.is_none());
            assert_eq!(tries, 1);
        }
    }

    #[test]
    fn a_loudness_within_reach_is_found_in_a_few_tries() {
        for wanted in [-18.9, -16.0, -14.0, -11.0] {
            for part in [0.4, 0.5, 0.7, 0.95] {
                let (level, heard, tries) = found(wanted, part);
                let miss = heard.mix.unwrap() - wanted;
                assert!(miss.abs() <= NEAR && level.remark.is_none(), "{wanted} {part}: {miss}");
                assert!(tries <= 9, "{wanted} {part}: {tries}");
            }
        }
    }

    #[test]
    fn a_loudness_out_of_reach_is_reported() {
        let (level, heard, _) = found(-6.0, 0.2);
        // 24 dB of limiting are 29 dB of gain, of which 5 + 24 · 0.2 dB come out.
        assert!((heard.mix.unwrap() + 14.2).abs() < 1e-3, "{heard:?}");
        assert!(level.remark.unwrap().starts_with("the loudness is -14.2 LUFS instead of -6.0: "));
        let silent = Heard { dry: None, peak: None, mix: None };
        let level = find(-16.0, &mut |_| Ok(Some(silent))).unwrap().unwrap();
        assert!(level.gain == 1.0 && level.remark.is_some());
        assert_eq!(find(-16.0, &mut |_| Ok(None)), Ok(None));
    }
}
