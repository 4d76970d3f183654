//! Checks which layer moves a controller against an independent model. The songs are random: several
//! layers with gestures, covers, mutes and set values, on shared and separate channels and ports. At
//! every tick the controller must have the value that the rules in docs/time.md ("Controllers") give,
//! and at the end no sustain pedal may be down.
//!
//! The model applies the rules to the song itself, tick by tick, and shares no code with the performer.

use chaconne_engine::{Entry, Message, Performance, PortIx, Route, View, Wire, perform};
use chaconne_song::{
    Channel, Control, Lane, Layer, Letter, Pass, PassId, Point, Section, Song, Track, TrackId, U7,
    U14,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A controller of a channel of a port.
type Knob = (PortIx, Channel, Control);

fn change(number: u8) -> Control {
    Control::Change(U7::low_bits(number))
}

/// Pedals and wheels, which have a rest, and volume, which has none.
fn controls() -> [Control; 7] {
    [change(64), change(67), change(1), change(11), change(7), Control::Bend, Control::Pressure]
}

/// MMA RP-015, "Response to Reset All Controllers": bend at its centre, pressure, modulation and
/// pedals at 0, expression at 127; volume stays as it is.
fn rest(control: Control) -> Option<U14> {
    match control {
        Control::Bend => Some(U14::CENTRE),
        control if control == change(7) => None,
        control if control == change(11) => Some(U7::MAX.into()),
        _ => Some(U14::default()),
    }
}

struct Model<'a> {
    song: &'a Song,
    entries: &'a [Entry],
}

impl Model<'_> {
    /// The value of a controller at a tick, if the rules give one.
    fn value(&self, knob: Knob, at: Tick) -> Option<U14> {
        let entry = self.entries.iter().find(|entry| entry.at <= at && at < entry.until)?;
        let section = self.song.section(entry.section)?;
        let layers = self.layers(section);
        let mut moved = Vec::new();
        let mut left = Vec::new();
        for (index, pass) in layers.iter().enumerate().rev() {
            if self.covered(&layers[index + 1..], pass, at - entry.at) {
                continue;
            }
            // A track with a channel plays the gestures of all channels on it.
            let channels = pass.lanes().iter().map(|lane| lane.channel);
            for channel in channels.collect::<BTreeSet<_>>().into_iter().rev() {
                if self.place(pass, channel) == (knob.0, knob.1) {
                    let (now, stays) = hold(pass, channel, knob.2, (*entry, at));
                    moved.extend(now);
                    left.extend(stays);
                }
            }
        }
        if knob.2 == change(64) {
            return Some(moved.iter().chain(&left).copied().max().unwrap_or_default());
        }
        let held = moved.first().or(left.first()).copied();
        held.or_else(|| self.set(&layers, knob)).or_else(|| rest(knob.2))
    }

    /// The passes that are not muted, lowest first.
    fn layers(&self, section: &Section) -> Vec<&Pass> {
        let sounds = |layer: &&Layer| !layer.mute;
        let pass = |layer: &Layer| self.song.pass(layer.pass).map(|pass| &**pass);
        let passes = section.layers.iter().filter(sounds).filter_map(pass);
        passes.filter(|pass| !self.song.track(pass.track).unwrap().mute).collect()
    }

    fn covered(&self, above: &[&Pass], pass: &Pass, at: Tick) -> bool {
        above.iter().filter(|other| other.track == pass.track).any(|other| {
            let inside = at.cycle(other.length).1;
            other.covers.iter().any(|cover| cover.contains(inside))
        })
    }

    fn place(&self, pass: &Pass, channel: Channel) -> (PortIx, Channel) {
        let track = self.song.track(pass.track).unwrap();
        (port(self.song, track), track.channel.unwrap_or(channel))
    }

    /// The value that a track sets: the last track that plays on that channel and sets one.
    fn set(&self, layers: &[&Pass], knob: Knob) -> Option<U14> {
        let plays = |track: &&Arc<Track>| {
            let mine = layers.iter().filter(|pass| pass.track == track.id);
            let mut lanes = mine.flat_map(|pass| pass.lanes().iter().map(move |lane| (pass, lane)));
            lanes.any(|(pass, lane)| self.place(pass, lane.channel) == (knob.0, knob.1))
        };
        let sets = |track: &Arc<Track>| track.levels.volume.filter(|_| knob.2 == change(7));
        let tracks = self.song.tracks.iter().rev().filter(plays);
        tracks.filter_map(sets).next().map(U14::from)
    }
}

/// What a pass does with a controller at a tick of a visit: the value to which a gesture in progress
/// moves it, and the value at which the last gesture has left it.
fn hold(
    pass: &Pass,
    channel: Channel,
    control: Control,
    (entry, at): (Entry, Tick),
) -> (Option<U14>, Option<U14>) {
    let mine = |lane: &&Lane| lane.channel == channel && lane.control == control;
    let lanes: Vec<&Lane> = pass.lanes().iter().filter(mine).collect();
    let newest = (at - entry.at).0.div_euclid(pass.length.0);
    // A gesture in progress may be in this cycle, in the next one (if it begins early) or in any before.
    for cycle in (0..=newest + 1).rev() {
        let start = entry.at + pass.length * cycle;
        if start >= entry.until {
            continue;
        }
        let begun = lanes.iter().filter(|lane| start + lane.points[0].at <= at);
        let Some(lane) = begun.max_by_key(|lane| lane.points[0].at) else { continue };
        if at < start + lane.span.to {
            let point = lane.points.iter().rev().find(|point| start + point.at <= at);
            return (point.map(|point| point.value), None);
        }
    }
    let start = entry.at + pass.length * newest;
    let begun = lanes.iter().filter(|lane| start + lane.points[0].at <= at);
    let last = begun.max_by_key(|lane| lane.points[0].at);
    let left = last.and_then(|lane| lane.points.last()).map(|point| point.value);
    (None, left.filter(|&value| Some(value) != rest(control)))
}

fn port(song: &Song, track: &Track) -> PortIx {
    let mut ports = vec![""];
    for track in &song.tracks {
        if !ports.contains(&track.port.as_str()) {
            ports.push(&track.port);
        }
    }
    PortIx(ports.iter().position(|port| *port == track.port).unwrap() as u8)
}

/// The controller that a message moves, and its value.
fn moved(port: PortIx, wire: &Wire) -> Option<(Knob, U14)> {
    let Wire::Message(message) = wire else { return None };
    let (control, value) = message.control()?;
    Some(((port, message.channel()?, control), value))
}

/// Compares a performance with the model, at every tick at which either may change and at the one
/// before it.
fn compare(song: &Song, route: &Route, performance: &Performance) -> Result<(), TestCaseError> {
    let model = Model { song, entries: &route.entries };
    let mut ticks: Vec<Tick> = performance.events.iter().map(|event| event.at).collect();
    for entry in &route.entries {
        for pass in song.section(entry.section).into_iter().flat_map(|s| song.passes_in(s)) {
            for cycle in 0..=(entry.until - entry.at).0 / pass.length.0 {
                let start = entry.at + pass.length * cycle;
                let covers = pass.covers.iter().flat_map(|cover| [cover.from, cover.to]);
                let lanes = pass.lanes().iter();
                let moves = lanes.flat_map(|lane| {
                    lane.points.iter().map(|point| point.at).chain([lane.span.to])
                });
                ticks.push(start);
                ticks.extend(covers.chain(moves).map(|at| start + at));
            }
        }
    }
    ticks.extend(ticks.clone().into_iter().map(|at| at - Tick(1)));
    ticks.retain(|&at| performance.span.contains(at));
    ticks.sort_unstable();
    ticks.dedup();
    let mut wire: BTreeMap<Knob, U14> = BTreeMap::new();
    let mut events = performance.events.iter().peekable();
    let channels: Vec<Channel> = (1..=3).filter_map(Channel::from_number).collect();
    for at in ticks {
        while let Some(event) = events.next_if(|event| event.at <= at) {
            wire.extend(moved(event.port, &event.wire));
        }
        for (port, &channel) in (0..2).flat_map(|port| channels.iter().map(move |c| (port, c))) {
            for control in controls() {
                let knob = (PortIx(port), channel, control);
                let (ours, theirs) = (model.value(knob, at), wire.get(&knob).copied());
                // A controller that nothing has moved need not be sent. Without a rule any value is right.
                let unmoved = theirs.is_none() && ours == rest(control);
                let right = ours.is_none() || ours == theirs || unmoved;
                prop_assert!(right, "{knob:?} at {}: {theirs:?}, by the rules {ours:?}", at.0);
            }
        }
    }
    wire.extend(events.filter_map(|event| moved(event.port, &event.wire)));
    for ((port, channel, control), value) in wire {
        let is_up = control != change(64) || value == U14::default();
        prop_assert!(is_up, "the pedal of {port:?} {channel} is left down");
    }
    Ok(())
}

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

prop_compose! {
    fn pass(id: u32)(
        track in 1u32..4,
        length in prop::sample::select(vec![960i64, 2880, 3840, 7680]),
        drawn in prop::collection::vec(gesture(), 1..6),
        cover in prop::option::weighted(0.3, (0i64..900, 1i64..900)),
    ) -> Pass {
        let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(length));
        let mut lanes: BTreeMap<_, Lane> = BTreeMap::new();
        for lane in drawn.into_iter().map(lane).filter(|lane| lane.span.from < pass.length) {
            lanes.insert(lane.id(), lane);
        }
        pass.notes_mut().lanes = lanes.into_values().collect();
        let span = |(from, long): (i64, i64)| Span::new(Tick(from), Tick((from + long).min(length)));
        pass.covers = cover.map(span).into_iter().filter(|span| !span.is_empty()).collect();
        pass.sort();
        pass
    }
}

prop_compose! {
    fn song()(
        passes in (pass(11), pass(12), pass(13), pass(14), pass(15)),
        places in prop::collection::vec((any::<bool>(), prop::bool::weighted(0.2)), 5),
        tracks in prop::collection::vec(
            (prop::option::of(1u8..4), any::<bool>(), prop::option::of(1u8..127),
                prop::bool::weighted(0.15)),
            3,
        ),
    ) -> Song {
        let section = |letter| {
            let metre = MetreMap::new(1, Metre::common()).unwrap();
            Section::new(letter, metre, Tempo::DEFAULT)
        };
        let b: Letter = "B".parse().unwrap();
        let mut song = Song::new("controllers", section(Letter::A));
        song.sections.push(Arc::new(section(b)));
        for (id, (channel, elsewhere, volume, mute)) in (1..).zip(tracks) {
            let mut track = Track::pitched(TrackId(id), "track");
            track.channel = channel.and_then(Channel::from_number);
            track.port = if elsewhere { "other".into() } else { String::new() };
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

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn controllers_have_the_values_that_the_rules_give(song in song(), letters in "[AB]{1,4}") {
        let letters: Vec<Letter> =
            letters.chars().map(|letter| letter.to_string().parse().unwrap()).collect();
        // Each letter is a visit of its own.
        let entry = |(place, &section): (i64, &Letter)| {
            let (at, until) = (Tick(place * 3840), Tick(place * 3840 + 3840));
            Entry { section, at, until, cut: false }
        };
        let route = Route { entries: (0..).zip(&letters).map(entry).collect() };
        compare(&song, &route, &perform(&song, &route, route.span(), View::Corrected))?;
    }

    #[test]
    fn the_rules_also_hold_from_round_to_round(song in song(), rounds in 2i64..5) {
        let until = Tick(3840 * rounds);
        let entry = Entry { section: Letter::A, at: Tick::ZERO, until, cut: false };
        let route = Route { entries: vec![entry] };
        compare(&song, &route, &perform(&song, &route, route.span(), View::Corrected))?;
    }
}

#[test]
fn a_gesture_may_cross_the_seam_or_leave_a_controller_away_from_rest() {
    // By hand: a wheel to 80 that stays, and a bend from the end of the bar into the next.
    let channel = Channel::default();
    let value = |value| U14::new(value).unwrap();
    let lanes = [
        (change(1), 960, 4000, vec![(960, 80)]),
        (Control::Bend, 3000, 4001, vec![(3000, 9000), (4000, 8192)]),
    ];
    let lanes = lanes.map(|(control, from, to, points)| Lane {
        channel,
        control,
        span: Span::new(
            Tick(from),
            Tick(to.min(if control == Control::Bend { 4001 } else { 3000 })),
        ),
        points: points.iter().map(|&(at, to)| Point::step(Tick(at), value(to))).collect(),
    });
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("one", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "keys")));
    let mut pass = Pass::empty(PassId(2), TrackId(1), Tick(3840));
    pass.notes_mut().lanes = lanes.into();
    pass.sort();
    song.lay(Letter::A, pass);
    let until = Tick(3 * 3840);
    let route =
        Route { entries: vec![Entry { section: Letter::A, at: Tick::ZERO, until, cut: false }] };
    let said = perform(&song, &route, route.span(), View::Corrected);
    let heard = |control: Control| -> Vec<(i64, u16)> {
        let moves = said
            .events
            .iter()
            .filter_map(|event| Some((event.at, moved(event.port, &event.wire)?)));
        let mine = moves.filter(|(_, ((_, _, moved), _))| *moved == control);
        mine.map(|(at, (_, value))| (at.0, value.get())).collect()
    };
    let wheel = [(0, 0), (960, 80), (3840, 0), (4800, 80), (7680, 0), (8640, 80)];
    assert_eq!(heard(change(1)), wheel);
    let bend = [(0, 8192), (3000, 9000), (4000, 8192), (6840, 9000), (7840, 8192), (10680, 9000)];
    assert_eq!(heard(Control::Bend), bend);
    assert!(
        said.events
            .iter()
            .all(|event| !matches!(event.wire, Wire::Message(Message::NoteOn { .. })))
    );
}
