//! Broken fonts are refused with a sentence, or played; they never cause a panic, a hang or
//! unbounded memory use.

mod common;

use chaconne_sound::{Font, Instrument, MAX_FONT_BYTES, SoundError};
use common::{Dice, measure, tiny};
use std::io::Write;

fn whole() -> Vec<u8> {
    let tones: Vec<_> = (0..8).map(|program| tiny::tone(0, program, 0)).collect();
    tiny::font(&tones)
}

/// The sentence with which a font is refused.
fn refusal(bytes: &[u8]) -> String {
    let sentence = Font::read(bytes).expect_err("this should be refused").to_string();
    assert!(!sentence.contains('\n') && sentence.len() < 250, "{sentence}");
    sentence
}

/// The position of a chunk's contents.
fn find(bytes: &[u8], id: &[u8; 4]) -> usize {
    bytes.windows(4).position(|four| four == id).unwrap() + 8
}

fn put(bytes: &mut [u8], at: usize, value: &[u8]) {
    bytes[at..at + value.len()].copy_from_slice(value);
}

#[test]
fn a_font_cut_off_anywhere_is_refused() {
    let whole = whole();
    assert!(Font::read(&whole).is_ok());
    for length in (0..whole.len()).filter(|i| *i < 300 || i % 37 == 0 || whole.len() - i < 700) {
        refusal(&whole[..length]);
        // The same with a correct outermost size.
        let mut part = whole[..length].to_vec();
        if length > 8 {
            put(&mut part, 4, &(length as u32 - 8).to_le_bytes());
            refusal(&part);
        }
    }
}

#[test]
fn wrong_sizes_are_refused() {
    for id in [b"RIFF", b"LIST", b"ifil", b"smpl", b"phdr", b"pgen", b"igen", b"shdr"] {
        for size in [u32::MAX, 1 << 31, 0x7FFF_FFFF, 1_000_000] {
            let mut bytes = whole();
            let at = find(&bytes, id) - 4;
            put(&mut bytes, at, &size.to_le_bytes());
            assert!(refusal(&bytes).contains("claims"), "{}", refusal(&bytes));
        }
    }
}

#[test]
fn samples_outside_of_the_data_are_refused() {
    for (field, value) in [(24, 100_000), (28, 0xFFFF_FFFF), (32, 5000), (24, 0), (20, 1 << 31)] {
        let mut bytes = whole();
        let at = find(&bytes, b"shdr") + field;
        put(&mut bytes, at, &u32::to_le_bytes(value));
        refusal(&bytes);
    }
}

#[test]
fn indices_that_point_back_or_outside_are_refused() {
    for (id, record, at) in [(b"phdr", 38, 24), (b"pbag", 4, 0), (b"inst", 22, 20), (b"ibag", 4, 0)]
    {
        for value in [0u16, 9, 40, 41, 65_535] {
            let mut bytes = whole();
            let place = find(&bytes, id) + 3 * record + at;
            let same = bytes[place..place + 2] == value.to_le_bytes();
            put(&mut bytes, place, &value.to_le_bytes());
            let read = Font::read(&bytes);
            assert!(same || read.is_err(), "{id:?} {value}: {read:?}");
        }
    }
}

/// A file of half a megabyte whose zones would expand to a hundred gigabytes, and one whose keys
/// would start too many layers.
#[test]
fn a_font_that_would_grow_is_refused() {
    let tones: Vec<_> = (0..2).map(|program| tiny::tone(0, program, 0)).collect();
    let mut many = tones.clone();
    many[0].generators = (0..40_000).map(|_| (5, 0)).collect();
    assert!(Font::read(&tiny::font(&many)).is_ok());
    let mut bytes = tiny::font(&many);
    let zones: Vec<u8> = (0..60_000u32)
        .flat_map(|i| {
            ((i % 2) * 40_000).to_le_bytes()[..2].iter().copied().chain([0, 0]).collect::<Vec<_>>()
        })
        .collect();
    replace(&mut bytes, b"ibag", &zones);
    assert!(refusal(&bytes).contains("out of order"));

    let mut layers = tiny::font(&tones[..1]);
    let settings: Vec<u8> = (0..=2000).flat_map(|_| [53, 0, 0, 0]).collect();
    let zones: Vec<u8> = (0..=2000u32)
        .flat_map(|i| i.to_le_bytes()[..2].iter().copied().chain([0, 0]).collect::<Vec<_>>())
        .collect();
    replace(&mut layers, b"igen", &settings);
    replace(&mut layers, b"ibag", &zones);
    let at = find(&layers, b"inst") + 22 + 20;
    put(&mut layers, at, &2000u16.to_le_bytes());
    assert!(refusal(&layers).contains("2000 layers"), "{}", refusal(&layers));
}

/// Replaces the contents of a chunk in the last list.
fn replace(bytes: &mut Vec<u8>, id: &[u8; 4], contents: &[u8]) {
    let at = find(bytes, id);
    let size = u32::from_le_bytes(bytes[at - 4..at].try_into().unwrap()) as usize;
    bytes.splice(
        at - 4..at + size,
        (contents.len() as u32).to_le_bytes().iter().chain(contents).copied(),
    );
    let list = find(bytes, b"pdta") - 12;
    let rest = (bytes.len() - list - 4) as u32;
    put(bytes, list, &rest.to_le_bytes());
    let whole = (bytes.len() - 8) as u32;
    put(bytes, 4, &whole.to_le_bytes());
}

#[test]
fn other_files_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.sf2");
    let missing = Font::open(&path).unwrap_err();
    assert!(
        matches!(missing, SoundError::Unreadable { .. }) && missing.to_string().contains("a.sf2")
    );
    assert!(matches!(Font::open(folder.path()), Err(SoundError::Unreadable { .. })));
    std::fs::write(&path, whole()).unwrap();
    assert_eq!(Font::open(&path).unwrap().name(), "T");
    std::fs::File::create(&path).unwrap().write_all(b"MThd").unwrap();
    assert!(Font::open(&path).unwrap_err().to_string().contains("RIFF"));
    // A sparse file: it has the size but takes no disk space.
    std::fs::File::create(&path).unwrap().set_len(MAX_FONT_BYTES + 1).unwrap();
    assert!(matches!(Font::open(&path), Err(SoundError::TooLarge(_))));
}

#[test]
fn random_bytes_are_refused() {
    let mut dice = Dice(5);
    for round in 0..500 {
        let mut bytes: Vec<u8> = (0..dice.below(600)).map(|_| dice.roll() as u8).collect();
        if round % 2 == 0 && bytes.len() > 12 {
            put(&mut bytes, 0, b"RIFF");
            put(&mut bytes, 8, b"sfbk");
        }
        refusal(&bytes);
    }
}

/// Fonts with a few bytes changed: most can still be read, and those play a note on each program
/// without a panic or a NaN.
#[test]
fn fonts_with_changed_bytes_are_refused_or_played() {
    let whole = whole();
    let hydra = find(&whole, b"pdta") - 12;
    let mut dice = Dice(11);
    let (mut read, mut heard) = (0, 0);
    for _ in 0..4000 {
        let mut bytes = whole.clone();
        for _ in 0..1 + dice.below(6) {
            // Mostly among the records; samples may hold any value.
            let from = if dice.below(8) == 0 { 0 } else { hydra };
            let at = from + dice.below(bytes.len() - from);
            bytes[at] = match dice.below(4) {
                0 => 0xFF,
                1 => bytes[at] ^ 1 << dice.below(8),
                _ => dice.roll() as u8,
            };
        }
        let Ok(font) = Font::read(&bytes) else { continue };
        read += 1;
        heard += usize::from(play(&font, &mut dice) > 0.001);
    }
    assert!(read > 500 && heard > 500, "{read} {heard}");
}

/// Plays a note on each of the first 8 programs and on percussion; returns the loudest sample.
fn play(font: &Font, dice: &mut Dice) -> f32 {
    let mut instrument = Instrument::new(font, 48_000).unwrap();
    let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
    let mut loudest = 0.0f32;
    for channel in 0..16 {
        instrument.message(&[0xC0 | channel, channel & 7]);
        instrument.message(&[0xE0 | channel, dice.seven_bits(), dice.seven_bits()]);
        instrument.message(&[0x90 | channel, dice.seven_bits(), 127]);
        instrument.render(&mut left, &mut right);
        instrument.message(&[0xB0 | channel, 123, 0]);
        instrument.render(&mut left, &mut right);
        assert!(left.iter().chain(&right).all(|x| x.is_finite()));
        loudest = loudest.max(measure::peak(&left));
    }
    loudest
}
