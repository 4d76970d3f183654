//! The whole bank: a sample for each key of each timbre, an instrument for each layer of each
//! program, and the drum kit.

use crate::dsp::math::frequency;
use crate::kit;
use crate::program::{self, Layer, Program};
use crate::sf2::{self, Generator, Instrument, Preset, Sample, SoundFont, Zone};
use crate::timbre::Timbre;

const NAME: &str = "Chaconne default";
/// The only drum kit.
const KIT: &str = "Drum kit";
const COPYRIGHT: &str = "Licensed under MIT or Apache-2.0, as you like.";
const COMMENT: &str = "General MIDI System Level 1 sounds, all synthesised; nothing is sampled.";

/// The bytes of the file with the default sounds: bank 0 has the 128 programs of the General MIDI
/// System Level 1 sound set, bank 128 program 0 its percussion. The same bytes everywhere.
#[expect(clippy::expect_used, reason = "the bank is a constant, and a test builds it")]
pub fn default_font() -> Vec<u8> {
    sf2::write(&build()).expect("the built-in bank keeps to the specification")
}

fn build() -> SoundFont {
    let mut font = SoundFont {
        name: NAME.into(),
        engineer: "chaconne".into(),
        copyright: COPYRIGHT.into(),
        comment: COMMENT.into(),
        ..SoundFont::default()
    };
    let mut stock = Stock::default();
    for program in program::all() {
        add_program(&mut font, &mut stock, &program);
    }
    add_kit(&mut font);
    font
}

/// The timbres whose samples are already in the bank, each with the index of its first sample.
#[derive(Default)]
struct Stock(Vec<(&'static str, usize)>);

impl Stock {
    fn first(&mut self, samples: &mut Vec<Sample>, timbre: &Timbre) -> usize {
        if let Some(&(_, first)) = self.0.iter().find(|(name, _)| *name == timbre.name) {
            return first;
        }
        let first = samples.len();
        for &root in timbre.roots {
            let tone = (timbre.make)(root).level(timbre.level);
            samples.push(tone.sample(format!("{} {root}", timbre.name)));
        }
        self.0.push((timbre.name, first));
        first
    }
}

fn add_program(font: &mut SoundFont, stock: &mut Stock, program: &Program) {
    let name = program.name();
    let mut zones = Vec::new();
    for (at, layer) in program.layers.iter().enumerate() {
        let first = stock.first(&mut font.samples, layer.timbre);
        zones.extend(touch_zones(program, font.instruments.len()));
        font.instruments.push(Instrument {
            name: if at == 0 { name.into() } else { format!("{:.17} {}", name, at + 1) },
            common: layer.settings.clone(),
            zones: key_zones(layer, first, &font.samples),
        });
    }
    let program = program.number - 1;
    font.presets.push(Preset { name: name.into(), bank: 0, program, common: Vec::new(), zones });
}

fn key_zones(layer: &Layer, first: usize, samples: &[Sample]) -> Vec<Zone> {
    let spans = layer.timbre.spans().into_iter().enumerate();
    let zone = |(at, (root, keys)): (usize, (u8, _))| {
        let mut settings: Vec<_> =
            layer.cutoff_at(frequency(f64::from(root))).into_iter().collect();
        let repeats = samples[first + at].repeat.is_some();
        settings.push((Generator::SampleModes, i16::from(repeats)));
        Zone::over(keys, first + at, settings)
    };
    spans.map(zone).collect()
}

/// Makes softer notes duller: one zone per step of velocity, each with its share of the program's
/// touch.
fn touch_zones(program: &Program, instrument: usize) -> Vec<Zone> {
    const STEPS: [(u8, u8, f64); 5] =
        [(0, 35, 1.0), (36, 60, 0.7), (61, 84, 0.4), (85, 108, 0.15), (109, 127, 0.0)];
    if program.touch == 0.0 {
        return vec![Zone::over(0..=127, instrument, Vec::new())];
    }
    let zone = |&(from, to, share): &(u8, u8, f64)| {
        let duller = (Generator::FilterCutoff, -(share * program.touch) as i16);
        Zone { velocities: from..=to, ..Zone::over(0..=127, instrument, vec![duller]) }
    };
    STEPS.iter().map(zone).collect()
}

fn add_kit(font: &mut SoundFont) {
    let mut zones = Vec::new();
    for drum in kit::all() {
        let sample = font.samples.len();
        let tone = drum.tone.clone().level(drum.level);
        font.samples.push(tone.sample(drum.name.into()));
        let mut settings = drum.settings();
        settings.push((Generator::SampleModes, i16::from(tone.repeat.is_some())));
        zones.push(Zone::over(drum.key..=drum.key, sample, settings));
    }
    let instrument = font.instruments.len();
    let common = Vec::new();
    font.instruments.push(Instrument { name: KIT.into(), common, zones });
    font.presets.push(Preset {
        name: KIT.into(),
        bank: 128,
        program: 0,
        common: Vec::new(),
        zones: vec![Zone::over(0..=127, instrument, Vec::new())],
    });
}
