//! Every view of an empty song, the demo song and one of 1,600 tracks, at three sizes, in colour and without.

use super::*;
use chaconne_song::{Song, text};

const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (200, 60)];
const VIEWS: [(u8, &str); 6] =
    [(2, "loop"), (3, "layers"), (4, "notes"), (5, "levels"), (6, "form"), (7, "ports")];

fn demo() -> Song {
    text::read(include_str!("../../../../../assets/demo.ron")).unwrap()
}

/// Sixteen hundred tracks; every 25th has a figure over four bars.
fn sixteen_hundred() -> Song {
    let mut song = empty_song(4, "4/4");
    let track = |id| Arc::new(Track::pitched(TrackId(id), &format!("Part {id}")));
    song.tracks = (1..=1600).map(track).collect();
    for id in (1..=1600).step_by(25) {
        let note =
            |nth: u8| (i64::from(nth) * 480, 400, 40 + (nth * 5 + (id % 40) as u8) % 40, 40 + nth);
        let notes: Vec<_> = (0..32).map(note).collect();
        song.lay(Letter::A, pass(2000 + id, id, 4 * 3840, &notes));
    }
    song
}

/// A stage on which a song is shown, as it plays or stopped.
fn shows(song: Song, colours: Colours, plays: bool) -> Stage {
    let mut stage = Stage::new(song);
    stage.options.colours = colours;
    if plays {
        stage.type_text(" ");
        stage.wait(4700);
    }
    stage
}

/// The text of a picture, and its styles.
fn parts(picture: &str) -> (&str, &str) {
    picture.split_once("\ncursor ").expect("a cursor line after the text")
}

#[test]
fn every_view_is_drawn_at_every_size_in_colour_and_without() {
    type Make = fn() -> Song;
    let songs: [(&str, Make, bool); 3] = [
        ("empty", || empty_song(4, "4/4"), false),
        ("demo", demo, true),
        ("1600", sixteen_hundred, true),
    ];
    for (name, song, plays) in songs {
        let mut stages =
            [Colours::Many, Colours::None].map(|colours| shows(song(), colours, plays));
        for (key, view) in VIEWS {
            stages.iter_mut().for_each(|stage| stage.press([Key::new(Code::F(key))]));
            let mut all = String::new();
            for (width, height) in SIZES {
                let [coloured, plain] = stages.each_mut().map(|stage| stage.picture(width, height));
                let ((text, styles), (same, without)) = (parts(&coloured), parts(&plain));
                assert_eq!(text, same, "{view} of {name}: colour changes no text");
                let is_plain = without.split([' ', '\n']).all(|word| {
                    word.ends_with(':')
                        || word.contains(['-', '.'])
                        || !word.contains(char::is_numeric)
                });
                assert!(is_plain, "{view} of {name} at {width}x{height}: {without}");
                let _ = writeln!(
                    all,
                    "{width}x{height}\n{text}\ncursor {styles}without colour: cursor {without}"
                );
            }
            insta::assert_snapshot!(format!("whole_{name}_{view}"), all);
        }
    }
}

#[test]
fn lists_of_many_tracks_show_the_chosen_one_and_which_part_they_are() {
    let mut stage = shows(sixteen_hundred(), Colours::Many, false);
    stage.press([Key::new(Code::Down); 40]);
    for view in [2, 5, 6] {
        stage.press([Key::new(Code::F(view))]);
        let text = stage.text(120, 40);
        assert!(text.contains(" 41 Part 41 "), "F{view}: {text}");
        let part = text.lines().find(|line| line.contains("tracks 2") || line.contains("tracks 3"));
        assert!(part.is_some_and(|line| line.contains(" of 1600 ")), "F{view}: {text}");
    }
    stage.press([Key::new(Code::F(7))]);
    assert!(stage.text(200, 60).contains("Part 10 and 1590 more"));
}

/// The rows of the body of a view that stay empty at its end, and how many rows it has.
fn empty_at_the_end(stage: &mut Stage, (width, height): (u16, u16)) -> (usize, usize) {
    let text = stage.text(width, height);
    let body = Frame::new((width, height), false, false).body.rows;
    let rows: Vec<&str> = text.lines().collect();
    let rows = &rows[usize::from(body.start)..usize::from(body.end)];
    // The sentence at the end of a view is not what fills it.
    let rows = &rows[..rows.len() - 1];
    let used = rows.iter().rposition(|row| !row.trim().is_empty()).map_or(0, |at| at + 1);
    (rows.len() - used, rows.len())
}

#[test]
fn a_large_screen_is_used_for_a_small_song() {
    let mut two = demo();
    two.tracks.truncate(2);
    for (name, song) in [("demo", demo()), ("two tracks", two)] {
        let mut stage = shows(song, Colours::Many, false);
        for size in [(120, 40), (160, 50), (200, 60)] {
            for (key, view) in VIEWS.into_iter().filter(|(_, view)| *view != "notes") {
                for _ in 0..2 {
                    stage.press([Key::new(Code::F(key)), Key::new(Code::PageDown)]);
                    let (empty, all) = empty_at_the_end(&mut stage, size);
                    assert!(3 * empty <= all, "{view} of {name} at {size:?}: {empty} of {all}");
                }
                stage.press([Key::new(Code::PageUp); 2]);
            }
        }
    }
}
