//! Properties of random playing: no note hangs, none sounds twice, undo restores everything, and the
//! engine plays what `perform` gives.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{
    Click, Command, Config, Message, Mode, Performance, Rounds, Route, View, When, Wire, perform,
};
use chaconne_song::{
    Channel, Control, Feel, Lane, Letter, Note, Pass, PassId, Point, Section, Song, Stroke,
    TrackId, U7, U14,
};
use chaconne_time::{NoteValue, Span, Tempo, Tick};
use proptest::prelude::*;
use std::sync::Arc;

const BEAT: i64 = 960;

/// Something that a player does.
#[derive(Debug, Clone)]
enum Deed {
    Press(u8),
    Lift(u8),
    Pedal(u8),
    Wheel(u8),
    Play,
    Stop,
    Record(bool),
    Mode(Mode),
    Rounds(Rounds),
    Keep,
    Undo,
    Redo,
    RemoveTop,
    Arm(u32),
    Mute(u32, bool),
    Solo(u32, bool),
    Quantise(u32, bool),
    Tempo(u32),
    Jump(bool),
    Panic,
    CountIn(u8),
    Nothing,
}

fn deed() -> impl Strategy<Value = Deed> {
    prop_oneof![
        6 => (58u8..62).prop_map(Deed::Press),
        6 => (58u8..62).prop_map(Deed::Lift),
        2 => prop_oneof![Just(0u8), Just(127), Just(40)].prop_map(Deed::Pedal),
        1 => (0u8..128).prop_map(Deed::Wheel),
        1 => Just(Deed::Play),
        1 => Just(Deed::Stop),
        3 => any::<bool>().prop_map(Deed::Record),
        1 => prop_oneof![Just(Mode::Layer), Just(Mode::Replace), Just(Mode::Punch)]
            .prop_map(Deed::Mode),
        1 => prop_oneof![Just(Rounds::All), Just(Rounds::Newest), Just(Rounds::One)]
            .prop_map(Deed::Rounds),
        1 => Just(Deed::Keep),
        2 => Just(Deed::Undo),
        1 => Just(Deed::Redo),
        1 => Just(Deed::RemoveTop),
        1 => (1u32..3).prop_map(Deed::Arm),
        2 => (1u32..3, any::<bool>()).prop_map(|(track, on)| Deed::Mute(track, on)),
        1 => (1u32..3, any::<bool>()).prop_map(|(track, on)| Deed::Solo(track, on)),
        1 => (1u32..3, any::<bool>()).prop_map(|(track, on)| Deed::Quantise(track, on)),
        1 => (60u32..240).prop_map(Deed::Tempo),
        1 => any::<bool>().prop_map(Deed::Jump),
        1 => Just(Deed::Panic),
        1 => (0u8..3).prop_map(Deed::CountIn),
        3 => Just(Deed::Nothing),
    ]
}

fn do_it(bench: &mut Bench, deed: &Deed) {
    let channel = Channel::default();
    let change = |controller, value: u8| Message::Change {
        channel,
        controller: U7::low_bits(controller),
        value: U7::low_bits(value),
    };
    let command = match *deed {
        Deed::Press(key) => {
            let (key, velocity) = (U7::low_bits(key), U7::low_bits(80));
            return bench.input(Message::NoteOn { channel, key, velocity });
        }
        Deed::Lift(key) => {
            let (key, velocity) = (U7::low_bits(key), U7::CENTRE);
            return bench.input(Message::NoteOff { channel, key, velocity });
        }
        Deed::Pedal(value) => return bench.input(change(64, value)),
        Deed::Wheel(value) => return bench.input(change(1, value)),
        Deed::Play => Command::Play,
        Deed::Stop => Command::Stop,
        Deed::Record(on) => Command::Record(on),
        Deed::Mode(mode) => Command::Mode(mode),
        Deed::Rounds(rounds) => Command::Rounds(rounds),
        Deed::Keep => Command::Keep,
        Deed::Undo => Command::Undo,
        Deed::Redo => Command::Redo,
        Deed::RemoveTop => Command::RemoveTop,
        Deed::Arm(track) => Command::Arm(TrackId(track)),
        Deed::Mute(track, on) => Command::MuteTrack(TrackId(track), on),
        Deed::Solo(track, on) => Command::SoloTrack(TrackId(track), on),
        Deed::Quantise(track, on) => {
            let off = Feel::off(true);
            let feel = if on { off.on(NoteValue::SIXTEENTH) } else { off };
            Command::Feel(TrackId(track), feel)
        }
        Deed::Tempo(bpm) => Command::Tempo(Tempo::from_milli_bpm(bpm * 1000).unwrap()),
        Deed::Jump(b) => {
            Command::Jump(if b { "B".parse().unwrap() } else { Letter::A }, When::Seam)
        }
        Deed::Panic => Command::Panic,
        Deed::CountIn(bars) => Command::CountIn(bars),
        Deed::Nothing => return,
    };
    bench.command(command);
}

/// A song with passes of all lengths, early and long notes, covers and lanes.
fn any_song() -> impl Strategy<Value = Song> {
    let note = (-200i64..4000, 1i64..5000, 60u8..64);
    let lane = (0i64..3000, 1i64..2000, 0u16..128, any::<bool>());
    let pass = (
        1u32..3,
        1i64..9,
        prop::collection::vec(note, 0..6),
        prop::option::of(lane),
        prop::option::of((0i64..2000, 1i64..2000)),
        prop::bool::weighted(0.2),
    );
    (prop::collection::vec(pass, 0..6), any::<bool>()).prop_map(|(passes, quantised)| {
        let mut song = song(1, 2);
        // Both tracks on one channel, so that keys meet across tracks.
        for track in &mut song.tracks {
            let track = Arc::make_mut(track);
            track.channel = Some(Channel::default());
            if quantised {
                track.feel = Feel::off(true).on(NoteValue::SIXTEENTH);
            }
        }
        let b = Section {
            letter: "B".parse().unwrap(),
            layers: Vec::new(),
            ..(*song.sections[0]).clone()
        };
        song.sections.push(Arc::new(b));
        let mut ids = song.ids();
        for (index, (track, beats, notes, lane, cover, mute)) in passes.into_iter().enumerate() {
            let id: PassId = ids.pass();
            let mut pass = Pass::empty(id, TrackId(track), Tick(beats * BEAT));
            let length = pass.length;
            for (start, long, key) in notes {
                let id = pass.free_note_id();
                let played = Stroke {
                    start: Tick(start).min(length - Tick(1)).max(Tick(1) - length),
                    length: Tick(long).min(length),
                    key: U7::low_bits(key),
                    velocity: U7::low_bits(90),
                    release: U7::CENTRE,
                };
                pass.notes_mut().notes.push(Note {
                    id,
                    channel: Channel::default(),
                    played,
                    placed: Default::default(),
                });
            }
            if let Some((from, long, value, pedal)) = lane {
                let from = Tick(from).min(length - Tick(1));
                let wheel = Control::Change(U7::low_bits(1));
                let value = U14::new(value).unwrap();
                pass.notes_mut().lanes.push(Lane {
                    channel: Channel::default(),
                    control: if pedal { Control::SUSTAIN } else { wheel },
                    span: Span::new(from, from + Tick(long).min(length)),
                    points: vec![Point::step(from, value)],
                });
            }
            if let Some((from, long)) = cover {
                let from = Tick(from).min(length - Tick(1));
                let to = (from + Tick(long)).min(length);
                pass.covers.push(Span::new(from, to));
            }
            pass.sort();
            let section = usize::from(index % 4 == 3);
            song.lay(song.sections[section].letter, pass);
            if let Some(layer) = Arc::make_mut(&mut song.sections[section]).layers.last_mut() {
                layer.mute = mute;
            }
        }
        song
    })
}

/// Plays a script: before each deed it waits this many milliseconds. Then lets everything go and stops.
fn perform_script(song: Song, script: &[(u16, Deed)], step: i64) -> Bench {
    perform_late(song, script, step, 0)
}

/// The same with rounds that are closed `grace` nanoseconds after their seam.
fn perform_late(song: Song, script: &[(u16, Deed)], step: i64, grace: i64) -> Bench {
    let mut bench = Bench::with_grace(song, grace);
    bench.step = step;
    perform_on(bench, script)
}

fn perform_on(mut bench: Bench, script: &[(u16, Deed)]) -> Bench {
    bench.command(Command::Click(Click::CountIn));
    bench.command(Command::Play);
    for (wait, deed) in script {
        bench.run_to(bench.now + i64::from(*wait) * MS);
        do_it(&mut bench, deed);
    }
    for key in 58..62 {
        do_it(&mut bench, &Deed::Lift(key));
    }
    do_it(&mut bench, &Deed::Pedal(0));
    bench.command(Command::Stop);
    bench
}

fn notes_and_controls(performance: &Performance, until: Tick) -> Vec<(Tick, Message)> {
    let events = performance.events.iter().filter(|event| event.at < until);
    events
        .filter_map(|event| match &event.wire {
            Wire::Message(message) => Some((event.at, *message)),
            Wire::SysEx(_) => None,
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_note_hangs_and_undo_restores_everything(
        song in any_song(),
        script in prop::collection::vec((0u16..900, deed()), 1..40),
        grace in prop_oneof![Just(0i64), Just(20), Just(400)],
    ) {
        let mut bench = perform_late(song.clone(), &script, 5 * MS, grace * MS);
        bench.check_wire();
        while bench.command(Command::Undo) {}
        prop_assert_eq!(&**bench.engine.song(), &song);
    }

    #[test]
    fn redoing_everything_after_undoing_everything_gives_the_same_song(
        song in any_song(),
        script in prop::collection::vec((0u16..900, deed()), 1..30),
        grace in prop_oneof![Just(0i64), Just(20), Just(400)],
    ) {
        let mut bench = perform_late(song, &script, 5 * MS, grace * MS);
        while bench.command(Command::Redo) {}
        let end = bench.engine.song().clone();
        while bench.command(Command::Undo) {}
        while bench.command(Command::Redo) {}
        prop_assert_eq!(bench.engine.song(), &end);
    }

    #[test]
    fn the_engine_plays_what_perform_gives(song in any_song()) {
        let mut bench = Bench::new(song.clone());
        bench.command(Command::Play);
        let end = Tick(5 * 3840);
        bench.to(end.0);
        let span = Span::new(Tick(0), end + Tick(3840 * 3));
        let said = perform(&song, &Route::open(Letter::A), span, View::Corrected);
        let heard: Vec<(Tick, Message)> =
            bench.wire.iter().filter(|(at, _)| *at < end && at.0 >= 0).copied().collect();
        prop_assert_eq!(heard, notes_and_controls(&said, end));
        bench.command(Command::Stop);
        bench.check_wire();
    }

    #[test]
    fn how_often_the_engine_is_polled_changes_nothing(
        song in any_song(),
        script in prop::collection::vec((50u16..900, deed()), 1..20),
    ) {
        let often = perform_script(song.clone(), &script, MS);
        let seldom = perform_script(song, &script, 40 * MS);
        prop_assert_eq!(often.engine.song(), seldom.engine.song());
        let differs = std::iter::zip(&often.wire, &seldom.wire).find(|(one, other)| one != other);
        prop_assert_eq!(differs, None);
        prop_assert_eq!(&often.wire, &seldom.wire);
    }

    #[test]
    fn a_silent_engine_records_what_one_that_is_heard_records(
        song in any_song(),
        script in prop::collection::vec((0u16..900, deed()), 1..40),
    ) {
        let heard = perform_script(song.clone(), &script, 5 * MS);
        let config = Config { lead: 0, silent: true, ..Config::default() };
        let mut bench = Bench::with(song, config);
        bench.step = 5 * MS;
        let silent = perform_on(bench, &script);
        prop_assert_eq!(&**heard.engine.song(), &**silent.engine.song());
        let plays = |sent: &&(Tick, Message)| match sent.1 {
            // The click is heard.
            Message::NoteOn { channel, .. } => channel != Channel::PERCUSSION,
            _ => false,
        };
        prop_assert_eq!(silent.wire.iter().filter(plays).count(), 0);
    }

    #[test]
    fn perform_gives_the_same_each_time_and_releases_every_note(song in any_song(), rounds in 1u32..4) {
        let route = Route::rounds(&song, Letter::A, rounds).unwrap();
        let once = perform(&song, &route, route.span(), View::Corrected);
        prop_assert_eq!(&once, &perform(&song, &route, route.span(), View::Corrected));
        let mut down = std::collections::BTreeSet::new();
        for event in &once.events {
            match event.wire {
                Wire::Message(Message::NoteOn { channel, key, .. }) => {
                    prop_assert!(down.insert((event.port, channel, key)));
                }
                Wire::Message(Message::NoteOff { channel, key, .. }) => {
                    prop_assert!(down.remove(&(event.port, channel, key)));
                }
                _ => {}
            }
        }
        prop_assert!(down.is_empty());
        prop_assert!(once.events.windows(2).all(|pair| pair[0].at <= pair[1].at));
    }
}
