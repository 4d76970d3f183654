//! The view of the notes: every key, against the song of a real engine.

use super::*;
use crate::action::Arrows;
use crate::testing::MS;
use chaconne_engine::{Action as CueAction, Message, Order, Route, Slot, Wire, perform};

use chaconne_song::{PassId, Track, TrackId};
use chaconne_time::{Span, Tick};

const DOWN: Key = Key::new(Code::Down);
const UP: Key = Key::new(Code::Up);
const LEFT: Key = Key::new(Code::Left);
const RIGHT: Key = Key::new(Code::Right);
const ESC: Key = Key::new(Code::Esc);

/// The notes of the bass of four parts: one layer, four bars of quarters and eighths.
fn player() -> Player {
    let mut player = Player::new(four_parts());
    player.press([DOWN, Key::new(Code::F(4))]);
    player
}

impl Player {
    /// The notes of a pass as they are placed, in order of time: start, length, key, velocity.
    fn notes(&self, pass: u32) -> Vec<(i64, i64, u8, u8)> {
        let song = self.bench.state().status.song;
        let mut notes: Vec<_> = song
            .pass(PassId(pass))
            .map_or(Vec::new(), |pass| pass.notes().to_vec())
            .iter()
            .map(|note| {
                let stroke = note.stroke();
                (stroke.start.0, stroke.length.0, stroke.key.get(), stroke.velocity.get())
            })
            .collect();
        notes.sort();
        notes
    }

    fn first(&self) -> (i64, i64, u8, u8) {
        self.notes(12)[0]
    }

    /// The cursor as tick and key, and the start of the note under it.
    fn cursor_place(&self) -> (i64, u8, Option<i64>) {
        let notes = &self.screen.notes;
        let sheet = notes.sheet.as_ref().unwrap();
        let on = notes.on.and_then(|name| sheet.note(name)).map(|(_, note)| note.stroke().start.0);
        (notes.at.0, notes.key.get(), on)
    }

    fn undo_words(&self) -> Option<String> {
        self.bench.state().status.undo.map(|turn| turn.to_string())
    }
}

#[test]
fn the_cursor_begins_on_the_first_note_and_moves_by_marks_and_rows() {
    let mut player = player();
    assert_eq!(player.cursor_place(), (0, 45, Some(0)));
    player.press([RIGHT]);
    assert_eq!(player.cursor_place(), (240, 45, Some(0)));
    player.press([RIGHT, RIGHT, RIGHT]);
    assert_eq!(player.cursor_place(), (960, 45, None));
    player.press([LEFT, UP]);
    assert_eq!(player.cursor_place(), (720, 46, None));
    player.type_text("o");
    assert_eq!(player.cursor_place().1, 58);
    player.type_text("OO");
    assert_eq!(player.cursor_place().1, 34);
    player.press([Key::new(Code::End)]);
    assert_eq!(player.cursor_place().0, 4 * 3840 - 240);
    player.press([Key::new(Code::Home), LEFT]);
    assert_eq!(player.cursor_place().0, 0);
}

#[test]
fn the_cursor_goes_from_note_to_note() {
    let mut player = player();
    let mut places = Vec::new();
    for _ in 0..4 {
        player.type_text(".");
        places.push(player.cursor_place());
    }
    let wanted = [(1440, 57), (1920, 52), (3360, 47), (3840, 41)];
    assert_eq!(places, wanted.map(|(at, key)| (at, key, Some(at))));
    player.type_text(",");
    assert_eq!(player.cursor_place(), (3360, 47, Some(3360)));
    player.type_text(",,,,");
    assert_eq!(player.cursor_place(), (0, 45, Some(0)));
    assert_eq!(player.screen.notice.text, "This is the first note.");
}

#[test]
fn the_arrows_move_notes_and_the_cursor_stays_on_the_note() {
    let mut player = player();
    player.type_text("m");
    player.press([RIGHT, UP]);
    assert_eq!(player.first(), (240, 900, 46, 96));
    assert_eq!(player.cursor_place(), (240, 46, Some(240)));
    assert_eq!(player.undo_words().as_deref(), Some("note pitch"));
    player.type_text(".,,");
    assert_eq!(player.first(), (239, 900, 46, 96));
    player.type_text("O");
    assert_eq!(player.first().2, 34);
    player.press([ESC, DOWN]);
    assert_eq!(player.cursor_place(), (239, 33, None));
    // Each press was a step.
    player.type_text("uuuuu");
    assert_eq!(player.first(), (240, 900, 45, 96));
    player.type_text("u");
    assert_eq!((player.first(), player.undo_words()), ((0, 900, 45, 96), None));
}

#[test]
fn the_repeats_of_a_held_key_are_one_step() {
    let mut player = player();
    player.type_text("m");
    player.press([RIGHT]);
    player.hold(RIGHT, 5);
    assert_eq!(player.first().0, 1440);
    // The first repeat comes so late that it could be a second press; the next shows that it was none.
    player.type_text("u");
    assert_eq!((player.first().0, player.undo_words()), (0, None));
    // A key that is pressed, and then held until it can go no further.
    player.type_text("H");
    player.press([UP, UP]);
    player.hold(UP, 40);
    assert_eq!(player.first().3, 127);
    player.type_text("u");
    assert_eq!(player.first().3, 97);
    player.type_text("u");
    assert_eq!((player.first().3, player.undo_words()), (96, None));
}

#[test]
fn length_and_velocity_follow_the_arrows() {
    let mut player = player();
    player.type_text("h");
    player.press([RIGHT]);
    player.type_text(",");
    assert_eq!(player.first(), (0, 1139, 45, 96));
    assert_eq!(player.undo_words().as_deref(), Some("note length"));
    player.press([UP]);
    assert_eq!(player.screen.notice.text, "Left and Right change the length: Esc ends that.");
    player.press([LEFT, LEFT, LEFT, LEFT, LEFT]);
    assert_eq!(player.first().1, 179);
    assert_eq!(player.screen.notice.text, "The shortest note is too short for that.");
    player.type_text("H");
    assert_eq!(player.screen.notes.arrows, Arrows::Velocity);
    player.press([UP, RIGHT, RIGHT]);
    assert_eq!(player.first().3, 117);
    player.press([RIGHT, RIGHT]);
    assert_eq!(player.first().3, 127);
    assert_eq!(player.screen.notice.text, "The loudest note is at velocity 127 already.");
    player.press([DOWN, LEFT]);
    assert_eq!(player.first().3, 116);
    player.type_text("H");
    assert_eq!(player.screen.notes.arrows, Arrows::Cursor);
}

#[test]
fn notes_are_drawn_and_deleted() {
    let mut player = player();
    player.press([UP, RIGHT]);
    player.type_text("d");
    assert_eq!(player.cursor_place(), (240, 46, Some(240)));
    assert_eq!(player.notes(12)[1], (240, 240, 46, 96));
    assert_eq!(player.undo_words().as_deref(), Some("add notes"));
    player.type_text("d");
    assert_eq!(player.screen.notice.text, "There is a note here already.");
    player.press([Key::new(Code::Delete)]);
    assert_eq!((player.notes(12).len(), player.cursor_place().2), (16, None));
    assert_eq!(player.undo_words().as_deref(), Some("remove notes"));
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.screen.notice.text, "There is no note here.");
    player.type_text("u");
    assert_eq!(player.notes(12).len(), 17);
}

#[test]
fn a_track_without_layers_gets_one_with_the_first_note() {
    let mut song = four_parts();
    song.tracks.push(std::sync::Arc::new(Track::drums(TrackId(9), "shaker")));
    let mut player = Player::new(song);
    player.press([DOWN, DOWN, DOWN, DOWN, Key::new(Code::F(4)), RIGHT]);
    player.type_text("d");
    let song = player.bench.state().status.song;
    let section = song.section(Letter::A).unwrap();
    let (_, pass) = song.layers_of(section, TrackId(9)).next().unwrap();
    assert_eq!(pass.length, section.length());
    assert_eq!(player.notes(pass.id.0), [(240, 240, 36, 96)]);
    assert_eq!(player.cursor_place(), (240, 36, Some(240)));
    player.press([RIGHT]);
    player.type_text("du");
    assert_eq!(player.notes(pass.id.0).len(), 1);
    player.type_text("u");
    assert_eq!(player.bench.state().status.song.passes.len(), 5);
    player.type_text(".");
    assert_eq!(player.screen.notice.text, "This track has no layers here: r records one.");
}

#[test]
fn a_selection_is_stretched_in_time_and_pitch() {
    let mut player = player();
    player.type_text("x");
    player.press([RIGHT; 10]);
    assert_eq!(player.screen.notes.selected.len(), 1);
    player.press([UP; 7]);
    assert_eq!(player.screen.notes.selected.len(), 2);
    player.press([UP; 5]);
    assert_eq!(player.screen.notes.selected.len(), 3);
    player.type_text("x");
    player.press([DOWN]);
    assert_eq!(player.screen.notes.selected.len(), 3);
    // What is done is done to all of them.
    player.type_text("m");
    player.press([DOWN]);
    let keys: Vec<u8> = player.notes(12).iter().take(4).map(|note| note.2).collect();
    assert_eq!(keys, [44, 56, 51, 47]);
    player.press([ESC, ESC]);
    assert!(player.screen.notes.selected.is_empty());
}

#[test]
fn every_operation_of_the_list_is_one_step_under_its_name() {
    // The first bar is selected; some operations are then about the note under the cursor.
    for (keys, label) in [
        ("sbex", "cut notes"),
        ("sber", "repeat notes"),
        ("sbet", "note pitch"),
        ("sbeb", "reverse notes"),
        ("sbei", "invert notes"),
        ("sbef", "invert notes"),
        ("sben", "thin notes"),
        ("sbecev", "paste notes"),
    ] {
        let mut player = player();
        let before = player.notes(12);
        player.type_text(keys);
        assert_ne!(player.notes(12), before, "{keys}");
        assert_eq!(player.undo_words().as_deref(), Some(label));
        player.type_text("u");
        assert_eq!((player.notes(12), player.undo_words()), (before, None), "{keys}");
    }
}

#[test]
fn a_note_is_split_at_the_cursor_joined_and_put_where_it_was_played() {
    let mut player = player();
    let before = player.notes(12);
    player.press([RIGHT, RIGHT]);
    player.type_text("es");
    assert_eq!(player.notes(12)[..2], [(0, 480, 45, 96), (480, 420, 45, 96)]);
    player.press([LEFT]);
    player.type_text("ej");
    assert_eq!(player.notes(12), before);
    player.type_text("m");
    player.press([RIGHT, UP]);
    player.type_text("ep");
    assert_eq!(player.undo_words().as_deref(), Some("put where played"));
    assert_eq!(player.notes(12), before);
}

#[test]
fn notes_are_selected_by_what_they_have_in_common() {
    let selected = |keys: &str| {
        let mut player = player();
        player.type_text(keys);
        player.screen.notes.selected.len()
    };
    assert_eq!(selected("sa"), 16);
    assert_eq!(selected("sb"), 4);
    assert_eq!(selected("st"), 1);
    assert_eq!(selected("sp"), 2);
    assert_eq!(selected("sase"), 8);
    assert_eq!(selected("sl"), 16);
    assert_eq!(selected("ss"), 0);
    assert_eq!(selected("sbso"), 12);
    assert_eq!(selected("sasn"), 0);
}

#[test]
fn a_number_of_the_list_is_changed_with_the_arrows() {
    let mut player = player();
    player.type_text("e");
    player.press([DOWN, DOWN, DOWN, DOWN, LEFT, LEFT]);
    player.enter();
    assert_eq!((player.first().2, player.screen.overlays.top().is_none()), (55, true));
    player.type_text("e");
    player.press([ESC]);
    assert_eq!(player.screen.scene(), crate::keymap::Scene::Notes);
}

#[test]
fn all_layers_of_a_track_are_changed_together_while_the_song_plays() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(4))]);
    player.type_text(" y");
    let sheet = player.screen.notes.sheet.clone().unwrap();
    assert_eq!((sheet.layers.len(), sheet.count()), (2, 48));
    player.type_text("samH");
    player.press([DOWN]);
    let velocities = |pass| player.notes(pass)[0].3;
    assert_eq!((velocities(10), velocities(11)), (109, 69));
    assert_eq!(player.bench.state().status.transport, Transport::Rolling);
    player.type_text("u");
    assert_eq!(player.notes(10)[0].3, 110);
}

/// Every key of the view and of its lists; those that draw several times, if it is about the lane.
fn keys_of_the_view(lane: usize) -> Vec<Key> {
    use crate::keymap::Scene::{Lanes, NoteEdits, NoteSelects, Notes, Ramp};
    let here = [Notes, NoteEdits, NoteSelects, Lanes, Ramp];
    let rows = crate::keymap::table().filter(|row| {
        is_of_notes(row.action) && row.scenes.iter().any(|scene| here.contains(scene))
    });
    // Digits choose a controller, and set a value.
    let all = rows.flat_map(|row| row.keys).copied().chain("0179-".chars().map(Key::char));
    let draw = [RIGHT, RIGHT, UP, DOWN, RIGHT, Key::new(Code::Enter)];
    let draw = draw.into_iter().chain("xxoOd.b7".chars().map(Key::char));
    all.chain(draw.cycle().take(if lane > 0 { 140 } else { 0 })).collect()
}

/// Whether an action edits notes, where the screen shows them.
fn is_of_notes(action: Action) -> bool {
    matches!(
        action,
        Action::Note(_) | Action::Move(_) | Action::Adjust(_) | Action::Confirm | Action::Cancel
    )
}

impl Player {
    /// Presses a key if it edits notes where the screen is now. In a list of operations a letter does so
    /// that elsewhere stops the song or asks for a new one.
    fn strike_in_the_view(&mut self, key: Key) {
        let state = self.bench.state();
        let action = self.screen.keymap.find(self.screen.scene(), &key, &self.screen.facts(&state));
        let types = self.screen.overlays.top().is_some_and(|open| open.types(&key));
        if action.map_or(types, is_of_notes) {
            self.strike(key);
        }
    }

    /// What the engine presses in the next whole round: tick, key and velocity; and the moves of
    /// controllers after its first tick: tick, controller and value.
    fn cues_of_the_next_round(&mut self) -> (Span, [Vec<Sent>; 2]) {
        let length = 4 * 3840;
        // What begins in the next tenth of a second has been performed already.
        let from = ((self.bench.state().status.at.0 + 960) / length + 1) * length;
        let span = Span::new(Tick(from), Tick(from + length));
        let (mut presses, mut moves) = (Vec::new(), Vec::new());
        while self.bench.state().status.at < span.to {
            assert!(self.bench.state().is_playing(), "it stopped: there is no next round");
            self.bench.now += 10 * MS;
            self.bench.engine.poll(self.bench.now);
            for order in self.bench.engine.take_orders() {
                let Order::Play(cue) = order else { continue };
                if cue.slot == Slot::CLICK || !span.contains(cue.at) {
                    continue;
                }
                match cue.action {
                    CueAction::Press { key, velocity, .. } => {
                        presses.push((cue.at.0, key.get(), velocity.get()));
                    }
                    CueAction::Send(message) if cue.at > span.from => {
                        moves.extend(move_of(cue.at, message))
                    }
                    _ => {}
                }
            }
        }
        presses.sort();
        moves.sort();
        (span, [presses, moves])
    }
}

impl Player {
    /// Begins above the lane, in the velocities, or in the expression.
    fn go_to_lane(&mut self, lane: usize) {
        match lane {
            0 => {}
            1 => self.type_text("b"),
            _ => {
                self.type_text("B11");
                self.enter();
                self.type_text("b");
            }
        }
    }
}

/// What was sent: its tick, its key or controller, its value.
type Sent = (i64, u8, u8);

/// A move of a controller or the bend, which counts as 128: tick, controller, value (the high byte of
/// the bend's).
fn move_of(at: Tick, message: Message) -> Option<(i64, u8, u8)> {
    match message {
        Message::Change { controller, value, .. } => Some((at.0, controller.get(), value.get())),
        Message::Bend { value, .. } => Some((at.0, 128, value.msb().get())),
        _ => None,
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(48))]

    /// Any keys of the view while the song rolls: each step can be undone, back to the song at the start.
    #[test]
    fn whatever_is_done_while_the_song_rolls_can_be_undone(
        picks in proptest::collection::vec((0usize..999, 0i64..400), 1..60), track in 0usize..4,
        lane in 0usize..3,
    ) {
        let keys = keys_of_the_view(lane);
        let mut player = Player::new(four_parts());
        let before = player.bench.state().status.song;
        player.press(vec![DOWN; track]);
        player.press([Key::new(Code::F(4)), Key::char(' ')]);
        player.go_to_lane(lane);
        for (pick, pause) in picks {
            player.bench.wait(pause);
            player.now += Duration::from_millis(pause as u64);
            player.strike_in_the_view(keys[pick % keys.len()]);
        }
        player.press([ESC, ESC, ESC]);
        for _ in 0..80 {
            player.strike(Key::char('u'));
        }
        let status = player.bench.state().status;
        proptest::prop_assert_eq!(status.undo, None);
        proptest::prop_assert_eq!(&*status.song, &*before);
    }
    /// Any keys of the view while the song rolls: from the next round on the engine presses exactly what
    /// the changed song performs.
    #[test]
    fn what_is_edited_is_what_is_played_from_the_next_round_on(
        picks in proptest::collection::vec((0usize..999, 0i64..400), 1..30), track in 0usize..4,
        lane in 0usize..3,
    ) {
        let keys = keys_of_the_view(lane);
        let mut player = Player::new(four_parts());
        player.press(vec![DOWN; track]);
        player.press([Key::new(Code::F(4)), Key::char(' ')]);
        player.go_to_lane(lane);
        for (pick, pause) in picks {
            player.bench.wait(pause);
            player.now += Duration::from_millis(pause as u64);
            player.strike_in_the_view(keys[pick % keys.len()]);
        }
        player.press([ESC, ESC, ESC]);
        let (span, [presses, moves]) = player.cues_of_the_next_round();
        let song = player.bench.state().status.song;
        let whole = Span::new(Tick::ZERO, span.to);
        let performance = perform(&song, &Route::open(Letter::A), whole, chaconne_engine::View::Corrected);
        let mut wanted: Vec<(i64, u8, u8)> = performance
            .events
            .iter()
            .filter_map(|event| match event.wire {
                Wire::Message(Message::NoteOn { key, velocity, .. }) => {
                    Some((event.at.0, key.get(), velocity.get()))
                }
                _ => None,
            })
            .filter(|(at, ..)| span.contains(Tick(*at)))
            .collect();
        wanted.sort();
        proptest::prop_assert_eq!(presses, wanted);
        let mut wanted: Vec<(i64, u8, u8)> = performance
            .events
            .iter()
            .filter(|event| span.contains(event.at) && event.at > span.from)
            .filter_map(|event| match event.wire {
                Wire::Message(message) => move_of(event.at, message),
                Wire::SysEx(_) => None,
            })
            .collect();
        wanted.sort();
        proptest::prop_assert_eq!(moves, wanted);
    }
}

#[test]
fn what_was_played_late_is_as_late_where_it_is_pasted() {
    let mut song = empty_song(2, "4/4");
    song.tracks.push(std::sync::Arc::new(chaconne_song::Track::pitched(TrackId(1), "line")));
    // A little late, a little early.
    let notes = [(490, 100, 60, 90), (951, 100, 62, 90)];
    song.lay(Letter::A, crate::testing::pass(10, 1, 7680, &notes));
    let mut player = Player::new(song);
    let starts = |player: &Player| -> Vec<i64> {
        let song = player.bench.state().status.song;
        let mut all: Vec<i64> = song
            .pass(chaconne_song::PassId(10))
            .unwrap()
            .notes()
            .iter()
            .map(|n| n.stroke().start.0)
            .collect();
        all.sort_unstable();
        all
    };
    player.press([Key::new(Code::F(4))]);
    // Both, a bar later.
    player.type_text("saec");
    player.press([Key::new(Code::Home)]);
    player.press(vec![Key::new(Code::Right); 16 + 2]);
    player.type_text("ev");
    assert_eq!(starts(&player), [490, 951, 3840 + 490, 3840 + 951]);
    player.type_text("u");
    // The second alone, at the top: as early as it was, before the top.
    player.press([Key::new(Code::Home)]);
    player.type_text("sn..ec");
    player.press([Key::new(Code::Home)]);
    player.type_text("ev");
    assert_eq!(starts(&player), [-9, 490, 951]);
}

#[test]
fn arrows_that_move_notes_are_the_cursors_again_on_another_track() {
    let over_the_loop = [Code::F(2), Code::Down, Code::F(4)].map(Key::new);
    for away in [&over_the_loop[..], &[Key::new(Code::PageDown)]] {
        for mode in ["m", "h", "H"] {
            let mut player = Player::new(four_parts());
            player.press([Key::new(Code::F(4))]);
            player.type_text(mode);
            assert_ne!(player.screen.notes.arrows, Arrows::Cursor, "{mode}");
            player.press(away.iter().copied());
            assert_eq!(player.screen.notes.arrows, Arrows::Cursor, "{mode} {away:?}");
        }
    }
}

#[test]
fn a_drum_track_without_notes_shows_every_drum_to_draw_on() {
    let mut song = four_parts();
    song.tracks.push(std::sync::Arc::new(chaconne_song::Track::drums(TrackId(9), "kit")));
    let mut player = Player::new(song);
    player.press([Key::new(Code::Up); 2]);
    player.press([Key::new(Code::Down); 4]);
    player.press([Key::new(Code::F(4))]);
    // General MIDI System Level 1 (RP-003): keys 35 to 81 are drums.
    assert_eq!(player.screen.notes.rows(0).len(), 47);
}

#[test]
fn enter_ends_what_the_arrows_change_and_arms_a_track_only_when_they_move_the_cursor() {
    for key in ["m", "h", "H"] {
        let mut player = player();
        player.type_text(key);
        assert_ne!(player.screen.notes.arrows, Arrows::Cursor);
        player.enter();
        assert_eq!(player.screen.notes.arrows, Arrows::Cursor, "{key}");
        assert_eq!(player.screen.notice.text, "");
        let state = player.bench.state();
        player.screen.ask(Action::Arm, &state, &mut Vec::new());
        assert_eq!(player.screen.notice.text, "This track is armed already.");
        player.type_text(key);
        player.screen.ask(Action::Arm, &state, &mut Vec::new());
        assert!(player.screen.notice.text.ends_with("Esc ends that."), "{key}");
    }
    let mut player = player();
    player.type_text("b");
    player.enter();
    assert_eq!(player.screen.notice.text, "The arrows are in the lane: b goes back to the notes.");
}

#[test]
fn the_keys_of_the_notes_mean_the_same_whenever_the_view_is_shown_again() {
    let leave = [Key::new(Code::F(2)), Key::new(Code::F(4))];
    for keys in ["m", "h", "H", "b", "bx", "x"] {
        let mut player = player();
        player.type_text(keys);
        player.press(leave);
        let notes = &player.screen.notes;
        let begun = (notes.arrows, notes.corner, notes.ramp_from);
        assert_eq!(begun, (Arrows::Cursor, None, None), "{keys}");
        // Another ramp begins where the cursor is, in the lane.
        player.type_text("bx");
        let notes = &player.screen.notes;
        assert_eq!((notes.arrows, notes.ramp_from), (Arrows::Lane, Some(notes.at)));
    }
}

#[test]
fn a_range_that_was_being_selected_does_not_grow_along_the_lane() {
    let mut player = player();
    player.type_text("x");
    let selected = player.screen.notes.selected.clone();
    player.type_text("b");
    player.press([Key::new(Code::Right); 20]);
    assert_eq!(player.screen.notes.selected, selected);
    assert_eq!(player.screen.notes.corner, None);
}

/// A bass of one bar whose second note is 10 ticks early, and a flute without notes.
fn early_bass() -> chaconne_song::Song {
    let mut song = empty_song(1, "4/4");
    let flute = Track { program: U7::new(73), ..Track::pitched(TrackId(2), "flute") };
    let drums = Track::drums(TrackId(3), "drums");
    song.tracks.push(std::sync::Arc::new(Track::pitched(TrackId(1), "bass")));
    song.tracks.extend([flute, drums].map(std::sync::Arc::new));
    let notes = [(480, 240, 41, 90), (950, 240, 43, 80)];
    song.lay(chaconne_song::Letter::A, crate::testing::pass(1, 1, 3840, &notes));
    song
}

#[test]
fn the_cursor_is_where_an_early_note_is_drawn() {
    let mut player = Player::new(early_bass());
    player.press([Key::new(Code::F(4))]);
    // It opens on the first note.
    assert_eq!(player.cursor_place(), (480, 41, Some(480)));
    for zooms in 0..4 {
        player.type_text(".");
        assert_eq!(player.cursor_place(), (950, 43, Some(950)), "{zooms}");
        let state = player.bench.state();
        let scale = crate::draw::loop_fit(&state, &player.screen).unwrap().scale;
        let mark = player.screen.notes.mark(&scale, Tick::ZERO).map(|mark| scale.marks[mark]);
        assert_eq!(mark.map(|mark| mark.start), Some(Tick(960)), "{zooms}");
        // The arrows go on from there, and the lane is about the same note.
        player.press([RIGHT]);
        assert_eq!(player.cursor_place().0, mark.unwrap().end.0, "{zooms}");
        player.press([Key::new(Code::Home)]);
        player.type_text("..");
        assert_eq!(player.cursor_place(), (950, 43, Some(950)), "{zooms}");
        player.type_text("b");
        player.press([UP]);
        assert_eq!(player.notes(1)[1], (950, 240, 43, 81 + zooms), "{zooms}");
        player.type_text("b,<");
    }
}

#[test]
fn a_note_that_is_early_at_the_top_is_found_once() {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(std::sync::Arc::new(Track::pitched(TrackId(1), "bass")));
    let notes = [(480, 240, 41, 90), (3835, 240, 45, 70)];
    song.lay(chaconne_song::Letter::A, crate::testing::pass(1, 1, 3840, &notes));
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(4))]);
    assert_eq!(player.cursor_place(), (0, 45, Some(3835)));
    player.type_text(".");
    assert_eq!(player.cursor_place(), (480, 41, Some(480)));
    player.type_text(".");
    assert_eq!(player.screen.notice.text, "This is the last note.");
    player.type_text(",,");
    assert_eq!(player.screen.notice.text, "This is the first note.");
}

#[test]
fn another_track_is_opened_on_the_grid_and_an_empty_one_where_it_plays() {
    let mut player = Player::new(early_bass());
    player.press([Key::new(Code::F(4))]);
    player.type_text(".");
    assert_eq!(player.screen.notes.at, Tick(950));
    player.press([Key::new(Code::PageDown)]);
    // The flute has no notes: C5 is within its compass, and rows lie above and below.
    let notes = &player.screen.notes;
    assert_eq!((notes.at.0 % 60, notes.key.get(), notes.on), (0, 72, None));
    let row = notes.rows(0).iter().position(|key| key.get() == 72).unwrap();
    assert!(row > notes.top + 1, "{row} {}", notes.top);
    player.press([Key::new(Code::PageDown)]);
    assert_eq!(player.screen.notes.key.get(), 36);
    player.press([Key::new(Code::PageUp), Key::new(Code::PageUp)]);
    assert_eq!(player.screen.notes.at.0 % 60, 0);
}
