//! Measures each program and drum at mezzo-forte and prints the figures, so that outliers show
//! after a change to a recipe.
//!
//! `cargo run -p chaconne-font --example listen`

#[path = "../tests/ear/mod.rs"]
mod ear;

use ear::{Note, Spectrum, decibels, loudest, peak, rms};

fn main() {
    let font = ear::font();
    println!("{:>4} {:22} {:>6} {:>6} {:>6} {:>7}", "", "dB", "peak", "loud", "tail", "centroid");
    for program in 1..=128_u8 {
        let preset = font.get_presets().iter().find(|one| {
            one.get_bank_number() == 0 && one.get_patch_number() == i32::from(program) - 1
        });
        let name = preset.map_or("", |preset| preset.get_name());
        for key in if program == 1 { vec![36, 48, 60, 72, 84] } else { vec![48, 60, 72] } {
            let label = format!("{program:3} {name:20} {key}");
            row(&font, &label, Note { after: 1.5, ..Note::new(program, key, 1.5) });
        }
    }
    for key in 35..=81 {
        row(&font, &format!("key {key}"), Note { after: 1.5, ..Note::drum(key, 1.5) });
    }
}

fn row(font: &std::sync::Arc<rustysynth::SoundFont>, label: &str, note: Note) {
    let frames = note.mono(font);
    let tail = &frames[frames.len() - ear::RATE / 10..];
    println!(
        "{label:27} {:6.1} {:6.1} {:6.1} {:7.0}",
        decibels(f64::from(peak(&frames))),
        decibels(loudest(&frames)),
        decibels(rms(tail)),
        Spectrum::of(&frames[..ear::RATE]).centroid()
    );
}
