//! The controllers of a performance along a fixed route.

use crate::model::{Knob, Model, Solos, change, changes, knobs, moved, rest};
use crate::songs::song;
use chaconne_engine::{Entry, Message, Performance, PortIx, Route, View, Wire, perform};
use chaconne_song::{
    Channel, Control, Lane, Letter, Pass, PassId, Point, Section, Song, Track, TrackId, U14,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The controller that an event moves, and its value.
fn moved_by(port: PortIx, wire: &Wire) -> Option<(Knob, U14)> {
    match wire {
        Wire::Message(message) => moved(port, message),
        Wire::SysEx(_) => None,
    }
}

/// Compares a performance with the model, at every tick at which either may change and at the one
/// before it.
fn compare(song: &Song, route: &Route, performance: &Performance) -> Result<(), TestCaseError> {
    let model = Model { song, entries: &route.entries, solos: &Solos::default() };
    let mut ticks: Vec<Tick> = performance.events.iter().map(|event| event.at).collect();
    ticks.extend(changes(song, &route.entries, performance.span));
    ticks.extend(ticks.clone().into_iter().map(|at| at - Tick(1)));
    ticks.retain(|&at| performance.span.contains(at));
    ticks.sort_unstable();
    ticks.dedup();
    let mut wire: BTreeMap<Knob, U14> = BTreeMap::new();
    let mut events = performance.events.iter().peekable();
    let knobs = knobs();
    for at in ticks {
        while let Some(event) = events.next_if(|event| event.at <= at) {
            wire.extend(moved_by(event.port, &event.wire));
        }
        let moment = model.moment(at);
        for &knob in &knobs {
            let ours = moment.as_ref().and_then(|moment| moment.value(knob));
            let theirs = wire.get(&knob).copied();
            // A controller that nothing has moved need not be sent. Without a rule any value is right.
            let unmoved = theirs.is_none() && ours == rest(knob.2);
            let right = ours.is_none() || ours == theirs || unmoved;
            prop_assert!(right, "{knob:?} at {}: {theirs:?}, by the rules {ours:?}", at.0);
        }
    }
    wire.extend(events.filter_map(|event| moved_by(event.port, &event.wire)));
    for ((port, channel, control), value) in wire {
        let is_up = control != change(64) || value == U14::default();
        prop_assert!(is_up, "the pedal of {port:?} {channel} is left down");
    }
    Ok(())
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
            .filter_map(|event| Some((event.at, moved_by(event.port, &event.wire)?)));
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
