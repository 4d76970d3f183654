//! The song's text: its exact form, and that a written song reads back equal.

mod common;

use chaconne_song::text;
use chaconne_song::{
    Letter, NoteId, Pass, PassId, Placed, Section, Song, Stroke, Track, TrackId, U7,
};
use chaconne_time::{Metre, MetreMap, Tempo, Tick};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::sync::Arc;

fn small_song() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let section = Section::new(Letter::A, metre, Tempo::DEFAULT);
    let mut pass = Pass::empty(PassId(2), TrackId(1), Tick(3840));
    let played = Stroke {
        start: Tick(-20),
        length: Tick(120),
        key: U7::low_bits(36),
        velocity: U7::low_bits(100),
        release: U7::CENTRE,
    };
    let placed = Placed { start: Some(Tick(0)), ..Placed::UNCHANGED };
    pass.notes_mut().notes.push(chaconne_song::Note {
        id: NoteId(3),
        channel: chaconne_song::Channel::default(),
        played,
        placed,
    });
    let mut song = Song::new("Stairwell", section);
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Drums")));
    song.lay(Letter::A, pass);
    song
}

#[test]
fn a_small_song_is_written_exactly_like_this() {
    let expected = r#"(
    chaconne: 2,
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
            layers: [
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn a_written_song_reads_back_equal(tape in tape(2500)) {
        let song = Chooser::new(tape).song();
        let written = text::write(&song);
        let again = text::read(&written);
        prop_assert_eq!(again.as_ref(), Ok(&song), "{}", written);
        prop_assert_eq!(text::write(&again.unwrap()), written);
    }

    #[test]
    fn each_note_and_point_has_its_own_line(tape in tape(2500)) {
        let song = Chooser::new(tape).song();
        let written = text::write(&song);
        let passes = || song.passes.values();
        let notes: usize = passes().map(|pass| pass.notes().len()).sum();
        let lanes = || passes().flat_map(|pass| pass.lanes());
        let points: usize = lanes().map(|lane| lane.points.len()).sum();
        // Names may contain the same text, but they are only in tracks and comments, which are
        // indented less or start differently.
        let deep = |start: &str| {
            let starts = |line: &&str| line.starts_with(&" ".repeat(20)) && line.trim_start().starts_with(start);
            written.lines().filter(starts).count()
        };
        prop_assert_eq!(deep("(id: "), notes);
        prop_assert_eq!(written.lines().filter(|line| line.contains(", value: ")).count(), points);
        // A pass is written in full once; every other layer with it takes one line.
        let layers: usize = song.sections.iter().map(|section| section.layers.len()).sum();
        prop_assert_eq!(written.matches("\n                (pass: ").count(), layers - song.passes.len());
    }
}

#[test]
fn the_random_songs_vary_every_field() {
    let mut all = String::new();
    (1..40).for_each(|seed| all += &text::write(&Chooser::new(steady_tape(seed, 2500)).song()));
    let fields = "title key form tracks sections id name port channel bank program pitched feel \
        volume pan mute pass_length grid pull swing reach rolls letter bars metre tempo \
        layers pass transpose chords chord shape bar groups tempo_unit at ramp track length covers notes lanes sysex from to \
        velocity release placed control points value bytes";
    for field in fields.split_whitespace() {
        assert!(all.contains(&format!("{field}: ")), "no {field}");
    }
    let kinds = "program,change 1,bend,pressure,key pressure,registered,non-registered";
    for kind in kinds.split(',') {
        assert!(all.contains(&format!("control: \"{kind}")), "no {kind}");
    }
    for awkward in ["\\\"", "\\\\", "\\n", "\\u{202e}", "\\u{0}", " beats\"", " bars\""] {
        assert!(all.contains(awkward), "no {awkward}");
    }
}
