//! The fixed-size records of the `pdta` list (SoundFont 2.04, sections 7.2 to 7.10).

use super::{Sample, Setting, Zone};

const KEY_RANGE: u16 = 43;
const VELOCITY_RANGE: u16 = 44;
/// The generator that ends a preset's zone.
pub const INSTRUMENT: u16 = 41;
/// The generator that ends an instrument's zone.
pub const SAMPLE: u16 = 53;
/// Bits of `sfSampleType`: a mono sample.
const MONO: u16 = 1;

/// Appends a name as exactly 20 bytes, padded with zeros.
pub fn name(bytes: &mut Vec<u8>, name: &str) {
    let start = bytes.len();
    bytes.extend_from_slice(name.as_bytes());
    bytes.resize(start + 20, 0);
}

/// Collects the zones of presets or of instruments as two tables: bags and generators.
#[derive(Debug)]
pub struct Zones {
    ends: u16,
    /// Records of 4 bytes: first generator, first modulator.
    pub bags: Vec<u8>,
    /// Records of 4 bytes: number, amount.
    pub generators: Vec<u8>,
}

impl Zones {
    /// `ends` is the generator that closes a zone: [`INSTRUMENT`] or [`SAMPLE`].
    pub fn new(ends: u16) -> Self {
        Self { ends, bags: Vec::new(), generators: Vec::new() }
    }

    /// The index of the next zone.
    pub fn next(&self) -> u16 {
        (self.bags.len() / 4) as u16
    }

    /// Adds a global zone if there are common settings, and then each zone.
    pub fn add(&mut self, common: &[Setting], zones: &[Zone]) {
        if !common.is_empty() {
            self.bag();
            self.settings(common);
        }
        for zone in zones {
            self.bag();
            for (number, range) in [(KEY_RANGE, &zone.keys), (VELOCITY_RANGE, &zone.velocities)] {
                if (*range.start(), *range.end()) != (0, 127) {
                    self.generator(number, [*range.start(), *range.end()]);
                }
            }
            self.settings(&zone.settings);
            self.generator(self.ends, (zone.plays as u16).to_le_bytes());
        }
    }

    /// Adds the records that end both tables.
    pub fn finish(&mut self) {
        self.bag();
        self.generators.extend_from_slice(&[0; 4]);
    }

    fn bag(&mut self) {
        let first = (self.generators.len() / 4) as u16;
        self.bags.extend_from_slice(&first.to_le_bytes());
        self.bags.extend_from_slice(&[0; 2]);
    }

    fn settings(&mut self, settings: &[Setting]) {
        let mut sorted = settings.to_vec();
        sorted.sort_unstable();
        for (generator, amount) in sorted {
            self.generator(generator.number(), amount.to_le_bytes());
        }
    }

    fn generator(&mut self, number: u16, amount: [u8; 2]) {
        self.generators.extend_from_slice(&number.to_le_bytes());
        self.generators.extend_from_slice(&amount);
    }
}

/// Appends one record of `shdr`, 46 bytes; `start` is the sample's first frame within `smpl`.
pub fn sample(bytes: &mut Vec<u8>, sample: &Sample, start: usize) {
    name(bytes, &sample.name);
    let (first, after) = sample.repeat.unwrap_or((0, 0));
    for place in [0, sample.frames.len(), first, after] {
        bytes.extend_from_slice(&((start + place) as u32).to_le_bytes());
    }
    bytes.extend_from_slice(&sample.rate.to_le_bytes());
    bytes.push(sample.root);
    bytes.push(sample.correction as u8);
    bytes.extend_from_slice(&[0; 2]);
    bytes.extend_from_slice(&MONO.to_le_bytes());
}
