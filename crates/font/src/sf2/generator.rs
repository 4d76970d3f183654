//! The generators of a zone: their names, their numbers, and which zones may set them.
//!
//! Numbers and units are those of the SoundFont Technical Specification 2.04, sections 8.1.2 and
//! 8.1.3. Key range, velocity range, instrument and sample are missing here: they are fields of the
//! zone itself.

/// What a generator sets. Amounts are signed 16-bit numbers in the unit named here.
///
/// Timecents are 1200 times the binary logarithm of seconds; absolute cents are 1200 times the
/// binary logarithm of a frequency over 8.176 Hz; centibels are tenths of a decibel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u16)]
pub enum Generator {
    /// Pitch by the modulation oscillator, cents at its peak.
    ModLfoToPitch = 5,
    /// Pitch by the vibrato oscillator, cents at its peak.
    VibLfoToPitch = 6,
    /// Pitch by the modulation envelope, cents at its peak.
    ModEnvToPitch = 7,
    /// Cut-off of the low-pass filter, absolute cents, 1500 to 13500.
    FilterCutoff = 8,
    /// Resonance of the filter, centibels, 0 to 960.
    FilterResonance = 9,
    /// Cut-off by the modulation oscillator, cents at its peak.
    ModLfoToCutoff = 10,
    /// Cut-off by the modulation envelope, cents at its peak.
    ModEnvToCutoff = 11,
    /// Volume by the modulation oscillator, centibels at its peak.
    ModLfoToVolume = 13,
    /// Amount sent to the chorus, tenths of a percent.
    ChorusSend = 15,
    /// Amount sent to the reverb, tenths of a percent.
    ReverbSend = 16,
    /// Pan from left (-500) to right (500).
    Pan = 17,
    /// Delay of the modulation oscillator, timecents.
    ModLfoDelay = 21,
    /// Frequency of the modulation oscillator, absolute cents.
    ModLfoRate = 22,
    /// Delay of the vibrato oscillator, timecents.
    VibLfoDelay = 23,
    /// Frequency of the vibrato oscillator, absolute cents.
    VibLfoRate = 24,
    /// Attack of the modulation envelope, timecents.
    ModEnvAttack = 26,
    /// Hold of the modulation envelope, timecents.
    ModEnvHold = 27,
    /// Decay of the modulation envelope, timecents.
    ModEnvDecay = 28,
    /// Sustain of the modulation envelope, tenths of a percent below its peak.
    ModEnvSustain = 29,
    /// Release of the modulation envelope, timecents.
    ModEnvRelease = 30,
    /// Delay of the volume envelope, timecents.
    VolEnvDelay = 33,
    /// Attack of the volume envelope, timecents.
    VolEnvAttack = 34,
    /// Hold of the volume envelope, timecents.
    VolEnvHold = 35,
    /// Decay of the volume envelope by 100 dB, timecents.
    VolEnvDecay = 36,
    /// Sustain of the volume envelope, centibels below its peak.
    VolEnvSustain = 37,
    /// Release of the volume envelope by 100 dB, timecents.
    VolEnvRelease = 38,
    /// How much the decay shortens with each key above 60, timecents per key.
    KeyToVolEnvDecay = 40,
    /// Attenuation, centibels; players apply four tenths of it.
    Attenuation = 48,
    /// Tuning in semitones.
    CoarseTune = 51,
    /// Tuning in cents.
    FineTune = 52,
    /// How the sample loops: 0 never, 1 always, 3 until the key is released. Instruments only.
    SampleModes = 54,
    /// Cents from one key to the next; 100 by default.
    ScaleTuning = 56,
    /// Sounds of one class other than 0 cut each other off. Instruments only.
    ExclusiveClass = 57,
    /// The key at which the sample plays at its own pitch; -1 uses the sample's own root key.
    /// Instruments only.
    RootKey = 58,
}

impl Generator {
    /// Its number in a file.
    pub fn number(self) -> u16 {
        self as u16
    }

    /// Whether only the zones of instruments may set it.
    pub fn is_for_instruments_only(self) -> bool {
        matches!(self, Self::SampleModes | Self::ExclusiveClass | Self::RootKey)
    }
}

/// One generator and its amount.
pub type Setting = (Generator, i16);
