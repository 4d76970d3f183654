//! The demo song, `assets/demo.ron`: it reads like any other song, and suits what the demo shows.

use chaconne_song::{Note, Section, text};
use chaconne_time::Tick;

const DEMO: &str = include_str!("../../../assets/demo.ron");

#[test]
fn the_demo_song_is_written_back_unchanged() {
    let song = text::read(DEMO).unwrap();
    assert_eq!(text::write(&song), DEMO);
}

#[test]
fn the_demo_song_has_room_for_a_melody() {
    let song = text::read(DEMO).unwrap();
    assert_eq!(song.form.to_string(), "A A B A");
    let tempo = |section: &Section| section.tempo.first().to_string();
    assert!(song.sections.iter().all(|section| tempo(section) == "104"));
    assert!(song.sections.iter().all(|section| section.length() == Tick(4 * 3840)));
    let passes = |letter: usize, track: &str| {
        let track = song.track_named(track).unwrap().id;
        song.layers_of(&song.sections[letter], track).count()
    };
    for track in ["Drums", "Bass", "Chords"] {
        assert!(passes(0, track) > 0 && passes(1, track) > 0, "{track}");
    }
    assert_eq!((passes(0, "Melody"), passes(1, "Melody")), (0, 1));
}

#[test]
fn the_demo_song_is_played_by_hand() {
    let song = text::read(DEMO).unwrap();
    let notes: Vec<Note> = song.passes.values().flat_map(|pass| pass.notes().to_vec()).collect();
    let early = notes.iter().filter(|note| note.played.start < Tick::ZERO).count();
    let off = notes.iter().filter(|note| note.played.start.0.rem_euclid(240) != 0).count();
    assert!(early > 0, "the demo needs an early note to show what happens at the seam");
    assert!(off * 10 > notes.len() * 9, "a performance by hand is rarely on the grid");
    assert!(notes.iter().all(|note| note.placed.is_unchanged()));
}
