//! Pictures of the lane under the notes: velocities, a controller, the list of what it can show, and a
//! ramp that is being drawn.

use super::*;
use chaconne_song::{Control, Lane, PassId, Point, Shape, U14};

/// The bass, with a swell of the expression in its first two bars and a pedal in the third, shared with
/// another section.
fn stage() -> Stage {
    let mut song = four_parts();
    let lane = |control, from: i64, points: &[(i64, u16, Shape)]| {
        let point = |&(at, value, shape): &(i64, u16, Shape)| Point {
            at: Tick(at),
            value: U14::new(value).unwrap(),
            shape,
        };
        let points: Vec<Point> = points.iter().map(point).collect();
        let to = points.last().unwrap().at + Tick(1);
        Lane { channel: Default::default(), control, span: Span::new(Tick(from), to), points }
    };
    let swell = [(0, 20, Shape::SlowStart), (3840, 127, Shape::Straight), (7680, 0, Shape::Step)];
    let pedal = [(7700, 127, Shape::Step), (11_400, 0, Shape::Step)];
    let content = Arc::make_mut(song.passes.get_mut(&PassId(12)).unwrap()).notes_mut();
    content.lanes.push(lane(Control::Change(U7::low_bits(11)), 0, &swell));
    content.lanes.push(lane(Control::SUSTAIN, 7700, &pedal));
    let mut section = Section::clone(&song.sections[0]);
    section.letter = "B".parse().unwrap();
    song.sections.push(Arc::new(section));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage
}

/// With the expression in the lane, and the arrows there.
fn swell() -> Stage {
    let mut stage = stage();
    stage.type_text("B11");
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("b");
    stage.press(vec![Key::new(Code::Right); 6]);
    stage
}

#[test]
fn a_controller_is_drawn_as_a_curve_with_its_points() {
    let mut stage = swell();
    for (width, height) in [(80, 24), (120, 40), (200, 60)] {
        let name = format!("lane_{width}x{height}");
        insta::assert_snapshot!(name, stage.picture(width, height));
    }
    insta::assert_snapshot!("lane_40x12", stage.text(40, 12));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("lane_ascii_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("lane_ascii_200x60", stage.text(200, 60));
    stage.options.glyphs = Glyphs::Console;
    insta::assert_snapshot!("lane_console_80x24", stage.text(80, 24));
}

#[test]
fn what_the_lane_can_show_is_a_list() {
    let mut stage = stage();
    stage.type_text("B");
    insta::assert_snapshot!("lane_list_80x24", stage.picture(80, 24));
    stage.type_text("74");
    insta::assert_snapshot!("lane_list_40x12", stage.text(40, 12));
    insta::assert_snapshot!("lane_list_120x40", stage.text(120, 40));
}

#[test]
fn a_ramp_is_drawn_while_it_is_tried() {
    let mut stage = stage();
    stage.type_text("bx");
    stage.press(vec![Key::new(Code::Right); 30]);
    assert!(stage.text(80, 24).contains("LANE  ramp 1.1.0 to 2.4.480"), "{}", stage.text(80, 24));
    stage.type_text("x20");
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("ramp_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("ramp_200x60", stage.text(200, 60));
    insta::assert_snapshot!("ramp_40x12", stage.text(40, 12));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("ramp_ascii_80x24", stage.text(80, 24));
}

#[test]
fn a_layer_says_what_it_holds_besides_notes() {
    let mut stage = stage();
    stage.press([Key::new(Code::F(3))]);
    insta::assert_snapshot!("layers_80x24", stage.text(80, 24));
    insta::assert_snapshot!("layers_140x44", stage.text(140, 44));
}

#[test]
fn a_layer_of_moves_has_no_count_of_notes() {
    let mut stage = stage();
    let mut song = chaconne_song::Song::clone(stage.bench.engine.song());
    let notes = Arc::make_mut(song.passes.get_mut(&PassId(12)).unwrap()).notes_mut();
    notes.notes.clear();
    stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(3))]);
    let picture = stage.text(80, 24);
    assert!(picture.contains("     expression, pedal"), "{picture}");
    assert!(
        picture.contains("4 bars, expression, pedal;") && !picture.contains("0 notes"),
        "{picture}"
    );
}

/// What another layer replaces is faint, in the notes as in the lane.
#[test]
fn covered_notes_are_faint() {
    let mut song = four_parts();
    let mut above = Pass::clone(&pass(15, 2, 4 * 3840, &[(3840, 900, 48, 70)]));
    above.covers = vec![Span::new(Tick(3840), Tick(7680))];
    song.lay(Letter::A, Arc::new(above));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text("y");
    let covered = stage.picture(80, 24);
    insta::assert_snapshot!("notes_covered_80x24", covered);
}

/// The foot shows what the keys do in each mode.
#[test]
fn the_foot_follows_what_the_arrows_do() {
    let mut stage = stage();
    for (key, words) in [
        ("m", ["time", "pitch", "by tick", "Esc done"]),
        ("h", ["length", "by tick", "Esc done", "m move"]),
        ("H", ["velocity", "by ten", "Esc done", "m move"]),
        ("b", ["value", "by ten", "x ramp", "Esc done"]),
    ] {
        stage.type_text(key);
        let text = stage.text(80, 24);
        let foot: Vec<&str> = text.lines().rev().take(2).collect();
        for word in words {
            assert!(foot.iter().any(|line| line.contains(word)), "{key}: {word}: {foot:?}");
        }
        assert!(!foot.iter().any(|line| line.contains("arrows cursor")), "{foot:?}");
    }
}

#[test]
fn a_ramp_says_how_it_is_heard_and_which_keys_decide() {
    let mut song = four_parts();
    song.sections.truncate(1);
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text("bx");
    stage.press(vec![Key::new(Code::Right); 8]);
    stage.type_text("x");
    let picture = stage.text(80, 24);
    assert!(
        picture.contains("You hear it when the loop plays. Enter keeps it, Esc takes it back.")
    );
    stage.bench.command(chaconne_engine::Command::Play);
    stage.wait(100);
    let picture = stage.text(80, 24);
    assert!(picture.contains("You hear it as the loop goes round. Enter keeps it, Esc takes it"));
}
