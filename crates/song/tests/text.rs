//! The song's text from outside: what is written, and that it comes back.

use chaconne_song::text;
use chaconne_song::{Letter, NoteId, Pass, PassId, Section, Song, Stroke, Track, TrackId, U7};
use chaconne_time::{Metre, MetreMap, Tempo, Tick};
use std::sync::Arc;

fn small_song() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut section = Section::new(Letter::A, metre, Tempo::DEFAULT);
    let mut pass = Pass::empty(PassId(2), TrackId(1), Tick(3840));
    let played = Stroke {
        start: Tick(-20),
        length: Tick(120),
        key: U7::low_bits(36),
        velocity: U7::low_bits(100),
        release: U7::CENTRE,
    };
    let placed = Some(Stroke { start: Tick(0), ..played });
    pass.notes.push(chaconne_song::Note {
        id: NoteId(3),
        channel: chaconne_song::Channel::default(),
        played,
        placed,
    });
    section.passes.push(Arc::new(pass));
    let mut song = Song::new("Stairwell", section);
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Drums")));
    song
}

#[test]
fn a_small_song_is_written_as_it_stands_here() {
    let expected = r#"(
    chaconne: 1,
    title: "Stairwell",
    tracks: [
        (id: 1, name: "Drums", channel: 10, pitched: false),
    ],
    sections: [
        (
            letter: "A",
            bars: 4,
            metre: "4/4",
            tempo: 500000, // 120 BPM
            passes: [
                (
                    id: 2,
                    track: 1, // "Drums"
                    length: "1 bar",
                    notes: [
                        (id: 3, at: "0.4.940", length: 120, key: 36, velocity: 100, placed: (at: "1.1.0")),
                    ],
                ),
            ],
        ),
    ],
)
"#;
    let song = small_song();
    assert_eq!(text::write(&song), expected);
    assert_eq!(text::read(expected).unwrap(), song);
}
