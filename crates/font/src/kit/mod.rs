//! The percussion of General MIDI: one sound for each key from 35 to 81.

mod cymbal;
mod drums;
mod hand;
mod small;

use crate::dsp::tone::Tone;
use crate::program::{STILL, timecents};
use crate::sf2::{Generator, Setting};

/// One drum of the kit.
#[derive(Debug, Clone)]
pub struct Drum {
    /// Its key, 35 to 81.
    pub key: u8,
    /// Its name in the General MIDI percussion map, shortened to 20 bytes.
    pub name: &'static str,
    /// The sound, at its own key.
    pub tone: Tone,
    /// Loudness in decibels relative to full scale, as [`Tone::level`] takes it.
    pub level: f64,
    /// Percent to the right, negative to the left.
    pub pan: f64,
    /// Percent sent to the reverberation.
    pub reverb: f64,
    /// Seconds to fall by 60 dB, for sounds that loop.
    pub fade: Option<f64>,
    /// Drums of one class cut each other off; 0 is no class.
    pub class: i16,
}

impl Drum {
    fn new(key: u8, name: &'static str, level: f64, tone: Tone) -> Self {
        Self {
            key,
            name,
            tone: Tone { root: key, ..tone },
            level,
            pan: 0.0,
            reverb: 8.0,
            fade: None,
            class: 0,
        }
    }

    fn pan(self, percent: f64) -> Self {
        Self { pan: percent, ..self }
    }

    fn fade(self, seconds: f64) -> Self {
        Self { fade: Some(seconds), ..self }
    }

    fn class(self, class: i16) -> Self {
        Self { class, ..self }
    }

    /// The generators of its zone, except the loop mode. Releasing the key does not end a drum: the
    /// release lasts as long as the fade, or longer than any sound without a loop.
    pub fn settings(&self) -> Vec<Setting> {
        let mut settings = vec![
            (Generator::Pan, (self.pan * 5.0) as i16),
            (Generator::ReverbSend, (self.reverb * 10.0) as i16),
            (Generator::VolEnvAttack, i16::MIN),
            (Generator::VolEnvRelease, timecents(self.fade.map_or(60.0, |fade| fade / 0.6))),
            (Generator::ModLfoRate, STILL),
            (Generator::VibLfoRate, STILL),
        ];
        if let Some(fade) = self.fade {
            settings.push((Generator::VolEnvDecay, timecents(fade / 0.6)));
            settings.push((Generator::VolEnvSustain, 1000));
        }
        if self.class != 0 {
            settings.push((Generator::ExclusiveClass, self.class));
        }
        settings
    }
}

/// All drums, in order of their keys.
pub fn all() -> Vec<Drum> {
    let mut drums = drums::all();
    drums.extend(cymbal::all());
    drums.extend(hand::all());
    drums.extend(small::all());
    drums.sort_by_key(|drum| drum.key);
    drums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_of_the_percussion_map_has_its_sound() {
        let keys: Vec<u8> = all().iter().map(|drum| drum.key).collect();
        assert_eq!(keys, (35..=81).collect::<Vec<u8>>());
    }

    #[test]
    fn the_hats_cut_each_other_off_and_so_do_the_pairs() {
        let drums = all();
        let class = |key: usize| drums[key - 35].class;
        // Common practice; General MIDI Level 2 makes it a rule for the hats.
        assert!(class(42) == 1 && class(44) == 1 && class(46) == 1);
        for (one, other) in [(71, 72), (73, 74), (78, 79), (80, 81)] {
            assert_eq!(class(one), class(other));
            assert!(class(one) > 1);
        }
    }
}
