//! Checks a bank before it is written.
//!
//! In: a [`SoundFont`]. Out: nothing, or the first fault, with the name of the part that has it.

use super::{FontError, Sample, Setting, SoundFont, Zone};
use std::ops::RangeInclusive;

/// Checks every part against the limits of the specification.
pub fn check(font: &SoundFont) -> Result<(), FontError> {
    for (what, text, most) in texts(font) {
        let fits = text.is_ascii() && text.len() <= most;
        refuse(fits, what, text, "is longer than it may be, or not ASCII")?;
    }
    refuse(fits_tables(font), "bank", &font.name, MOST)?;
    refuse(!font.presets.is_empty(), "bank", &font.name, "has no preset; there must be one")?;
    for sample in &font.samples {
        check_sample(sample)?;
    }
    for one in &font.instruments {
        check_zones("instrument", &one.name, &one.zones, font.samples.len())?;
        check_settings("instrument", &one.name, &one.common, &one.zones, false)?;
    }
    for one in &font.presets {
        refuse(one.bank <= 128 && one.program <= 127, "preset", &one.name, NUMBERS)?;
        check_zones("preset", &one.name, &one.zones, font.instruments.len())?;
        check_settings("preset", &one.name, &one.common, &one.zones, true)?;
    }
    Ok(())
}

/// The file counts the entries of its tables in 16 bits.
const MOST: &str = "has more than 65,000 generators or zones of one kind";

fn fits_tables(font: &SoundFont) -> bool {
    // Besides its settings a zone has two ranges and what it plays; a global zone counts as one
    // more.
    let count = |common: &[Setting], zones: &[Zone]| {
        common.len() + 1 + zones.iter().map(|zone| zone.settings.len() + 3).sum::<usize>()
    };
    let instruments = font.instruments.iter().map(|one| count(&one.common, &one.zones));
    let presets = font.presets.iter().map(|one| count(&one.common, &one.zones));
    instruments.sum::<usize>() <= 65_000 && presets.sum::<usize>() <= 65_000
}

const NUMBERS: &str = "bank must be 0 to 128 and program 0 to 127";

fn texts(font: &SoundFont) -> impl Iterator<Item = (&'static str, &str, usize)> {
    let info = [
        ("name", font.name.as_str(), 255),
        ("engineer", &font.engineer, 255),
        ("copyright", &font.copyright, 255),
        ("comment", &font.comment, 65_535),
    ];
    let samples = font.samples.iter().map(|one| ("sample", one.name.as_str(), 20));
    let instruments = font.instruments.iter().map(|one| ("instrument", one.name.as_str(), 20));
    let presets = font.presets.iter().map(|one| ("preset", one.name.as_str(), 20));
    info.into_iter().chain(samples).chain(instruments).chain(presets)
}

fn check_sample(sample: &Sample) -> Result<(), FontError> {
    let is = |fine, fault| refuse(fine, "sample", &sample.name, fault);
    is(sample.frames.len() >= 48, "must have 48 frames or more")?;
    is((400..=50_000).contains(&sample.rate), "the rate must be 400 to 50,000 frames a second")?;
    is(sample.root <= 127, "the root key must be 0 to 127")?;
    is((-50..=50).contains(&sample.correction), "the correction must be -50 to 50 cents")?;
    let Some((start, end)) = sample.repeat else { return Ok(()) };
    is(start >= 8 && end + 8 <= sample.frames.len(), "the loop must have 8 frames on either side")?;
    is(start + 32 <= end, "the loop must be 32 frames or longer")
}

fn check_zones(
    what: &'static str,
    name: &str,
    zones: &[Zone],
    count: usize,
) -> Result<(), FontError> {
    refuse(!zones.is_empty(), what, name, "has no zone; there must be one")?;
    for zone in zones {
        let fits = |range: &RangeInclusive<u8>| !range.is_empty() && *range.end() <= 127;
        let ranges = fits(&zone.keys) && fits(&zone.velocities);
        refuse(ranges, what, name, "a range of keys or velocities must rise within 0 to 127")?;
        refuse(zone.plays < count, what, name, "a zone plays something that does not exist")?;
    }
    Ok(())
}

fn check_settings(
    what: &'static str,
    name: &str,
    common: &[Setting],
    zones: &[Zone],
    preset: bool,
) -> Result<(), FontError> {
    let lists = zones.iter().map(|zone| zone.settings.as_slice()).chain([common]);
    for list in lists {
        let once = |at: usize| list[at + 1..].iter().all(|other| other.0 != list[at].0);
        refuse((0..list.len()).all(once), what, name, "a zone sets a generator twice")?;
        let here = list.iter().all(|setting| !(preset && setting.0.is_for_instruments_only()));
        refuse(here, what, name, "a zone sets a generator that only instruments may have")?;
    }
    Ok(())
}

fn refuse(
    fine: bool,
    what: &'static str,
    name: &str,
    fault: &'static str,
) -> Result<(), FontError> {
    if fine { Ok(()) } else { Err(FontError { what, name: name.into(), fault }) }
}
