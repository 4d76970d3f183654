//! Random songs: metres and tempi that change, passes of any length, early notes and long ones,
//! covers, pedals, bends and messages whole; tracks that share a channel.

use chaconne_song::{
    Channel, Control, Feel, Lane, Letter, Note, NoteId, Pass, Placed, Point, Section, Shape, Song,
    Stroke, SysEx, Track, TrackId, U7, U14,
};
use chaconne_time::{
    Metre, MetreChange, MetreMap, NoteValue, Span, Tempo, TempoMap, TempoPoint, Tick, pulse,
};
use proptest::prelude::*;
use std::sync::Arc;

/// The sections of every random song.
pub const LETTERS: [&str; 3] = ["A", "B", "C"];

pub fn letter(index: usize) -> Letter {
    LETTERS[index % LETTERS.len()].parse().unwrap()
}

/// A song of three sections and three tracks.
pub fn song() -> impl Strategy<Value = Song> {
    let sections = [section(0), section(1), section(2)];
    let passes = prop::collection::vec(pass(), 0..7);
    (sections, passes, any::<bool>()).prop_map(|(sections, passes, quantised)| {
        let [first, second, third] = sections;
        let mut song = Song::new("whole", first);
        song.sections.extend([Arc::new(second), Arc::new(third)]);
        song.tracks = tracks(quantised);
        for (place, pass) in passes {
            lay(&mut song, place, pass);
        }
        song
    })
}

/// Two tracks on one channel of the first port, so that keys meet, and drums on the other port.
fn tracks(quantised: bool) -> Vec<Arc<Track>> {
    let mut bass = Track::pitched(TrackId(1), "Bass");
    let mut keys = Track::pitched(TrackId(2), "Keys");
    let mut drums = Track::drums(TrackId(3), "Drums");
    bass.channel = Channel::from_number(1);
    bass.program = Some(U7::low_bits(33));
    keys.channel = Channel::from_number(1);
    keys.levels.volume = Some(U7::low_bits(90));
    drums.port = "pads".into();
    for track in [&mut bass, &mut keys, &mut drums] {
        track.feel = if quantised { track.feel.on(NoteValue::SIXTEENTH) } else { Feel::off(false) };
    }
    [bass, keys, drums].map(Arc::new).to_vec()
}

fn section(index: usize) -> impl Strategy<Value = Section> {
    let metre = (2u8..=5, prop_oneof![Just(4u8), Just(8)]);
    let ramp = prop::collection::vec(200_000u32..1_200_000, 1..4);
    (1u32..4, metre.clone(), metre, ramp.clone(), ramp).prop_map(
        move |(bars, first, last, first_tempi, ramp)| {
            let metre = |(count, unit)| Metre::new(count, unit).unwrap();
            let mut changes = vec![MetreChange { bar: 1, metre: metre(first) }];
            if bars > 1 {
                changes.push(MetreChange { bar: bars, metre: metre(last) });
            }
            let map = MetreMap::with_changes(bars, changes).unwrap();
            let tempi = |all: Vec<u32>| -> Vec<Tempo> {
                all.into_iter().map(|micros| Tempo::from_micros(micros).unwrap()).collect()
            };
            let later = pulse::tick_of(first_tempi.len() as i64 + 8);
            let points = vec![
                TempoPoint { at: Tick::ZERO, tempi: tempi(first_tempi) },
                TempoPoint { at: later, tempi: tempi(ramp) },
            ];
            let mut section = Section::new(letter(index), map, Tempo::DEFAULT);
            section.tempo = TempoMap::with_points(points).unwrap();
            section
        },
    )
}

/// What a pass is made of: place of its section, track, beats, notes, a lane, a cover, a message,
/// whether it is mute.
#[derive(Debug, Clone)]
pub struct Sketch {
    track: u32,
    beats: i64,
    notes: Vec<(i64, i64, u8)>,
    lane: Option<(i64, i64, u16, u8)>,
    cover: Option<(i64, i64)>,
    message: Option<i64>,
    mute: bool,
}

fn pass() -> impl Strategy<Value = (usize, Sketch)> {
    let note = (-200i64..6000, 1i64..6000, 60u8..64);
    let sketch = (
        1u32..4,
        1i64..9,
        prop::collection::vec(note, 0..7),
        prop::option::of((0i64..3000, 1i64..2000, 0u16..128, 0u8..3)),
        prop::option::weighted(0.3, (0i64..2000, 1i64..2000)),
        prop::option::weighted(0.2, 0i64..3000),
        prop::bool::weighted(0.2),
    );
    let sketch = sketch.prop_map(|(track, beats, notes, lane, cover, message, mute)| Sketch {
        track,
        beats,
        notes,
        lane,
        cover,
        message,
        mute,
    });
    (0usize..3, sketch)
}

/// Lays a pass on a section.
fn lay(song: &mut Song, place: usize, sketch: Sketch) {
    let mut pass = Pass::empty(song.ids().pass(), TrackId(sketch.track), Tick(sketch.beats * 960));
    let length = pass.length;
    let content = pass.notes_mut();
    for ((start, held, key), id) in sketch.notes.into_iter().zip(1..) {
        let played = Stroke {
            start: Tick(start).min(length - Tick(1)).max(Tick(1) - length),
            length: Tick(held).min(length),
            key: U7::low_bits(key),
            velocity: U7::low_bits(key + 20),
            release: U7::CENTRE,
        };
        let (id, channel) = (NoteId(id), Channel::default());
        content.notes.push(Note { id, channel, played, placed: Placed::NOWHERE });
    }
    content.lanes = sketch.lane.into_iter().map(|lane| self::lane(lane, length)).collect();
    content.sysex =
        sketch.message.into_iter().map(|at| message(Tick(at).cycle(length).1)).collect();
    pass.covers = sketch.cover.into_iter().map(|cover| span(cover, length)).collect();
    pass.sort();
    let letter = song.sections[place].letter;
    song.lay(letter, pass);
    if let Some(layer) = Arc::make_mut(&mut song.sections[place]).layers.last_mut() {
        layer.mute = sketch.mute;
    }
}

fn span((from, long): (i64, i64), length: Tick) -> Span {
    let from = Tick(from).min(length - Tick(1));
    Span::new(from, (from + Tick(long)).min(length))
}

fn lane((from, long, value, which): (i64, i64, u16, u8), length: Tick) -> Lane {
    let span = span((from, long), length);
    let control = match which {
        0 => Control::SUSTAIN,
        1 => Control::Change(U7::low_bits(1)),
        _ => Control::Bend,
    };
    let value = U14::new(value).unwrap();
    Lane {
        channel: Channel::default(),
        control,
        span,
        points: vec![Point { at: span.from, value, shape: Shape::Step }],
    }
}

fn message(at: Tick) -> SysEx {
    // 7D is the manufacturer of tests and teaching (MIDI 1.0, "Manufacturer ID numbers").
    SysEx { at, bytes: vec![0xF0, 0x7D, 0x01, 0xF7] }
}
