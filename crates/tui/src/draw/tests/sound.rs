//! The level of the built-in sound and its meters, on the rule under the tracks.

use super::*;

#[test]
fn the_sound_is_drawn_on_the_rule_under_the_tracks() {
    let mut stage = Stage::new(four_parts());
    stage.type_text(" ");
    stage.wait(4700);
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-17.3, -20.0], [-12.4, -13.0]);
    insta::assert_snapshot!("sound_80x24", stage.picture(80, 24));
    stage.bench.sound().limited = Some(2.34);
    stage.type_text(")");
    insta::assert_snapshot!("sound_limited_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("sound_limited_120x40", stage.picture(120, 40));
}

#[test]
fn the_sound_fits_one_row_at_every_width_and_with_all_signs() {
    let mut stage = Stage::new(four_parts());
    let mut rows = String::new();
    let mut add = |stage: &mut Stage, what: &str, width: u16| {
        let text = stage.text(width, 24);
        let _ = writeln!(rows, "{what}\n{}", text.lines().nth(18).unwrap());
    };
    stage.bench.sound();
    add(&mut stage, "silent", 80);
    let sound = stage.bench.sound();
    (sound.peak, sound.held, sound.limited) = ([-24.0, -5.2], [-1.0, -4.9], Some(0.4));
    for width in [40, 49, 50, 59, 60, 72, 99, 100, 140] {
        add(&mut stage, &format!("{width} columns"), width);
    }
    stage.options.glyphs = Glyphs::Console;
    add(&mut stage, "on a console", 80);
    stage.options.glyphs = Glyphs::Ascii;
    add(&mut stage, "in ASCII", 80);
    stage.options.calm = true;
    add(&mut stage, "calm", 80);
    stage.bench.sound().level = Some(-17.5);
    add(&mut stage, "a level with a decimal", 80);
    stage.bench.sound().level = None;
    add(&mut stage, "off", 80);
    insta::assert_snapshot!(rows);
}

#[test]
fn a_meter_is_linear_in_decibels() {
    // 16 cells over 48 dB: 3 dB each. Worked out by hand.
    let mut stage = Stage::new(four_parts());
    for (peak, held, bar) in [
        (-48.0, -48.0, "────────────────"),
        (-45.0, -45.0, "█│──────────────"),
        (-24.0, -24.0, "████████│───────"),
        (-22.5, -22.5, "████████▌───────"),
        (-12.0, -3.0, "████████████───│"),
        (-1.0, -1.0, "███████████████▋"),
        (0.0, 0.0, "████████████████"),
        (40.0, f32::INFINITY, "████████████████"),
        (f32::NAN, -30.0, "──────│─────────"),
    ] {
        let sound = stage.bench.sound();
        (sound.peak, sound.held) = ([peak; 2], [held; 2]);
        let text = stage.text(80, 24);
        let row = text.lines().nth(18).unwrap();
        assert_eq!(row.matches(&format!(" {bar} ")).count(), 2, "{peak} {held}: {row}");
    }
}

#[test]
fn a_calm_meter_moves_with_the_bars() {
    let mut stage = Stage::new(four_parts());
    stage.options.calm = true;
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-20.0; 2], [-12.4; 2]);
    let before = Glance::new(&stage.bench.state(), true, SIXTEENTH);
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-14.0; 2], [-9.0; 2]);
    assert_eq!(Glance::new(&stage.bench.state(), true, SIXTEENTH), before);
    assert!(stage.text(80, 24).contains("L    -9 ─ R    -9 "));
    stage.bench.sound().held = [-70.0; 2];
    assert_ne!(Glance::new(&stage.bench.state(), true, SIXTEENTH), before);
}
