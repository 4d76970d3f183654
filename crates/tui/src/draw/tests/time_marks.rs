//! Fermatas, ramps and tempi over the bars.

use super::*;
use chaconne_time::{TempoMap, TempoPoint};

/// Four bars that begin at 120, play bar 2 at 112 and slow down from 112 to 92 in the last two, with a fermata on
/// the last beat.
fn slowing() -> Stage {
    let mut song = four_parts();
    let section = Arc::make_mut(&mut song.sections[0]);
    let bpm = |bpm: i64| Tempo::parse_bpm(&bpm.to_string()).unwrap();
    let point = |bar: i64, tempi: Vec<Tempo>| TempoPoint { at: Tick(bar * 3840), tempi };
    let ramp = (0..192).map(|pulse| bpm(112 - pulse * 20 / 191)).collect();
    let points = vec![point(0, vec![bpm(120)]), point(1, vec![bpm(112)]), point(2, ramp)];
    section.tempo = TempoMap::with_points(points).unwrap();
    section.fermatas = vec![Tick(3 * 3840 + 2880)];
    section.chords = chaconne_harmony::chart("Am | F | C | G", &section.metre).unwrap();
    song.form = "A A".parse().unwrap();
    Stage::new(song)
}

/// The row over the bars, which is the one above the ruler.
fn row(stage: &mut Stage, width: u16, height: u16) -> String {
    let text = stage.text(width, height);
    let lines: Vec<&str> = text.lines().collect();
    let ruler = lines.iter().position(|line| line.contains("│1 Am")).unwrap();
    lines[ruler - 1].to_string()
}

#[test]
fn ramps_and_fermatas_are_over_the_bars_in_every_view_with_bars() {
    for (view, name) in [(2, "loop"), (3, "layers"), (4, "notes"), (6, "form")] {
        let mut stage = slowing();
        stage.press([Key::new(Code::F(view))]);
        insta::assert_snapshot!(format!("time_{name}_80x24"), stage.picture(80, 24));
        insta::assert_snapshot!(format!("time_{name}_120x40"), stage.text(120, 40));
    }
}

#[test]
fn the_fermata_where_the_song_waits_is_reversed_and_the_foot_lets_it_go_on() {
    let mut stage = slowing();
    stage.type_text(" ");
    stage.wait(9500);
    insta::assert_snapshot!("time_waiting_80x24", stage.picture(80, 24));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("time_waiting_ascii_80x24", stage.picture(80, 24));
    stage.type_text("t");
    stage.wait(100);
    let text = stage.text(80, 24);
    assert!(!text.contains("t go on") && text.contains(" PLAYING "), "{text}");
}

#[test]
fn the_foot_offers_the_next_beat_while_a_hand_leads_in_every_view_and_in_piano_mode() {
    for keys in [vec![Code::F(2)], vec![Code::F(3)], vec![Code::F(4)], vec![Code::F(6)]] {
        let mut stage = slowing();
        stage.press(keys.into_iter().map(Key::new));
        stage.type_text("G");
        assert!(!stage.text(80, 24).contains("go on"));
        stage.type_text(" ");
        for _ in 0..3 {
            assert!(stage.text(80, 24).contains(" t go on"), "{}", stage.text(80, 24));
            stage.type_text("t");
        }
        stage.type_text("p");
        assert!(stage.text(80, 24).contains(" Tab go on"), "{}", stage.text(80, 24));
        let before = stage.bench.state().status.place;
        stage.wait(1000);
        stage.press([Key::new(Code::Tab)]);
        stage.wait(1000);
        assert_ne!(stage.bench.state().status.place, before);
    }
}

#[test]
fn a_ramp_goes_around_the_count_in() {
    let mut stage = slowing();
    let wide = row(&mut stage, 120, 24);
    assert!(wide.contains("rit. 112 ") && wide.contains("→ 92(·)"), "{wide}");
    stage.type_text("1r");
    stage.wait(500);
    let counting = row(&mut stage, 80, 24);
    assert!(counting.contains("count-in  1 2 3 4") && counting.contains("(·)"), "{counting}");
}

#[test]
fn a_page_that_cuts_a_ramp_says_so_at_its_edge() {
    let mut stage = slowing();
    stage.press([Key::new(Code::F(4))]);
    stage.type_text("<<");
    stage.press([Key::new(Code::End)]);
    let text = stage.text(80, 24);
    let over = text.lines().find(|line| line.contains("(·)")).unwrap();
    assert!(over.trim().starts_with("…rit. 112 ") && over.contains("→ 92(·)"), "{over}");
}
