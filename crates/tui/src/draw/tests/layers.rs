//! The view of the layers, and the layers on large screens.

use super::*;
use chaconne_song::Feel;
use chaconne_time::NoteValue;

#[test]
fn the_round_that_is_recorded_is_the_top_row_of_the_layers() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("ehats");
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("0r");
    stage.wait(300);
    for key in [42, 46] {
        stage.bench.play(key, 90);
        stage.wait(400);
    }
    insta::assert_snapshot!("layers_recording_80x24", stage.text(80, 24));
    insta::assert_snapshot!("layers_recording_120x40", stage.text(120, 40));
}

#[test]
fn a_layer_that_another_replaces_is_marked() {
    let mut song = four_parts();
    let bar = 3840;
    let mut replaced = Pass::clone(&pass(15, 2, 4 * bar, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(bar))];
    song.lay(Letter::A, Arc::new(replaced));
    let mut punched = Pass::clone(&pass(16, 1, 4 * bar, &[(0, 60, 36, 90)]));
    punched.covers = vec![Span::new(Tick::ZERO, Tick(4 * bar))];
    song.lay(Letter::A, Arc::new(punched));
    let mut stage = Stage::new(song);
    insta::assert_snapshot!("layers_punched_120x40", stage.picture(120, 40));
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("layers_replaced_120x40", stage.picture(120, 40));
}

#[test]
fn layers_are_listed_if_there_is_room_for_one() {
    let mut song = four_parts();
    song.tracks.truncate(3);
    song.lay(Letter::A, pass(30, 1, 2 * 3840, &[(0, 60, 49, 100)]));
    let mut stage = Stage::new(song);
    let text = stage.text(79, 23);
    let caption = " layers of drums, top first ─ 2 more layers below ";
    assert!(text.contains(caption), "{text}");
    assert!(text.contains(" 3 2 bars                        1 note\n"), "{text}");
    // With more room, all layers are listed.
    let text = stage.text(79, 25);
    assert!(text.contains("16 notes") && !text.contains("below"), "{text}");
}

#[test]
fn the_layers_of_a_track_are_drawn() {
    let mut song = four_parts();
    let mut replaced = Pass::clone(&pass(15, 2, 3840, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(960))];
    song.lay(Letter::A, Arc::new(replaced));
    song.lay(Letter::A, pass(16, 2, 4 * 3840, &[(3000, 300, 60, 70), (6000, 300, 62, 80)]));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::Tab), Key::new(Code::Down)]);
    stage.type_text("m");
    insta::assert_snapshot!("layers_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("layers_120x40", stage.text(120, 40));
    insta::assert_snapshot!("layers_40x12", stage.text(40, 12));
}

#[test]
fn a_track_without_layers_says_which_key_records_one() {
    let mut song = four_parts();
    song.tracks.push(Arc::new(Track::pitched(TrackId(5), "pad")));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(3)); 1].into_iter().chain([Key::new(Code::PageDown); 4]));
    assert!(stage.text(80, 24).contains("No layers yet: r records one."));
    stage.type_text("p");
    assert!(stage.text(80, 24).contains("No layers yet: Enter records one."));
}

#[test]
fn the_line_of_keys_of_the_layers_leads_to_other_tracks_at_80_columns() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    let text = stage.text(80, 24);
    for keys in ["PgUp PgDn track", "A arrange", "V layer feel", "Space play"] {
        assert!(text.contains(keys), "{keys}: {text}");
    }
}

/// Volume and pan, moved in a layer without notes on top of the bass.
fn with_moves() -> Stage {
    use chaconne_song::{Control, Lane, PassId, Point, Shape, U14};
    let mut song = four_parts();
    let lane = |control, points: &[(i64, u16)]| {
        let point = |&(at, value): &(i64, u16)| Point {
            at: Tick(at),
            value: U14::new(value).unwrap(),
            shape: Shape::Step,
        };
        let points: Vec<Point> = points.iter().map(point).collect();
        let to = points.last().unwrap().at + Tick(1);
        Lane { channel: Default::default(), control, span: Span::new(Tick::ZERO, to), points }
    };
    let mut moves = Pass::empty(PassId(40), TrackId(2), Tick(4 * 3840));
    let fade = [(0, 127), (3840, 96), (7680, 64), (11_520, 15)];
    moves.notes_mut().lanes.push(lane(Control::VOLUME, &fade));
    moves.notes_mut().lanes.push(lane(Control::PAN, &[(0, 0), (7680, 127)]));
    song.lay(Letter::A, Arc::new(moves));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down)]);
    stage
}

#[test]
fn a_layer_that_holds_moves_shows_their_curve_in_its_row() {
    let mut stage = with_moves();
    stage.press([Key::new(Code::F(3))]);
    let text = stage.text(80, 24);
    let row = text.lines().position(|line| line.contains("volume, pan")).unwrap();
    let bars: Vec<&str> = text.lines().nth(row + 1).unwrap().split('│').skip(1).take(4).collect();
    let signs: Vec<char> = bars.iter().filter_map(|bar| bar.chars().next()).collect();
    assert_eq!(signs, ['█', '▇', '▅', '▁'], "{text}");
    insta::assert_snapshot!("layers_of_moves_200x60", stage.text(200, 60));
    stage.press([Key::new(Code::F(5))]);
    insta::assert_snapshot!("levels_with_moves_200x60", stage.text(200, 60));
}

#[test]
fn a_feel_of_its_own_is_listed_with_the_layer_under_the_feel_of_the_track() {
    let mut song = four_parts();
    let sixteenths = Feel::off(true).on(NoteValue::SIXTEENTH);
    let own = Feel { pull: 60, ..sixteenths };
    let hats = song.passes.get_mut(&chaconne_song::PassId(11)).unwrap();
    Arc::make_mut(hats).feel = Some(own);
    let mut stage = Stage::new(song);
    for (width, height) in [(80, 24), (120, 40), (200, 60)] {
        // At 80 columns the loop has no room for layers.
        for view in [2, 3].into_iter().filter(|view| width > 80 || *view == 3) {
            stage.press([Key::new(Code::F(view))]);
            let text = stage.text(width, height);
            let column =
                |line: &str, words: &str| line.find(words).map(|at| line[..at].chars().count());
            let of_layer = text.lines().find_map(|line| column(line, "1/16 60 %"));
            let of_track = text.lines().find(|line| line.contains("  1 drums"));
            let of_track = of_track.and_then(|line| column(line, "1/16"));
            assert!(of_layer.is_some() && of_layer == of_track, "F{view} {width}: {text}");
        }
    }
}

/// Four parts in A, which B shares.
fn shared() -> Stage {
    let mut song = four_parts();
    let copy = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    Stage::new(song)
}

#[test]
fn a_layer_says_which_other_sections_share_it_wherever_it_is_shown() {
    let mut stage = shared();
    let row = |text: &str| {
        let found = text.lines().find(|line| line.contains("32 notes")).unwrap_or_default();
        found.to_string()
    };
    let below_the_loop = row(&stage.text(120, 40));
    assert!(below_the_loop.contains(" in B "), "{below_the_loop}");
    stage.press([Key::new(Code::F(3))]);
    let layers = stage.text(80, 24);
    assert!(row(&layers).ends_with(" also in B"), "{layers}");
    assert!(layers.contains("Layer 2 of 2: 4 bars, 32 notes; also in B."), "{layers}");
    stage.press([Key::new(Code::F(4))]);
    assert!(stage.text(80, 24).contains(" also in B"));
    assert!(stage.text(120, 40).contains(" also in B"));
    stage.press([Key::new(Code::F(3)), Key::char('o'), Key::new(Code::F(4))]);
    assert!(!stage.text(80, 24).contains("also in"));
}

#[test]
fn the_box_that_arranges_a_layer_is_drawn() {
    let mut stage = shared();
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("A");
    stage.press([Key::new(Code::Right); 2]);
    insta::assert_snapshot!("arrange_layer_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("arrange_layer_120x40", stage.text(120, 40));
    stage.press([Key::new(Code::Right); 3]);
    insta::assert_snapshot!("arrange_layer_40x12", stage.text(40, 12));
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("arrange_layer_ascii_80x24", stage.picture(80, 24));
}
