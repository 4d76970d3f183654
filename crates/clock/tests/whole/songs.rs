//! Random songs with changing metres and tempi, passes of any length, early and long notes, covers,
//! pedals, bends and system-exclusive messages, some with a groove and human variation, and with tracks
//! that share a channel.

use chaconne_song::{
    Channel, Control, Edit, Feel, GivenGroove, Groove, GrooveId, Human, Laid, Lane, Lean, Letter,
    Note, NoteId, Pass, Placed, Point, Section, SectionEdit, Shape, Song, StepAt, Stroke, SysEx,
    Track, TrackId, Transpose, U7, U14,
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
    let transposed = (-2i8..3, -2i8..3);
    (sections, passes, any::<bool>(), transposed).prop_map(|(sections, passes, quantised, by)| {
        let [first, mut second, third] = sections;
        second.transpose = Transpose::new(by.1).unwrap();
        let mut song = Song::new("whole", first);
        song.sections.extend([Arc::new(second), Arc::new(third)]);
        song.transpose = Transpose::new(by.0).unwrap();
        song.tracks = tracks(quantised);
        // About half of them.
        if by.0 % 2 == 0 {
            give_groove(&mut song);
        }
        for (place, pass) in passes {
            lay(&mut song, place, pass);
        }
        song
    })
}

/// Gives two tracks a groove of eighths over two bars, and one of them human variation.
fn give_groove(song: &mut Song) {
    let leans =
        [(1, 1, -90, 120), (1, 2, 200, 60), (1, 4, -240, 100), (2, 1, 60, 80), (2, 3, -30, 140)];
    let steps = leans.map(|(bar, step, timing, loudness)| {
        (StepAt { bar, step }, Lean { timing: Tick(timing), loudness, ..Lean::default() })
    });
    let eighths = NoteValue::new(8, chaconne_time::NoteKind::Straight).unwrap();
    let (id, name, steps) = (GrooveId(1000), "groove".to_string(), steps.into());
    song.grooves.push(Arc::new(Groove { id, name, grid: eighths, bars: 2, steps }));
    let whole = GivenGroove::whole(id);
    Arc::make_mut(&mut song.tracks[0]).feel.groove = Some(whole);
    let drums = &mut Arc::make_mut(&mut song.tracks[2]).feel;
    drums.groove = Some(GivenGroove { timing: 200, ..whole });
    drums.human = Human { timing: 100, loudness: 100, seed: 1 };
}

/// Two tracks on one channel of the first port, so that they play the same keys, and drums on the
/// other port.
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

/// The parts of a pass: track, beats, notes, a lane, a cover, a message, whether it is muted, and
/// whether the next section shares it.
#[derive(Debug, Clone)]
pub struct Sketch {
    track: u32,
    beats: i64,
    notes: Vec<(i64, i64, u8)>,
    lane: Option<(i64, i64, u8, Vec<Move>)>,
    cover: Option<(i64, i64)>,
    message: Option<i64>,
    mute: bool,
    shared: bool,
}

/// A point of a lane: ticks since the one before, its value, the shape to the next.
type Move = (i64, u16, Shape);

fn shape() -> impl Strategy<Value = Shape> {
    (0..Shape::ALL.len()).prop_map(|shape| Shape::ALL[shape])
}

fn pass() -> impl Strategy<Value = (usize, Sketch)> {
    let note = (-200i64..6000, 1i64..6000, 60u8..64);
    let sketch = (
        1u32..4,
        1i64..9,
        prop::collection::vec(note, 0..7),
        prop::option::of((
            0i64..3000,
            1i64..2000,
            0u8..3,
            prop::collection::vec((1i64..900, 0u16..128, shape()), 1..4),
        )),
        prop::option::weighted(0.3, (0i64..2000, 1i64..2000)),
        prop::option::weighted(0.2, 0i64..3000),
        prop::bool::weighted(0.2),
        prop::bool::weighted(0.3),
    );
    let sketch = sketch.prop_map(|(track, beats, notes, lane, cover, message, mute, shared)| {
        Sketch { track, beats, notes, lane, cover, message, mute, shared }
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
        content.notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    }
    content.lanes = sketch.lane.into_iter().map(|lane| self::lane(lane, length)).collect();
    content.sysex =
        sketch.message.into_iter().map(|at| message(Tick(at).cycle(length).1)).collect();
    pass.covers = sketch.cover.into_iter().map(|cover| span(cover, length)).collect();
    pass.sort();
    let letter = song.sections[place].letter;
    let id = pass.id;
    song.lay(letter, pass);
    if sketch.shared {
        let next = (place + 1) % song.sections.len();
        let at = song.sections[next].layers.len();
        let lay = SectionEdit::Lay { at, pass: Laid::Shared(id), mute: false };
        // The edit is refused if the pass does not fit the metre there; then it is not shared.
        let _ = Edit::Section(song.sections[next].letter, lay).apply(song);
    }
    if let Some(layer) = Arc::make_mut(&mut song.sections[place]).layers.last_mut() {
        layer.mute = sketch.mute;
    }
}

fn span((from, long): (i64, i64), length: Tick) -> Span {
    let from = Tick(from).min(length - Tick(1));
    Span::new(from, (from + Tick(long)).min(length))
}

fn lane((from, long, which, moves): (i64, i64, u8, Vec<Move>), length: Tick) -> Lane {
    let span = span((from, long), length);
    let control = match which {
        0 => Control::SUSTAIN,
        1 => Control::Change(U7::low_bits(1)),
        _ => Control::Bend,
    };
    let mut at = span.from;
    let points = moves.into_iter().map(|(apart, value, shape)| {
        let point = Point { at, value: U14::new(value).unwrap(), shape };
        at += Tick(apart);
        point
    });
    let points = points.filter(|point| point.at < span.to).collect();
    Lane { channel: Channel::default(), control, span, points }
}

fn message(at: Tick) -> SysEx {
    // 7D is the manufacturer id for non-commercial use (MIDI 1.0, "Manufacturer ID numbers").
    SysEx { at, bytes: vec![0xF0, 0x7D, 0x01, 0xF7] }
}
