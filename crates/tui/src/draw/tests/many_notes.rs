//! A layer of a hundred thousand notes, which must not slow the screen down.

use super::*;
use std::time::Instant;

/// Each frame shows all of it. How long the frames take while nothing changes, while the cursor moves, and
/// after an edit is printed: `cargo test --release -p chaconne-tui many_notes -- --nocapture`.
#[test]
fn a_hundred_thousand_notes_can_be_seen_and_edited() {
    let notes: Vec<(i64, i64, u8, u8)> =
        (0..100_000).map(|n| (n * 37 % 61_440, 200, 30 + (n % 60) as u8, 90)).collect();
    let mut song = empty_song(16, "4/4");
    song.tracks = vec![Arc::new(Track::pitched(TrackId(1), "many"))];
    song.lay(Letter::A, pass(10, 1, 61_440, &notes));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(4))]);
    let mut timed = |what: &str, keys: &[Key], says: &str| {
        let begin = Instant::now();
        stage.press(keys.iter().copied());
        let keys = begin.elapsed();
        stage.draw(200, 60);
        let first = begin.elapsed() - keys;
        let again = Instant::now();
        let text = stage.text(200, 60);
        assert!(text.contains(says), "{what}: {text}");
        println!("{what}: keys {keys:?}, first frame {first:?}, next frames {:?}", again.elapsed());
    };
    timed("the notes", &[], "100000 notes");
    timed("next note", &[Key::char('.')], "100000 notes");
    timed("all selected", &[Key::char('s'), Key::char('a')], "100000 notes");
    timed("all harder", &[Key::char('H'), Key::new(Code::Up)], "undo: velocity");
}
