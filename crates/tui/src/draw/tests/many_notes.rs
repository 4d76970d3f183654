//! A layer of a hundred thousand notes, which must not slow the screen down.

use super::*;
use std::time::Instant;

/// How long a frame takes while nothing changes, while the cursor moves, and after an edit. Run by hand:
/// `cargo test --release -p chaconne-tui many_notes -- --ignored --nocapture`.
#[test]
#[ignore = "measures time, so it proves nothing on a busy machine"]
fn frames_of_many_notes_are_measured() {
    let notes: Vec<(i64, i64, u8, u8)> =
        (0..100_000).map(|n| (n * 37 % 61_440, 200, 30 + (n % 60) as u8, 90)).collect();
    let mut song = empty_song(16, "4/4");
    song.tracks = vec![Arc::new(Track::pitched(TrackId(1), "many"))];
    song.lay(Letter::A, pass(10, 1, 61_440, &notes));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(4))]);
    let mut timed = |what: &str, keys: &str| {
        let begin = Instant::now();
        stage.type_text(keys);
        let keys = begin.elapsed();
        stage.draw(200, 60);
        let first = begin.elapsed() - keys;
        let again = Instant::now();
        stage.draw(200, 60);
        println!("{what}: keys {keys:?}, first frame {first:?}, next frames {:?}", again.elapsed());
    };
    timed("the notes", "");
    timed("next note", ".");
    timed("all selected", "sa");
    timed("a note drawn", "d");
}
