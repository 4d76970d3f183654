//! Example songs for the tests of this crate.

use chaconne_song::{
    Channel, Control, Feel, Form, Lane, Letter, Note, Pass, Point, Section, Song, Stroke, SysEx,
    Track, TrackId, U7, U14,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, Tick};
use proptest::prelude::*;
use std::sync::Arc;

/// Start, length, key, velocity.
pub(crate) type Struck = (i64, i64, u8, u8);

pub(crate) fn seven(value: u8) -> U7 {
    U7::new(value).unwrap()
}

/// A section with this many bars, a metre and a tempo.
pub(crate) fn section(letter: &str, bars: u32, metre: Metre, bpm: &str) -> Section {
    let map = MetreMap::new(bars, metre).unwrap();
    Section::new(letter.parse().unwrap(), map, Tempo::parse_bpm(bpm).unwrap())
}

/// Adds a pass to a section of `song`.
pub(crate) fn lay(song: &mut Song, letter: &str, track: u32, length: i64, notes: &[Struck]) {
    let mut ids = song.ids();
    let mut pass = Pass::empty(ids.pass(), TrackId(track), Tick(length));
    for &(start, length, key, velocity) in notes {
        let (key, velocity) = (seven(key), seven(velocity));
        let (start, length, release) = (Tick(start), Tick(length), U7::CENTRE);
        let played = Stroke { start, length, key, velocity, release };
        let (id, channel) = (pass.free_note_id(), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Default::default() });
    }
    pass.sort();
    push(song, letter, pass);
}

pub(crate) fn push(song: &mut Song, letter: &str, pass: Pass) {
    let letter: Letter = letter.parse().unwrap();
    song.lay(letter, pass);
}

pub(crate) fn lane(control: Control, to: i64, points: &[(i64, u16)]) -> Lane {
    Lane {
        channel: Channel::default(),
        control,
        span: Span::new(Tick(points[0].0), Tick(to)),
        points: points
            .iter()
            .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
            .collect(),
    }
}

/// A song with bass and drums, two bars of 4/4 and one of 7/8: swung, with a pedal, a bend range, a
/// system-exclusive message, an early note and one that rings out.
pub(crate) fn two_sections() -> Song {
    let seven_eight = Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).unwrap();
    let eighth: NoteValue = "1/8".parse().unwrap();
    let mut song = Song::new("Slow river", section("A", 2, Metre::common(), "96"));
    song.sections.push(Arc::new(section("B", 1, seven_eight.with_tempo_unit(eighth), "93.7")));
    song.key = Some("C minor".parse().unwrap());
    song.form = "A B A".parse().unwrap();
    let mut bass = Track::pitched(TrackId(1), "Bass");
    bass.channel = Channel::from_number(2);
    bass.program = Some(seven(33));
    bass.levels.volume = Some(seven(100));
    let mut drums = Track::drums(TrackId(2), "Drums");
    drums.port = "pads".into();
    drums.feel = Feel::off(true).on(NoteValue::SIXTEENTH);
    let mut tacet = Track::pitched(TrackId(3), "Strings");
    tacet.mute = true;
    song.tracks = vec![Arc::new(bass), Arc::new(drums), Arc::new(tacet)];
    lay(&mut song, "A", 1, 7680, &[(0, 900, 36, 90), (960, 400, 43, 80), (7600, 300, 48, 70)]);
    lay(&mut song, "A", 2, 3840, &[(-20, 60, 36, 110), (955, 60, 38, 100), (1930, 60, 36, 108)]);
    lay(&mut song, "A", 3, 3840, &[(0, 3840, 60, 50)]);
    let mut pass = Pass::empty(song.ids().pass(), TrackId(1), Tick(7680));
    pass.notes_mut().lanes = vec![
        lane(Control::SUSTAIN, 4000, &[(1920, 127), (3800, 0)]),
        lane(Control::Registered(U14::default()), 7680, &[(0, 12 * 128)]),
    ];
    let bytes = vec![0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7];
    pass.notes_mut().sysex = vec![SysEx { at: Tick(0), bytes }];
    push(&mut song, "A", pass);
    lay(&mut song, "B", 1, 3360, &[(0, 480, 41, 96), (1440, 1900, 41, 60)]);
    song
}

/// Random songs: sections in several metres, passes of several lengths, feel, mutes, and tracks that
/// share a channel.
pub(crate) fn songs() -> impl Strategy<Value = Song> {
    let notes = prop::collection::vec((0i64..4000, 1i64..3000, 50u8..56, 1u8..128), 0..12);
    let pass = (0u32..4, 0usize..2, 1i64..9, notes);
    let track = (0u8..3, any::<bool>(), 0u8..4);
    (
        prop::collection::vec(track, 4),
        prop::collection::vec(pass, 0..6),
        prop::collection::vec(0usize..2, 1..5),
    )
        .prop_map(|(tracks, passes, form)| {
            let mut song = Song::new("Any", section("A", 2, Metre::common(), "120"));
            let other = section("B", 3, Metre::new(5, 8).unwrap(), "77.7");
            song.sections.push(Arc::new(other));
            song.form = Form::of(form.iter().map(|&index| song.sections[index].letter));
            for (index, (channel, grid, mute)) in (1..).zip(tracks) {
                let mut track = Track::pitched(TrackId(index), &format!("Track {index}"));
                track.channel = Channel::from_number(channel);
                track.mute = mute == 0;
                if grid {
                    track.feel = track.feel.on(NoteValue::SIXTEENTH);
                }
                song.tracks.push(Arc::new(track));
            }
            for (track, section, beats, notes) in passes {
                let length = beats * song.sections[section].metre.first().beat().0;
                let letter = song.sections[section].letter.to_string();
                let fits = |&(start, long, key, velocity): &Struck| {
                    (start % length, long.min(length), key, velocity)
                };
                let notes: Vec<Struck> = notes.iter().map(fits).collect();
                lay(&mut song, &letter, track + 1, length, &notes);
            }
            song
        })
}
