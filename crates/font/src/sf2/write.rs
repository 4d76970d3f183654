//! Writes a bank as the bytes of a file.
//!
//! In: a [`SoundFont`]. Out: one RIFF chunk `sfbk` of three lists, in the order of section 4 of the
//! specification: information, samples, and the tables that say what plays them.

use super::records::{self, INSTRUMENT, SAMPLE, Zones};
use super::{FontError, Preset, SoundFont, check, riff};

/// Frames of silence after each sample (specification, section 6.1: at least 46).
const GAP: usize = 46;
/// Version 2.01, which covers everything written here and which every player opens.
const VERSION: [u16; 2] = [2, 1];

/// The content of the mandatory `isng` chunk, which names the sound engine the file is made for.
/// SoundFont Technical Specification 2.04, section 5.2 (from memory): a reader that does not know
/// the engine assumes `EMU8000`, whose units section 8.1.3 uses to define the generators. So this
/// value asks for the standard's own behaviour and nothing else.
const TARGET_ENGINE: &str = "EMU8000";

/// The bytes of the file. The same bank gives the same bytes.
///
/// # Errors
/// Names the first part that breaks the specification, and says how.
pub fn write(font: &SoundFont) -> Result<Vec<u8>, FontError> {
    check::check(font)?;
    let lists = [
        riff::group(b"LIST", b"INFO", &info(font)),
        riff::group(b"LIST", b"sdta", &[riff::chunk(b"smpl", &frames(font))]),
        riff::group(b"LIST", b"pdta", &tables(font)),
    ];
    Ok(riff::group(b"RIFF", b"sfbk", &lists))
}

fn info(font: &SoundFont) -> Vec<Vec<u8>> {
    let version: Vec<u8> = VERSION.iter().flat_map(|part| part.to_le_bytes()).collect();
    let mut chunks = vec![
        riff::chunk(b"ifil", &version),
        riff::text(b"isng", TARGET_ENGINE),
        riff::text(b"INAM", &font.name),
    ];
    let more = [(b"IENG", &font.engineer), (b"ICOP", &font.copyright), (b"ICMT", &font.comment)];
    let said = more.into_iter().filter(|(_, words)| !words.is_empty());
    chunks.extend(said.map(|(letters, words)| riff::text(letters, words)));
    chunks
}

fn frames(font: &SoundFont) -> Vec<u8> {
    let mut bytes = Vec::new();
    for sample in &font.samples {
        bytes.extend(sample.frames.iter().flat_map(|frame| frame.to_le_bytes()));
        bytes.resize(bytes.len() + 2 * GAP, 0);
    }
    bytes
}

fn tables(font: &SoundFont) -> Vec<Vec<u8>> {
    let (heads, preset_zones) = presets(font);
    let (names, instrument_zones) = instruments(font);
    vec![
        riff::chunk(b"phdr", &heads),
        riff::chunk(b"pbag", &preset_zones.bags),
        riff::chunk(b"pmod", &[0; 10]),
        riff::chunk(b"pgen", &preset_zones.generators),
        riff::chunk(b"inst", &names),
        riff::chunk(b"ibag", &instrument_zones.bags),
        riff::chunk(b"imod", &[0; 10]),
        riff::chunk(b"igen", &instrument_zones.generators),
        riff::chunk(b"shdr", &headers(font)),
    ]
}

fn presets(font: &SoundFont) -> (Vec<u8>, Zones) {
    let mut sorted: Vec<&Preset> = font.presets.iter().collect();
    sorted.sort_by_key(|preset| (preset.bank, preset.program));
    let (mut heads, mut zones) = (Vec::new(), Zones::new(INSTRUMENT));
    for preset in sorted {
        preset_head(&mut heads, &preset.name, preset.program, preset.bank, zones.next());
        zones.add(&preset.common, &preset.zones);
    }
    preset_head(&mut heads, "EOP", 0, 0, zones.next());
    zones.finish();
    (heads, zones)
}

/// Appends one record of `phdr`, 38 bytes. The last twelve are reserved (library, genre, morphology)
/// and zero.
fn preset_head(bytes: &mut Vec<u8>, name: &str, program: u8, bank: u16, zone: u16) {
    records::name(bytes, name);
    for number in [u16::from(program), bank, zone] {
        bytes.extend_from_slice(&number.to_le_bytes());
    }
    bytes.extend_from_slice(&[0; 12]);
}

fn instruments(font: &SoundFont) -> (Vec<u8>, Zones) {
    let (mut names, mut zones) = (Vec::new(), Zones::new(SAMPLE));
    let mut head = |name: &str, zone: u16| {
        records::name(&mut names, name);
        names.extend_from_slice(&zone.to_le_bytes());
    };
    for instrument in &font.instruments {
        head(&instrument.name, zones.next());
        zones.add(&instrument.common, &instrument.zones);
    }
    head("EOI", zones.next());
    zones.finish();
    (names, zones)
}

fn headers(font: &SoundFont) -> Vec<u8> {
    let (mut bytes, mut start) = (Vec::new(), 0);
    for sample in &font.samples {
        records::sample(&mut bytes, sample, start);
        start += sample.frames.len() + GAP;
    }
    records::name(&mut bytes, "EOS");
    bytes.resize(bytes.len() + 26, 0);
    bytes
}
