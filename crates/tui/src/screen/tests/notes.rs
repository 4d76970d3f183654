//! The view of the notes: every key, against the song of a real engine.

use super::*;
use crate::action::Arrows;

use chaconne_song::{PassId, Track, TrackId};

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
    assert_eq!(player.undo_words().as_deref(), Some("note key"));
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
    // The first repeat comes so late that it could be a second press.
    player.type_text("u");
    assert_eq!(player.first().0, 240);
    player.type_text("u");
    assert_eq!((player.first().0, player.undo_words()), (0, None));
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
    assert_eq!(
        player.screen.notice.text,
        "Left and right change the length; Esc frees the arrows."
    );
    player.press([LEFT, LEFT, LEFT, LEFT, LEFT]);
    assert_eq!(player.first().1, 179);
    assert_eq!(player.screen.notice.text, "The shortest note is too short for that.");
    player.type_text("H");
    assert_eq!(player.screen.notes.arrows, Arrows::Force);
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
    player.press([Key::new(Code::Backspace)]);
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
