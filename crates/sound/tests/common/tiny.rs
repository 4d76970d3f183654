//! Writes a small SoundFont 2 file for tests: pure tones with known properties.
//!
//! In: zones. Out: bytes by the SoundFont Technical Specification 2.01, chapters 4 to 7.

/// The sample rate in hertz.
pub const RATE: u32 = 48_000;
/// Frames in one period of the tone, which is 500 Hz at the root key.
pub const PERIOD: usize = 96;
/// The key at which the sample sounds at [`RATE`].
pub const ROOT: u8 = 60;
/// Generators, by the numbers of section 8.1.2.
pub mod generator {
    pub const PAN: u16 = 17;
    pub const DELAY: u16 = 33;
    pub const ATTACK: u16 = 34;
    pub const DECAY: u16 = 36;
    pub const SUSTAIN: u16 = 37;
    pub const RELEASE: u16 = 38;
    pub const INSTRUMENT: u16 = 41;
    pub const SAMPLE: u16 = 53;
    pub const MODES: u16 = 54;
}
use generator::*;

#[derive(Clone)]
/// A preset of one looped sine: bank, program, generators.
pub struct Tone {
    pub bank: u16,
    pub program: u16,
    pub generators: Vec<(u16, i16)>,
}

/// A tone that starts at once, keeps its level, and takes `release` timecents to fade after its release.
pub fn tone(bank: u16, program: u16, release: i16) -> Tone {
    let generators = vec![(DELAY, i16::MIN), (ATTACK, i16::MIN), (RELEASE, release), (MODES, 1)];
    Tone { bank, program, generators }
}

/// The font. Its sample is a cosine, so the first frame of a note is the loudest.
pub fn font(tones: &[Tone]) -> Vec<u8> {
    let turns = 20;
    let turn = |i: usize| (i % PERIOD) as f64 / PERIOD as f64;
    let wave = (0..turns * PERIOD).map(|i| (turn(i) * std::f64::consts::TAU).cos());
    let wave: Vec<i16> = wave.map(|x| (x * 32_000.0).round() as i16).chain([0; 46]).collect();
    let (mut presets, mut bags, mut generators) = (Vec::new(), Vec::new(), Vec::new());
    let (mut instruments, mut zones, mut settings) = (Vec::new(), Vec::new(), Vec::new());
    for (i, tone) in tones.iter().enumerate() {
        preset(&mut presets, tone.program, tone.bank, i);
        pairs(&mut bags, &[(i as u16, 0)]);
        pairs(&mut generators, &[(INSTRUMENT, i as u16)]);
        instruments.extend(name("tone"));
        pairs(&mut instruments, &[]);
        instruments.extend((i as u16).to_le_bytes());
        pairs(&mut zones, &[((settings.len() / 4) as u16, 0)]);
        let own = tone.generators.iter().map(|&(kind, amount)| (kind, amount as u16));
        pairs(&mut settings, &own.chain([(SAMPLE, 0)]).collect::<Vec<_>>());
    }
    let count = tones.len();
    preset(&mut presets, 0, 0, count);
    pairs(&mut bags, &[(count as u16, 0)]);
    pairs(&mut generators, &[(0, 0)]);
    instruments.extend(name("EOI"));
    instruments.extend((count as u16).to_le_bytes());
    pairs(&mut zones, &[((settings.len() / 4) as u16, 0)]);
    pairs(&mut settings, &[(0, 0)]);
    let mut samples = name("cosine");
    let end = (turns * PERIOD) as u32;
    for value in [0, end, 4 * PERIOD as u32, end - 4 * PERIOD as u32, RATE] {
        samples.extend(value.to_le_bytes());
    }
    samples.extend([ROOT, 0, 0, 0, 1, 0]);
    samples.extend([0; 46]);

    let info = [chunk(b"ifil", &[2, 0, 1, 0]), chunk(b"isng", b"test\0\0"), chunk(b"INAM", b"T\0")];
    let info = list(b"INFO", &info);
    let wave: Vec<u8> = wave.iter().flat_map(|x| x.to_le_bytes()).collect();
    let wave = list(b"sdta", &[chunk(b"smpl", &wave)]);
    let hydra = [
        chunk(b"phdr", &presets),
        chunk(b"pbag", &bags),
        chunk(b"pmod", &[0; 10]),
        chunk(b"pgen", &generators),
        chunk(b"inst", &instruments),
        chunk(b"ibag", &zones),
        chunk(b"imod", &[0; 10]),
        chunk(b"igen", &settings),
        chunk(b"shdr", &samples),
    ];
    chunk(b"RIFF", &[b"sfbk".to_vec(), info, wave, list(b"pdta", &hydra)].concat())
}

fn preset(bytes: &mut Vec<u8>, program: u16, bank: u16, bag: usize) {
    bytes.extend(name("tone"));
    for value in [program, bank, bag as u16] {
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 12]);
}

fn pairs(bytes: &mut Vec<u8>, pairs: &[(u16, u16)]) {
    for (first, second) in pairs {
        bytes.extend(first.to_le_bytes());
        bytes.extend(second.to_le_bytes());
    }
}

fn name(text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    bytes.resize(20, 0);
    bytes
}

fn list(kind: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"LIST", &[kind.to_vec(), chunks.concat()].concat())
}

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [id, &(body.len() as u32).to_le_bytes()[..], body].concat()
}
