//! Checks that every note of a font can start in time.
//!
//! In: a font that has been read. Out: nothing, or a sentence about the program that would be late.
//! A malicious font could give one key thousands of layers, and the player would try to start them
//! all.

use rustysynth_ext::{Instrument, SoundFont};

/// The most layers one key may start: several times the number of voices.
const MAX_LAYERS: u32 = 512;
/// The most zones the player may have to search for one note.
const MAX_ZONES: u64 = 1 << 16;

/// Refuses a font with a note that could not start in time.
pub fn check(font: &SoundFont) -> Result<(), String> {
    let instruments: Vec<Load> = font.get_instruments().iter().map(Load::of).collect();
    for preset in font.get_presets() {
        let (mut zones, mut keys) = (0u64, [0u32; 128]);
        for region in preset.get_regions() {
            let load = &instruments[region.get_instrument_id()];
            zones += 1 + load.zones;
            for key in range(region.get_key_range_start(), region.get_key_range_end()) {
                keys[key] = keys[key].saturating_add(load.keys[key]);
            }
        }
        let most = keys.iter().max().copied().unwrap_or(0);
        if most > MAX_LAYERS || zones > MAX_ZONES {
            return Err(format!(
                "a key of program '{}' has {most} layers in {zones} zones; the limit is \
                 {MAX_LAYERS} layers in {MAX_ZONES} zones",
                preset.get_name().trim()
            ));
        }
    }
    Ok(())
}

/// The number of zones of an instrument, and how many of them cover each key.
struct Load {
    zones: u64,
    keys: [u32; 128],
}

impl Load {
    fn of(instrument: &Instrument) -> Load {
        let mut load = Load { zones: 0, keys: [0; 128] };
        for region in instrument.get_regions() {
            load.zones += 1;
            let keys = range(region.get_key_range_start(), region.get_key_range_end());
            keys.for_each(|key| load.keys[key] += 1);
        }
        load
    }
}

fn range(low: i32, high: i32) -> std::ops::RangeInclusive<usize> {
    low.clamp(0, 128) as usize..=high.clamp(0, 127) as usize
}
