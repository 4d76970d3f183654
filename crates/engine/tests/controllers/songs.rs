//! Random songs of two sections and three tracks, whose layers move controllers.

use crate::model::{controls, rest};
use chaconne_song::{
    Channel, Lane, Letter, Note, NoteId, Pass, PassId, Placed, Point, Section, Song, Stroke, Track,
    TrackId, U7, U14,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The port of tracks that do not play on the first one.
pub const OTHER: &str = "other";

/// A gesture: the index of its controller, its channel, its start, its moves (the ticks to the next
/// move, and the value), and how long it lasts after the last move.
type Drawn = (usize, u8, i64, Vec<(i64, u16)>, i64);

fn gesture() -> impl Strategy<Value = Drawn> {
    let moves = prop::collection::vec((1i64..900, prop_oneof![Just(0u16), 0u16..16384]), 1..5);
    (0usize..7, 1u8..3, -400i64..3840, moves, 1i64..5000)
}

fn lane((control, channel, start, moves, rest_of): Drawn) -> Lane {
    let control = controls()[control];
    let (mut at, mut points) = (Tick(start), Vec::new());
    for (later, value) in moves {
        let value = if value == 0 { rest(control).unwrap_or_default().get() } else { value };
        let value = U14::new(value.min(control.highest())).unwrap();
        points.push(Point::step(at, value));
        at += Tick(later);
    }
    let last = points.last().unwrap();
    // A gesture that comes to rest ends with that move, else some time later.
    let over = if Some(last.value) == rest(control) { Tick(1) } else { Tick(rest_of) };
    let span = Span::new(points[0].at, last.at + over);
    Lane { channel: Channel::from_number(channel).unwrap(), control, span, points }
}

/// A note: its channel, start, length and key.
fn note() -> impl Strategy<Value = (u8, i64, i64, u8)> {
    (1u8..4, -100i64..7000, 1i64..3000, 60u8..62)
}

prop_compose! {
    fn pass(id: u32)(
        track in 1u32..4,
        length in prop::sample::select(vec![960i64, 2880, 3840, 7680]),
        drawn in prop::collection::vec(gesture(), 1..6),
        notes in prop::collection::vec(note(), 0..3),
        cover in prop::option::weighted(0.3, (0i64..900, 1i64..900)),
    ) -> Pass {
        let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(length));
        let mut lanes: BTreeMap<_, Lane> = BTreeMap::new();
        for lane in drawn.into_iter().map(lane).filter(|lane| lane.span.from < pass.length) {
            lanes.insert(lane.id(), lane);
        }
        pass.notes_mut().lanes = lanes.into_values().collect();
        for (id, (channel, start, held, key)) in (1..).zip(notes) {
            let (start, length) = (Tick(start).min(pass.length - Tick(1)), Tick(held));
            let (key, velocity, release) = (U7::low_bits(key), U7::low_bits(90), U7::CENTRE);
            let played = Stroke { start, length, key, velocity, release };
            let channel = Channel::from_number(channel).unwrap();
            pass.notes_mut().notes.push(Note { id: NoteId(id), channel, played, placed: Placed::UNCHANGED });
        }
        let span = |(from, long): (i64, i64)| Span::new(Tick(from), Tick((from + long).min(length)));
        pass.covers = cover.map(span).into_iter().filter(|span| !span.is_empty()).collect();
        pass.sort();
        pass
    }
}

prop_compose! {
    /// A song whose section A has one bar, and section B one or two.
    pub fn song()(
        passes in (pass(11), pass(12), pass(13), pass(14), pass(15)),
        places in prop::collection::vec((any::<bool>(), prop::bool::weighted(0.2)), 5),
        tracks in prop::collection::vec(
            (prop::option::of(1u8..4), any::<bool>(), prop::option::of(1u8..127),
                prop::bool::weighted(0.15)),
            3,
        ),
        bars in 1u32..3,
    ) -> Song {
        let section = |letter, bars| {
            let metre = MetreMap::new(bars, Metre::common()).unwrap();
            Section::new(letter, metre, Tempo::DEFAULT)
        };
        let b: Letter = "B".parse().unwrap();
        let mut song = Song::new("controllers", section(Letter::A, 1));
        song.sections.push(Arc::new(section(b, bars)));
        for (id, (channel, elsewhere, volume, mute)) in (1..).zip(tracks) {
            let mut track = Track::pitched(TrackId(id), "track");
            track.channel = channel.and_then(Channel::from_number);
            track.port = if elsewhere { OTHER.into() } else { String::new() };
            track.levels.volume = volume.map(U7::low_bits);
            track.mute = mute;
            song.tracks.push(Arc::new(track));
        }
        let (one, two, three, four, five) = passes;
        for (pass, (in_b, mute)) in [one, two, three, four, five].into_iter().zip(places) {
            let letter = if in_b { b } else { Letter::A };
            song.lay(letter, pass);
            let place = usize::from(in_b);
            let section = Arc::make_mut(&mut song.sections[place]);
            section.layers.last_mut().unwrap().mute = mute;
        }
        song
    }
}
