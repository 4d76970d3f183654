//! One layer of a program: a timbre, and how playing shapes it.
//!
//! In: seconds, hertz, cents and decibels. Out: SoundFont generators.

use crate::sf2::{Generator, Setting};
use crate::timbre::Timbre;

/// No time at all, in timecents (SoundFont 2.04, section 8.1.3).
const INSTANT: i16 = -32_768;
/// The lowest rate of an oscillator, in absolute cents. At this rate it stands still, so a player
/// can skip it.
pub const STILL: i16 = -16_000;
/// The lowest and highest cut-off of the filter, in hertz.
const CUTOFFS: (f64, f64) = (60.0, 20_000.0);

/// A timbre and the generators that shape it.
#[derive(Debug, Clone)]
pub struct Layer {
    /// The samples it plays.
    pub timbre: &'static Timbre,
    /// Generators that are the same at every key, each at most once.
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
    /// A plain layer: it starts at once, sounds at full level while the key is down, and takes 0.25
    /// s to fall by 100 dB after that. It has a little reverb, and vibrato at 5.5 Hz from the
    /// modulation wheel.
    pub fn of(timbre: &'static Timbre) -> Self {
        let layer = Self { timbre, settings: Vec::new(), cutoff: Cutoff::Open };
        let still = layer.set(Generator::ModLfoRate, STILL);
        still.attack(0.0).release(0.25).reverb(12.0).vibrato(0.0, 5.5, 0.0)
    }

    /// Rises to full level in this many seconds; 0 is at once.
    pub fn attack(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvAttack, timecents(seconds))
    }

    /// Starts this many seconds after the key press.
    pub fn delay(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvDelay, timecents(seconds))
    }

    /// Decays by 60 dB in this many seconds at middle C. The time halves `halvings` times per
    /// octave upwards; 0 keeps it the same at every key.
    pub fn fade(self, seconds: f64, halvings: f64) -> Self {
        let per_key = (100.0 * halvings).round() as i16;
        self.set(Generator::VolEnvDecay, timecents(seconds / 0.6))
            .set(Generator::VolEnvSustain, 1000)
            .set(Generator::KeyToVolEnvDecay, per_key)
    }

    /// Falls by `decibels` within `seconds`, then stays at that level.
    pub fn sustain(self, decibels: f64, seconds: f64) -> Self {
        self.set(Generator::VolEnvDecay, timecents(seconds * 100.0 / decibels.max(0.1)))
            .set(Generator::VolEnvSustain, (decibels * 10.0) as i16)
    }

    /// Falls by 100 dB in this many seconds after the key is released; at least 0.03 s, to avoid a
    /// pop.
    pub fn release(self, seconds: f64) -> Self {
        self.set(Generator::VolEnvRelease, timecents(seconds.max(0.03)))
    }

    /// Vibrato of this many cents either way, at `rate` hertz, starting after `delay` seconds.
    pub fn vibrato(self, cents: f64, rate: f64, delay: f64) -> Self {
        self.set(Generator::VibLfoToPitch, cents as i16)
            .set(Generator::VibLfoRate, absolute_cents(rate))
            .set(Generator::VibLfoDelay, timecents(delay))
    }

    /// Tremolo of this many decibels either way, at `rate` hertz.
    pub fn tremolo(self, decibels: f64, rate: f64) -> Self {
        self.set(Generator::ModLfoToVolume, (decibels * 10.0) as i16)
            .set(Generator::ModLfoRate, absolute_cents(rate))
    }

    /// Moves the cut-off by this many cents either way, at `rate` hertz.
    pub fn wah(self, cents: f64, rate: f64) -> Self {
        self.set(Generator::ModLfoToCutoff, cents as i16)
            .set(Generator::ModLfoRate, absolute_cents(rate))
    }

    /// Low-pass filter at this frequency, the same at every key.
    pub fn dark(self, hertz: f64) -> Self {
        Self { cutoff: Cutoff::Hertz(hertz), ..self }
    }

    /// Low-pass filter at this multiple of the key's frequency.
    pub fn mellow(self, times: f64) -> Self {
        Self { cutoff: Cutoff::Times(times), ..self }
    }

    /// Resonance of the filter in decibels.
    pub fn resonance(self, decibels: f64) -> Self {
        self.set(Generator::FilterResonance, (decibels * 10.0) as i16)
    }

    /// Opens the filter by this many cents within `rise` seconds (0 is at once) and closes it again
    /// within `fall` seconds. Negative cents close it first and then open it.
    pub fn sweep(self, cents: f64, rise: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvToCutoff, cents as i16).modulation(rise, fall)
    }

    /// Starts this many cents off pitch and reaches its pitch within `fall` seconds.
    pub fn bend(self, cents: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvToPitch, cents as i16).modulation(0.0, fall)
    }

    fn modulation(self, rise: f64, fall: f64) -> Self {
        self.set(Generator::ModEnvAttack, timecents(rise))
            .set(Generator::ModEnvDecay, timecents(fall))
            .set(Generator::ModEnvSustain, 1000)
            .set(Generator::ModEnvRelease, timecents(fall))
    }

    /// Transposes up by this many semitones.
    pub fn up(self, semitones: i16) -> Self {
        self.set(Generator::CoarseTune, semitones)
    }

    /// Tunes up by this many cents.
    pub fn fine(self, cents: i16) -> Self {
        self.set(Generator::FineTune, cents)
    }

    /// Sets the interval from one key to the next, in cents; it is 100 unless this is called.
    pub fn scale(self, cents: i16) -> Self {
        self.set(Generator::ScaleTuning, cents)
    }

    /// Pans this many percent to the right, or to the left if negative.
    pub fn pan(self, percent: f64) -> Self {
        self.set(Generator::Pan, (percent * 5.0) as i16)
    }

    /// Percent sent to the reverb.
    pub fn reverb(self, percent: f64) -> Self {
        self.set(Generator::ReverbSend, (percent * 10.0) as i16)
    }

    /// Percent sent to the chorus.
    pub fn chorus(self, percent: f64) -> Self {
        self.set(Generator::ChorusSend, (percent * 10.0) as i16)
    }

    /// Softer by this many decibels. Players apply only four tenths of what the file says, so this
    /// writes two and a half times as much.
    pub fn softer(self, decibels: f64) -> Self {
        self.set(Generator::Attenuation, (decibels * 25.0) as i16)
    }

    /// The cut-off generator for a sample of this frequency in hertz; `None` if the filter is open.
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

/// Seconds in timecents, the unit of the envelopes; 0 and below are at once.
pub fn timecents(seconds: f64) -> i16 {
    if seconds <= 0.0 { INSTANT } else { cents(seconds) }
}

fn absolute_cents(hertz: f64) -> i16 {
    cents(hertz / 8.175_798_9)
}

/// 1200 times the binary logarithm, to the nearest cent. It halves the interval instead of calling
/// the system's logarithm, whose last bit differs between machines.
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
    fn units_match_the_specification() {
        // SoundFont Technical Specification 2.04, section 8.1.3: one second is 0 timecents, 10 ms
        // are -7973; 20 kHz are 13,500 absolute cents, 8.176 Hz are 0.
        assert_eq!(timecents(1.0), 0);
        assert_eq!(timecents(0.01), -7973);
        assert_eq!(timecents(0.0), -32_768);
        assert_eq!(absolute_cents(8.176), 0);
        assert!((13_490..=13_510).contains(&absolute_cents(20_000.0)));
    }
}
