//! The lane under the notes: points, velocities and ramps by their keys, against the song of a real
//! engine.

use super::*;
use crate::action::Arrows;
use crate::lane::InLane;
use chaconne_engine::Curves;
use chaconne_song::{Control, Curve, Lane, PassId, Point, Shape, U7, U14};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

const DOWN: Key = Key::new(Code::Down);
const UP: Key = Key::new(Code::Up);
const LEFT: Key = Key::new(Code::Left);
const RIGHT: Key = Key::new(Code::Right);
const ESC: Key = Key::new(Code::Esc);
const NOTES: Key = Key::new(Code::F(4));
const BASS: PassId = PassId(12);
const EXPRESSION: Control = Control::Change(U7::low_bits(11));

/// The bass of four parts, with a wheel in its second bar, and shared with another section.
fn player() -> Player {
    let mut song = four_parts();
    let point = |at, value| Point { shape: Shape::Straight, ..Point::step(Tick(at), value) };
    let value = |value| U14::new(value).unwrap();
    let lane = Lane {
        channel: Default::default(),
        control: Control::Change(U7::low_bits(1)),
        span: Span::new(Tick(3840), Tick(7681)),
        points: vec![point(3840, value(20)), point(7680, value(100))],
    };
    Arc::make_mut(song.passes.get_mut(&BASS).unwrap()).notes_mut().lanes.push(lane);
    let mut section = Section::clone(&song.sections[0]);
    section.letter = "B".parse().unwrap();
    song.sections.push(Arc::new(section));
    let mut player = Player::new(song);
    player.press([DOWN, NOTES]);
    player
}

impl Player {
    fn pass(&self) -> Arc<chaconne_song::Pass> {
        self.bench.state().status.song.pass(BASS).unwrap().clone()
    }

    /// The points of a controller of the bass: tick, value, shape.
    fn points(&self, control: Control) -> Vec<(i64, u16, Shape)> {
        let curve = Curve { channel: Default::default(), control };
        let all = curve.points_in(&self.pass(), Span::new(Tick(-9999), Tick(99_999)));
        all.iter().map(|(_, point)| (point.at.0, point.value.get(), point.shape)).collect()
    }

    fn velocities(&self) -> Vec<u8> {
        self.pass().notes().iter().map(|note| note.stroke().velocity.get()).collect()
    }

    fn undo_label(&self) -> Option<String> {
        self.bench.state().status.undo.map(|turn| turn.to_string())
    }

    fn said(&self) -> &str {
        &self.screen.notice.text
    }

    /// Chooses a controller by its number.
    fn show(&mut self, number: &str) {
        self.type_text("B");
        self.type_text(number);
        self.enter();
    }
}

#[test]
fn the_lane_shows_what_is_chosen_and_goes_back_on_escape() {
    let mut player = player();
    assert_eq!(player.screen.notes.lane, InLane::Velocity);
    // The wheel is held, so it comes right after the velocities; then those that could be added.
    player.type_text("BB");
    assert_eq!(player.screen.notes.lane, InLane::Control(Control::Change(U7::low_bits(1)), None));
    player.type_text("B");
    assert_eq!(player.screen.notes.lane, InLane::Control(Control::Bend, None));
    player.press([ESC]);
    assert_eq!(player.screen.notes.lane, InLane::Velocity);
    player.show("74");
    let cutoff = InLane::Control(Control::Change(U7::low_bits(74)), None);
    assert_eq!(player.screen.notes.lane, cutoff);
    // The last entry hides the lane, and takes the arrows out of it.
    player.type_text("bB");
    player.press([DOWN]);
    assert_eq!(player.screen.notes.lane, InLane::Nothing);
    player.enter();
    assert_eq!(player.screen.notes.arrows, Arrows::Cursor);
    player.type_text("b");
    assert_eq!(
        (player.screen.notes.lane, player.screen.notes.arrows),
        (InLane::Velocity, Arrows::Lane)
    );
}

#[test]
fn a_point_is_added_by_its_value_and_then_changed() {
    let mut player = player();
    player.show("11");
    player.type_text("b");
    player.press([RIGHT, RIGHT, DOWN]);
    // Expression rests at 127 (MMA RP-015).
    assert_eq!(player.points(EXPRESSION), [(480, 126, Shape::Step)]);
    assert_eq!(player.undo_label().as_deref(), Some("controllers"));
    player.type_text("OOO");
    player.press([UP]);
    assert_eq!(player.points(EXPRESSION), [(480, 97, Shape::Step)]);
    player.press([RIGHT]);
    player.type_text("d");
    assert_eq!(player.points(EXPRESSION), [(480, 97, Shape::Step), (720, 97, Shape::Step)]);
    player.type_text("d");
    assert_eq!(player.said(), "There is a point here already: Up and Down change it.");
    player.press([RIGHT]);
    player.type_text(",");
    assert_eq!(player.screen.notes.at, Tick(720));
    player.type_text(",,");
    assert_eq!((player.screen.notes.at, player.said()), (Tick(480), "This is the first point."));
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.points(EXPRESSION), [(720, 97, Shape::Step)]);
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.said(), "There is no point here.");
    player.type_text("uuuuuuuu");
    assert_eq!((player.points(EXPRESSION), player.undo_label()), (vec![], None));
}

/// A held key that adds a point and goes on changing it is one step.
#[test]
fn a_held_key_in_the_lane_is_one_step() {
    let mut player = player();
    player.show("11");
    player.type_text("b");
    player.press([DOWN]);
    player.hold(DOWN, 10);
    assert_eq!(player.points(EXPRESSION), [(0, 116, Shape::Step)]);
    player.type_text("u");
    assert_eq!((player.points(EXPRESSION), player.undo_label()), (vec![], None));
}

#[test]
fn the_velocities_of_the_notes_at_the_cursor_follow_up_and_down() {
    let mut player = player();
    player.type_text("b");
    player.press([UP]);
    player.type_text("o");
    assert_eq!(player.velocities()[0], 107);
    player.press([RIGHT, UP]);
    assert_eq!(player.said(), "There is no note here.");
    player.type_text(".");
    player.press([DOWN]);
    assert_eq!(player.velocities()[..3], [107, 95, 96]);
    player.type_text("d");
    assert_eq!(player.said(), "A velocity belongs to its note: Up and Down change it.");
    assert_eq!(player.pass().notes()[0].played.velocity.get(), 96);
    // Above the lane the same keys are about notes again.
    player.press([ESC]);
    assert_eq!(player.screen.notes.arrows, Arrows::Cursor);
}

#[test]
fn a_crescendo_is_heard_while_it_is_tried_and_is_one_step() {
    let mut player = player();
    player.type_text("bx");
    player.press(vec![RIGHT; 16]);
    player.type_text("x");
    // It starts with the velocity that is there and, where all are as loud, ends louder.
    let Some(Overlay::Ramp(pick)) = player.screen.overlays.top() else { panic!() };
    assert_eq!((pick.ramp.first.get(), pick.ramp.last.get(), pick.notes), (96, 127, Some(5)));
    assert_eq!((pick.places.0.as_str(), pick.also.as_str()), ("1.1.0", "B"));
    player.type_text("36");
    player.press([DOWN]);
    player.type_text("116");
    // Linear interpolation: 36 + 80 t / 3840 at 0, 1440, 1920, 3360 and 3840 ticks.
    assert_eq!(player.velocities()[..5], [36, 66, 76, 106, 116]);
    player.press([DOWN, RIGHT]);
    // Quadratic ease-in: 36 + 80 (t / 3840)^2; at 1440 it is 47.25, at 1920 56, at 3360 97.25.
    assert_eq!(player.velocities()[..5], [36, 47, 56, 97, 116]);
    player.press([RIGHT]);
    // Quadratic ease-out: 116 - 80 (1 - t / 3840)^2: 84.75, 96, 114.75.
    assert_eq!(player.velocities()[..5], [36, 85, 96, 115, 116]);
    player.press([LEFT, LEFT, LEFT]);
    assert_eq!(player.velocities()[..5], [36, 36, 36, 36, 116]);
    assert_eq!(player.undo_label().as_deref(), Some("velocity ramp"));
    player.press([UP, LEFT, Key::new(Code::PageDown)]);
    assert_eq!(player.velocities()[4], 105);
    player.enter();
    player.type_text("u");
    assert_eq!((player.velocities(), player.undo_label()), (vec![96; 16], None));
}

#[test]
fn a_swell_is_taken_back_by_escape_whatever_was_tried() {
    let mut player = player();
    let before = player.bench.state().status.song;
    player.show("11");
    player.type_text(" bx");
    player.press(vec![RIGHT; 8]);
    player.type_text("x40");
    player.press([DOWN]);
    player.type_text("90");
    player.press([DOWN, RIGHT]);
    let drawn = [(0, 40, Shape::SlowStart), (1920, 90, Shape::Step)];
    assert_eq!(player.points(EXPRESSION), drawn);
    // What is drawn is what is heard.
    let curve = Curve { channel: Default::default(), control: EXPRESSION };
    let heard = Curves::of(&player.pass()).value_at(curve, Tick(960)).map(U14::get);
    // 40 + 50 (1/2)^2 is 52.5; halves go up.
    assert_eq!(heard, Some(53));
    player.press([ESC]);
    assert_eq!(*player.bench.state().status.song, *before);
    assert_eq!((player.undo_label(), player.screen.scene()), (None, Scene::Notes));
}

#[test]
fn a_ramp_starts_from_what_is_there_and_replaces_what_lies_between() {
    let mut player = player();
    player.type_text("BB");
    player.enter();
    player.type_text("b.");
    assert_eq!(player.screen.notes.at, Tick(3840));
    // From half a bar later, with the value that the glide has there, to the end of the bar.
    player.press(vec![RIGHT; 8]);
    player.type_text("x");
    player.press(vec![RIGHT; 4]);
    player.type_text("x");
    let Some(Overlay::Ramp(pick)) = player.screen.overlays.top() else { panic!() };
    assert_eq!((pick.ramp.first.get(), pick.ramp.last.get()), (60, 80));
    player.press([DOWN]);
    player.type_text("10");
    player.enter();
    let wheel = Control::Change(U7::low_bits(1));
    let straight = [(3840, 20), (5760, 60), (6720, 10), (7680, 100)];
    assert_eq!(player.points(wheel), straight.map(|(at, value)| (at, value, Shape::Straight)));
}

#[test]
fn a_ramp_that_cannot_be_drawn_says_why() {
    let mut player = player();
    player.type_text("bxx");
    assert_eq!(player.said(), "The ramp begins here, at 1.1.0: go to its end and press x there.");
    player.press([ESC]);
    player.press([RIGHT]);
    player.type_text("x");
    player.press([RIGHT]);
    player.type_text("x");
    assert_eq!(player.said(), "There is no note between the start of the ramp and here.");
    player.press([ESC]);
    assert_eq!((player.screen.notes.ramp_from, player.screen.notes.arrows), (None, Arrows::Lane));
    // A layer of a bar goes round four times.
    let mut song = four_parts();
    Arc::make_mut(song.passes.get_mut(&BASS).unwrap()).length = Tick(3840);
    Arc::make_mut(song.passes.get_mut(&BASS).unwrap()).notes_mut().notes.truncate(4);
    let mut player = Player::new(song);
    player.press([DOWN, NOTES]);
    player.show("11");
    player.type_text("bx");
    player.press(vec![RIGHT; 20]);
    player.type_text("x");
    assert_eq!(player.said(), "The layer starts again between here and the start of the ramp.");
}

#[test]
fn a_track_without_layers_has_no_place_for_a_controller() {
    let mut song = four_parts();
    song.tracks.push(Arc::new(chaconne_song::Track::drums(chaconne_song::TrackId(9), "shaker")));
    let mut player = Player::new(song);
    player.press([DOWN, DOWN, DOWN, DOWN, NOTES]);
    player.type_text("b");
    assert_eq!(player.said(), "This track has no layers here: r records one.");
}

#[test]
fn a_bend_is_typed_with_its_sign() {
    let mut player = player();
    player.type_text("BBB");
    player.enter();
    player.type_text("bx");
    player.press([RIGHT, RIGHT]);
    player.type_text("x-4096");
    player.press([DOWN, RIGHT]);
    assert_eq!(
        player.points(Control::Bend)[..2].iter().map(|point| point.1).collect::<Vec<_>>(),
        [4096, 8192 + 4096 + 64]
    );
    player.press([Key::new(Code::Backspace)]);
    player.type_text("9999");
    assert_eq!(player.points(Control::Bend)[1].1, 8192 + 9);
}

/// What is kept can be undone, and the undo says so.
#[test]
fn undo_names_the_ramp_that_was_kept() {
    let mut player = player();
    player.type_text("bx");
    player.press(vec![RIGHT; 16]);
    player.type_text("x36");
    player.enter();
    player.type_text("u");
    assert_eq!(player.said(), "Undone: velocity ramp on bass.");
}

#[test]
fn with_all_layers_shown_the_controllers_of_each_can_be_seen_and_changed() {
    // The bass has a wheel; over it lies a layer without one.
    let mut player = player();
    let above = crate::testing::pass(20, 2, 4 * 3840, &[(0, 900, 60, 90)]);
    player.bench.command(Command::Edit(chaconne_song::Commit::of(chaconne_song::Edit::lay(
        Letter::A,
        5,
        above,
    ))));
    player.follow();
    let wheel = Control::Change(U7::low_bits(1));
    let listed = |player: &mut Player| {
        player.type_text("B");
        let Some(Overlay::Lanes(pick)) = player.screen.overlays.top() else { panic!() };
        let held = pick.entries.iter().filter(|entry| entry.points.is_some());
        let held: Vec<InLane> = held.map(|entry| entry.shows).collect();
        player.press([ESC]);
        held
    };
    assert_eq!(listed(&mut player), [], "the layer on top holds none");
    player.type_text("y");
    assert_eq!(listed(&mut player), [InLane::Control(wheel, None)]);
    player.show("1");
    player.type_text("b.");
    assert_eq!((player.screen.notes.at, player.points(wheel).len()), (Tick(3840), 2));
    player.press([UP]);
    let raised: Vec<u16> = player.points(wheel).iter().map(|point| point.1).collect();
    assert_eq!(raised, [21, 100]);
    // One layer again: that on top, which the wheel is added to.
    player.type_text("y");
    player.press([UP]);
    let raised: Vec<u16> = player.points(wheel).iter().map(|point| point.1).collect();
    assert_eq!(raised, [21, 100]);
    let song = player.bench.state().status.song;
    assert_eq!(song.pass(PassId(20)).unwrap().lanes().len(), 1);
}

/// The values at the ends of the ramp that is being tried.
fn ends(player: &Player) -> (u16, u16) {
    let Some(Overlay::Ramp(pick)) = player.screen.overlays.top() else { panic!() };
    (pick.ramp.first.get(), pick.ramp.last.get())
}

#[test]
fn a_ramp_leads_somewhere_from_the_start() {
    // As many as lead up, down where there is no room above, and down if that was asked for.
    for (lane, typed, expected) in
        [("", "bx", (96, 127)), ("11", " bx", (127, 95)), ("1", " bx", (0, 32))]
    {
        let mut player = Player::new(four_parts());
        player.press([DOWN, NOTES]);
        if !lane.is_empty() {
            player.show(lane);
        }
        player.type_text(typed.trim());
        player.press(vec![RIGHT; 16]);
        player.type_text("x");
        assert_eq!(ends(&player), expected, "controller {lane}");
    }
    // Velocities as a hand plays them, a little apart, are as good as level.
    let mut song = four_parts();
    let bass = Arc::make_mut(song.passes.get_mut(&BASS).unwrap());
    bass.notes_mut().notes[0].played.velocity = U7::new(74).unwrap();
    let last = bass.notes().iter().position(|note| note.played.start >= Tick(3840)).unwrap();
    bass.notes_mut().notes[last].played.velocity = U7::new(76).unwrap();
    let mut player = Player::new(song);
    player.press([DOWN, NOTES]);
    player.type_text("bx");
    player.press(vec![RIGHT; 16]);
    player.type_text("x");
    assert_eq!(ends(&player), (74, 106));
    for (typed, expected) in [("/diminuendo", (96, 64)), ("/crescendo", (96, 127))] {
        let mut player = Player::new(four_parts());
        player.press([DOWN, NOTES]);
        player.type_text(typed);
        player.enter();
        player.press(vec![RIGHT; 16]);
        player.type_text("x");
        assert_eq!(ends(&player), expected, "{typed}");
    }
}

#[test]
fn tab_goes_to_the_next_setting_of_a_ramp_and_typing_there_begins_anew() {
    let mut player = player();
    player.type_text("bx");
    player.press(vec![RIGHT; 16]);
    player.type_text("x36");
    player.press([Key::new(Code::Tab)]);
    player.type_text("80");
    assert_eq!(ends(&player), (36, 80));
    player.press([Key::new(Code::Tab)]);
    player.press([RIGHT, Key::new(Code::Tab)]);
    // From the shape to the start again, which is typed anew.
    player.type_text("50");
    assert_eq!(ends(&player), (50, 80));
    player.press([Key::new(Code::BackTab), Key::new(Code::BackTab)]);
    player.type_text("9");
    assert_eq!(ends(&player), (50, 9));
}

#[test]
fn a_ramp_that_was_begun_goes_on_in_another_lane() {
    let mut player = player();
    player.press([RIGHT, RIGHT]);
    player.type_text("bx");
    assert_eq!(player.said(), "The ramp begins at 1.1.480: go to its end and press x again.");
    player.press(vec![RIGHT; 6]);
    player.show("11");
    assert_eq!(player.said(), "The ramp begins at 1.1.480: go to its end and press x again.");
    player.type_text("x");
    let Some(Overlay::Ramp(pick)) = player.screen.overlays.top() else { panic!() };
    assert_eq!((pick.places.0.as_str(), pick.notes), ("1.1.480", None));
    player.press([ESC]);
    // Without a lane there is nothing to draw it in.
    player.type_text("xB");
    player.press([Key::new(Code::Up); 20]);
    while player.screen.notes.lane != InLane::Nothing {
        player.press([DOWN]);
    }
    player.enter();
    assert_eq!(player.screen.notes.ramp_from, None);
}

#[test]
fn letters_home_and_end_go_to_entries_of_the_list() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(4)), Key::char('B')]);
    let shows = |player: &Player| player.screen.notes.lane.long_name();
    player.press([Key::new(Code::End)]);
    assert_eq!(shows(&player), "no lane");
    player.press([Key::new(Code::Home)]);
    assert_eq!(shows(&player), "velocity");
    player.type_text("pa");
    assert_eq!(shows(&player), "pan");
    // A letter that no name goes on with begins anew.
    player.type_text("ex");
    assert_eq!(shows(&player), "expression");
    player.type_text("v");
    let first = shows(&player);
    player.type_text("v");
    assert!(first != shows(&player) && first.starts_with('v'), "{first}");
    player.type_text("74zz");
    let brightness = chaconne_song::Control::Change(U7::low_bits(74));
    assert_eq!(player.screen.notes.lane, crate::lane::InLane::Control(brightness, None));
}
