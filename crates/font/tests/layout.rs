//! Compares the bytes of a small bank with the SoundFont Technical Specification 2.04 (each check
//! names its section), using a chunk reader written only for this test.

use chaconne_font::sf2::{Generator, Instrument, Preset, Sample, SoundFont, Zone, write};

fn small() -> SoundFont {
    let sample = |name: &str, first: i16| Sample {
        name: name.into(),
        frames: (0..51).map(|at| first + at).collect(),
        rate: 32_000,
        root: 60,
        correction: -3,
        repeat: Some((10, 42)),
    };
    let settings = vec![
        (Generator::SampleModes, 1),
        (Generator::FilterCutoff, 9000),
        (Generator::VolEnvRelease, -2400),
    ];
    let zones = vec![Zone::over(0..=59, 0, settings), Zone::over(60..=127, 1, Vec::new())];
    let plays = Zone { velocities: 1..=90, ..Zone::over(0..=127, 0, vec![(Generator::Pan, -50)]) };
    let preset = |name: &str, bank, program| Preset {
        name: name.into(),
        bank,
        program,
        common: Vec::new(),
        zones: vec![plays.clone()],
    };
    SoundFont {
        name: "Odd".into(),
        samples: vec![sample("low", 100), sample("high", 200)],
        instruments: vec![Instrument {
            name: "Pair".into(),
            common: vec![(Generator::ReverbSend, 120)],
            zones,
        }],
        presets: vec![preset("Kit", 128, 0), preset("Keys", 0, 4)],
        ..SoundFont::default()
    }
}

/// The chunks within some bytes: letters and contents. Fails if one is not padded to an even length or
/// extends beyond the end.
fn chunks(mut bytes: &[u8]) -> Vec<(String, &[u8])> {
    let mut found = Vec::new();
    while !bytes.is_empty() {
        let (head, rest) = bytes.split_at(8);
        let length = u32::from_le_bytes(head[4..].try_into().unwrap()) as usize;
        found.push((String::from_utf8(head[..4].to_vec()).unwrap(), &rest[..length]));
        bytes = &rest[length + length % 2..];
    }
    found
}

fn chunk<'a>(bytes: &'a [u8], path: &[&str]) -> &'a [u8] {
    path.iter().fold(bytes, |bytes, name| {
        let inside = |part: &(String, &[u8])| {
            part.0 == *name || (part.0 == "LIST" && part.1.starts_with(name.as_bytes()))
        };
        let found = chunks(bytes).into_iter().find(inside).expect(name);
        if found.0 == "LIST" { &found.1[4..] } else { found.1 }
    })
}

fn word(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

fn number(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

#[test]
fn the_file_is_one_riff_chunk_of_three_lists_in_order() {
    // Section 4.1: RIFF 'sfbk' of INFO, sdta, pdta. Section 3.1: chunks are padded to even lengths.
    let bytes = write(&small()).unwrap();
    assert_eq!((&bytes[..4], &bytes[8..12]), (&b"RIFF"[..], &b"sfbk"[..]));
    assert_eq!(number(&bytes, 4) as usize, bytes.len() - 8);
    let lists: Vec<String> = chunks(&bytes[12..])
        .iter()
        .map(|(_, body)| String::from_utf8(body[..4].to_vec()).unwrap())
        .collect();
    assert_eq!(lists, ["INFO", "sdta", "pdta"]);
    let names: Vec<String> =
        chunks(chunk(&bytes[12..], &["pdta"])).into_iter().map(|one| one.0).collect();
    // Section 7.1: in this order.
    let order = ["phdr", "pbag", "pmod", "pgen", "inst", "ibag", "imod", "igen", "shdr"];
    assert_eq!(names, order);
}

#[test]
fn the_information_list_has_its_mandatory_chunks() {
    // Sections 5.1 to 5.3: version, engine and name are mandatory; text ends in one zero or two.
    let bytes = write(&small()).unwrap();
    let bytes = &bytes[12..];
    assert_eq!(chunk(bytes, &["INFO", "ifil"]), [2, 0, 1, 0]);
    assert_eq!(chunk(bytes, &["INFO", "isng"]), b"EMU8000\0");
    assert_eq!(chunk(bytes, &["INFO", "INAM"]), b"Odd\0");
}

#[test]
fn samples_are_followed_by_46_zeros() {
    // Section 6.1: 16-bit, little-endian; at least 46 zero frames after each.
    let bytes = write(&small()).unwrap();
    let frames = chunk(&bytes[12..], &["sdta", "smpl"]);
    assert_eq!(frames.len(), 2 * 2 * (51 + 46));
    assert_eq!((word(frames, 0), word(frames, 100)), (100, 150));
    assert!(frames[102..194].iter().all(|byte| *byte == 0));
    assert_eq!(word(frames, 194), 200);
}

#[test]
fn sample_headers_have_46_bytes() {
    // Section 7.10: name, start, end, loop start, loop end, rate, pitch, correction, link, type.
    let bytes = write(&small()).unwrap();
    let heads = chunk(&bytes[12..], &["pdta", "shdr"]);
    assert_eq!(heads.len(), 3 * 46);
    let second = &heads[46..92];
    assert_eq!(&second[..6], b"high\0\0");
    let places: Vec<u32> = (0..5).map(|at| number(second, 20 + 4 * at)).collect();
    assert_eq!(places, [97, 148, 107, 139, 32_000]);
    assert_eq!((second[40], second[41] as i8), (60, -3));
    assert_eq!((word(second, 42), word(second, 44)), (0, 1));
    assert_eq!(&heads[92..96], b"EOS\0");
    assert!(heads[96..].iter().all(|byte| *byte == 0));
}

#[test]
fn preset_headers_have_38_bytes_and_rise_by_bank_and_program() {
    // Section 7.2: name, preset, bank, first bag, and three reserved numbers.
    let bytes = write(&small()).unwrap();
    let heads = chunk(&bytes[12..], &["pdta", "phdr"]);
    assert_eq!(heads.len(), 3 * 38);
    let shown: Vec<(u16, u16, u16)> = (0..3)
        .map(|at| (word(heads, 38 * at + 20), word(heads, 38 * at + 22), word(heads, 38 * at + 24)))
        .collect();
    assert_eq!(shown, [(4, 0, 0), (0, 128, 1), (0, 0, 2)]);
    assert_eq!(&heads[76..80], b"EOP\0");
}

/// The generators of one bag: numbers and amounts.
fn generators(bags: &[u8], list: &[u8], bag: usize) -> Vec<(u16, u16)> {
    let (from, to) = (word(bags, 4 * bag), word(bags, 4 * bag + 4));
    (from..to)
        .map(|at| (word(list, 4 * usize::from(at)), word(list, 4 * usize::from(at) + 2)))
        .collect()
}

#[test]
fn generators_are_in_order() {
    // Sections 7.5 and 7.9: keyRange (43) first, velRange (44) second, instrument (41) or sampleID (53)
    // last; a first bag without the latter is global. Each table ends in a terminal record.
    let bytes = write(&small()).unwrap();
    let table = |name| chunk(&bytes[12..], &["pdta", name]);
    let (bags, list) = (table("ibag"), table("igen"));
    assert_eq!(bags.len(), 4 * 4);
    assert_eq!(generators(bags, list, 0), [(16, 120)]);
    let release = -2400_i16 as u16;
    let low = [(43, 59 << 8), (8, 9000), (38, release), (54, 1), (53, 0)];
    assert_eq!(generators(bags, list, 1), low);
    assert_eq!(generators(bags, list, 2), [(43, 60 | 127 << 8), (53, 1)]);
    assert_eq!(list.len(), 4 * (usize::from(word(bags, 12)) + 1));
    let (bags, list) = (table("pbag"), table("pgen"));
    let pan = -50_i16 as u16;
    assert_eq!(generators(bags, list, 0), [(44, 1 | 90 << 8), (17, pan), (41, 0)]);
    assert_eq!((table("pmod").len(), table("imod").len()), (10, 10));
    // Section 7.6: an instrument is its name and its first bag.
    let names = table("inst");
    assert_eq!((names.len(), word(names, 20), word(names, 42)), (44, 0, 3));
}

#[test]
fn a_bank_that_breaks_the_specification_is_refused_with_the_part_named() {
    let refused = |change: &dyn Fn(&mut SoundFont)| {
        let mut font = small();
        change(&mut font);
        write(&font).unwrap_err().to_string()
    };
    let error = refused(&|font| font.samples[1].repeat = Some((10, 41)));
    assert_eq!(error, "sample 'high': the loop must be 32 frames or longer");
    let error = refused(&|font| font.samples[0].repeat = Some((7, 42)));
    assert_eq!(error, "sample 'low': the loop must have 8 frames on either side");
    let error = refused(&|font| font.instruments[0].zones[1].plays = 2);
    assert_eq!(error, "instrument 'Pair': a zone plays something that does not exist");
    let error = refused(&|font| font.presets[0].common = vec![(Generator::ExclusiveClass, 1)]);
    assert_eq!(error, "preset 'Kit': a zone sets a generator that only instruments may have");
    let error = refused(&|font| font.presets[1].name = "A name of twenty-one.".into());
    assert_eq!(error, "preset 'A name of twenty-one.': is longer than it may be, or not ASCII");
    let error = refused(&|font| font.instruments[0].common.push((Generator::ReverbSend, 5)));
    assert_eq!(error, "instrument 'Pair': a zone sets a generator twice");
    let error = refused(&|font| {
        let zone = font.instruments[0].zones[0].clone();
        font.instruments[0].zones = vec![zone; 14_000];
    });
    assert_eq!(error, "bank 'Odd': has more than 65,000 generators or zones of one kind");
}
