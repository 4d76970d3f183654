//! One layer of a program: a timbre and how it is shaped when played.
//!
//! Seconds, hertz, cents and decibels in; the generators of SoundFont out.

use crate::sf2::{Generator, Setting};
use crate::timbre::Timbre;

/// At once, in timecents.
const INSTANT: i16 = -32_768;
/// The lowest rate of an oscillator, in absolute cents: it stands still, and a player that sees so
/// need not reckon with it.
pub const STILL: i16 = -16_000;
/// The lowest and highest cut-off that the filter has, in hertz.
const CUTOFFS: (f64, f64) = (60.0, 20_000.0);

/// A timbre and its shape.
#[derive(Debug, Clone)]
pub struct Layer {
    /// What sounds.
    pub timbre: &'static Timbre,
    /// How, the same at every key.
    pub settings: Vec<Setting>,
    cutoff: Cutoff,
}

#[derive(Debug, Clone, Copy)]
enum Cutoff {
    Open,
    Hertz(f64),
    Times(f64),
}

impl Layer {
    /// A timbre that starts at once, stays while the key is down, and ends within a tenth of a
    /// second; a little reverberation, and vibrato at 5.5 Hz when the modulation wheel asks for it.
    pub fn of(timbre: &'static Timbre) -> Self {
        let layer = Self { timbre, settings: Vec::new(), cutoff: Cutoff::Open };
        let still = layer.set(Generator::ModLfoRate, STILL);
        still.attack(0.0).release(0.25).reverb(12.0).vibrato(0.0, 5.5, 0.0)
    }

    /// Seconds to full level, 0 for at once.
    pub fn attack(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvAttack, timecents(seconds))
    }

    /// Seconds before it starts.
    pub fn delay(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvDelay, timecents(seconds))
    }

    /// Dies away: seconds to fall by 60 dB at middle C, and shorter by half with so many octaves up
    /// (0 for the same everywhere).
    pub fn fade(self, seconds: f64, halvings: f64) -> Self {
        let per_key = (100.0 * halvings).round() as i16;
        self.set(Generator::VolEnvDecay, timecents(seconds / 0.6))
            .set(Generator::VolEnvSustain, 1000)
            .set(Generator::KeyToVolEnvDecay, per_key)
    }

    /// Falls by so many decibels within so many seconds and stays there.
    pub fn sustain(self, decibels: f64, seconds: f64) -> Self {
        self.set(Generator::VolEnvDecay, timecents(seconds * 100.0 / decibels.max(0.1)))
            .set(Generator::VolEnvSustain, (decibels * 10.0) as i16)
    }

    /// Seconds to fall by 100 dB once the key is let go; not under 0.03, which would click.
    pub fn release(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvRelease, timecents(seconds.max(0.03)))
    }

    /// Vibrato of so many cents either way, at so many hertz, after so many seconds.
    pub fn vibrato(self, cents: f64, rate: f64, delay: f64) -> Self {
        self.set(Generator::VibLfoToPitch, cents as i16)
            .set(Generator::VibLfoRate, absolute_cents(rate))
            .set(Generator::VibLfoDelay, timecents(delay))
    }

    /// Rise and fall of the volume by so many decibels either way, at so many hertz.
    pub fn tremolo(self, decibels: f64, rate: f64) -> Self {
        self.set(Generator::ModLfoToVolume, (decibels * 10.0) as i16)
            .set(Generator::ModLfoRate, absolute_cents(rate))
    }

    /// Rise and fall of the cut-off by so many cents either way, at so many hertz.
    pub fn wah(self, cents: f64, rate: f64) -> Self {
        self.set(Generator::ModLfoToCutoff, cents as i16)
            .set(Generator::ModLfoRate, absolute_cents(rate))
    }

    /// Low-pass at so many hertz, whatever the key.
    pub fn dark(self, hertz: f64) -> Self {
        Self { cutoff: Cutoff::Hertz(hertz), ..self }
    }

    /// Low-pass at so many times the frequency of the key.
    pub fn mellow(self, times: f64) -> Self {
        Self { cutoff: Cutoff::Times(times), ..self }
    }

    /// Resonance of the filter in decibels.
    pub fn resonance(self, decibels: f64) -> Self {
        self.set(Generator::FilterResonance, (decibels * 10.0) as i16)
    }

    /// Opens the filter by so many cents at once (or within `rise` seconds) and closes it within
    /// `fall` seconds. Negative cents close it and open it again.
    pub fn sweep(self, cents: f64, rise: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvToCutoff, cents as i16).modulation(rise, fall)
    }

    /// Starts so many cents off and comes to its pitch within `fall` seconds.
    pub fn bend(self, cents: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvToPitch, cents as i16).modulation(0.0, fall)
    }

    fn modulation(self, rise: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvAttack, timecents(rise))
            .set(Generator::ModEnvDecay, timecents(fall))
            .set(Generator::ModEnvSustain, 1000)
            .set(Generator::ModEnvRelease, timecents(fall))
    }

    /// Semitones up.
    pub fn up(self, semitones: i16) -> Self {
        self.set(Generator::CoarseTune, semitones)
    }

    /// Cents up.
    pub fn fine(self, cents: i16) -> Self {
        self.set(Generator::FineTune, cents)
    }

    /// Cents from one key to the next, where it is not 100.
    pub fn scale(self, cents: i16) -> Self {
        self.set(Generator::ScaleTuning, cents)
    }

    /// Percent to the right of the middle, negative to the left.
    pub fn pan(self, percent: f64) -> Self {
        self.set(Generator::Pan, (percent * 5.0) as i16)
    }

    /// Percent sent to the reverberation.
    pub fn reverb(self, percent: f64) -> Self {
        self.set(Generator::ReverbSend, (percent * 10.0) as i16)
    }

    /// Percent sent to the chorus.
    pub fn chorus(self, percent: f64) -> Self {
        self.set(Generator::ChorusSend, (percent * 10.0) as i16)
    }

    /// Decibels softer, as players in use read it (four tenths of what is written).
    pub fn softer(self, decibels: f64) -> Self {
        self.set(Generator::Attenuation, (decibels * 25.0) as i16)
    }

    /// The cut-off at one root key, if the filter does anything.
    pub fn cutoff_at(&self, frequency: f64) -> Option<Setting> {
        let hertz = match self.cutoff {
            Cutoff::Open => return None,
            Cutoff::Hertz(hertz) => hertz,
            Cutoff::Times(times) => times * frequency,
        };
        let hertz = hertz.clamp(CUTOFFS.0, CUTOFFS.1);
        Some((Generator::FilterCutoff, absolute_cents(hertz)))
    }

    fn set(mut self, generator: Generator, amount: i16) -> Self {
        self.settings.retain(|setting| setting.0 != generator);
        self.settings.push((generator, amount));
        self
    }
}

/// Seconds in the unit of the envelopes; 0 is at once.
pub fn timecents(seconds: f64) -> i16 {
    if seconds <= 0.0 { INSTANT } else { cents(seconds) }
}

fn absolute_cents(hertz: f64) -> i16 {
    cents(hertz / 8.175_798_9)
}

/// 1200 times the binary logarithm, to the nearest cent, by halving the interval.
fn cents(ratio: f64) -> i16 {
    let (mut low, mut high) = (-15_000_i32, 15_000_i32);
    while high - low > 1 {
        let middle = (low + high) / 2;
        let edge = crate::dsp::math::power_of_two((f64::from(middle) - 0.5) / 1200.0);
        if ratio >= edge { low = middle } else { high = middle }
    }
    low as i16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_those_of_the_specification() {
        // SoundFont Technical Specification 2.04, section 8.1.3: one second is 0 timecents, 10 ms
        // are -7973; 20 kHz are 13,500 absolute cents, 8.176 Hz are 0.
        assert_eq!(timecents(1.0), 0);
        assert_eq!(timecents(0.01), -7973);
        assert_eq!(timecents(0.0), -32_768);
        assert_eq!(absolute_cents(8.176), 0);
        assert!((13_490..=13_510).contains(&absolute_cents(20_000.0)));
    }
}
