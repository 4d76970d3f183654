//! Ramps that are drawn: what is performed has their values, by integer arithmetic of its own; and
//! what is tried while the loop plays is heard, kept as one step, or taken back.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Message, Route, View, Wire, perform};
use chaconne_song::{
    Channel, Commit, Control, Curve, Edit, Label, Note, NoteId, NoteRef, Pass, PassId, Picked,
    Placed, Ramp, Shape, Song, Stroke, TrackId, U7, U14,
};
use chaconne_time::{Span, Tick};
use proptest::prelude::*;

const BAR: i64 = 3840;
const PASS: PassId = PassId(10);
const EXPRESSION: Curve =
    Curve { channel: Channel::from_wire(0), control: Control::Change(U7::low_bits(11)) };

/// Two bars of eighths.
fn eighths() -> Song {
    let mut song = song(2, 1);
    let mut pass = Pass::empty(PASS, TrackId(1), Tick(2 * BAR));
    for eighth in 0..16 {
        let played = Stroke {
            start: Tick(eighth * 480),
            length: Tick(240),
            key: U7::low_bits(60 + eighth as u8),
            velocity: U7::low_bits(90),
            release: U7::CENTRE,
        };
        let id = NoteId(eighth as u32 + 1);
        let (channel, placed) = (Channel::default(), Placed::UNCHANGED);
        pass.notes_mut().notes.push(Note { id, channel, played, placed });
    }
    pass.sort();
    song.lay(song.sections[0].letter, pass);
    song
}

fn ramp(from: i64, to: i64, first: u16, last: u16, shape: Shape) -> Ramp {
    let value = |value| U14::new(value).unwrap();
    Ramp { from: Tick(from), to: Tick(to), first: value(first), last: value(last), shape }
}

/// The value of a ramp from `a` to `b`, `t` ticks into `n`, rounded to the nearest, halves away from
/// `a`. With `x = t/n` the way that is done is, for the shapes in turn: 0 (hold), `x` (linear
/// interpolation), `x²` (quadratic ease-in), `1 - (1 - x)²` (quadratic ease-out).
fn by_hand(shape: Shape, a: i64, b: i64, t: i64, n: i64) -> i64 {
    let (part, of) = match shape {
        Shape::Step => (0, 1),
        Shape::Straight => (t, n),
        Shape::SlowStart => (t * t, n * n),
        Shape::SlowEnd => (n * n - (n - t) * (n - t), n * n),
    };
    let whole = (b - a).abs() * part;
    let (down, rest) = (whole / of, whole % of);
    let moved = down + i64::from(2 * rest >= of);
    if b < a { a - moved } else { a + moved }
}

/// The moves of the expression that a song performs, from the top: tick and value.
fn moves(song: &Song) -> Vec<(i64, i64)> {
    let route = Route::open(song.sections[0].letter);
    let span = Span::new(Tick::ZERO, Tick(2 * BAR));
    let events = perform(song, &route, span, View::Corrected).events;
    let of = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::Change { controller, value, .. }) if controller.get() == 11 => {
            Some((event.at.0, i64::from(value.get())))
        }
        _ => None,
    };
    events.iter().filter_map(of).collect()
}

fn swell(song: &Song, ramp: &Ramp) -> Commit {
    EXPRESSION.ramp(song.pass(PASS).unwrap(), ramp).unwrap()
}

/// The velocities that a song performs, in order of time.
fn velocities(song: &Song) -> Vec<i64> {
    let route = Route::open(song.sections[0].letter);
    let span = Span::new(Tick::ZERO, Tick(2 * BAR));
    let events = perform(song, &route, span, View::Corrected).events;
    let of = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::NoteOn { velocity, .. }) => Some(i64::from(velocity.get())),
        _ => None,
    };
    events.iter().filter_map(of).collect()
}

/// A ramp over the velocities of all notes.
fn crescendo(song: &Song, ramp: &Ramp) -> Commit {
    let pass = song.pass(PASS).unwrap();
    let all = pass.notes().iter().map(|note| NoteRef { pass: PASS, note: note.id }).collect();
    let start = |name: NoteRef| {
        pass.notes().iter().find(|note| note.id == name.note).map(|note| note.played.start)
    };
    Picked::new([pass], &all).ramp(ramp, start).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Every move between the ends has the ramp's value at its tick; where no move comes, the value has
    /// not changed by more than the shortest distance between two moves allows.
    #[test]
    fn a_drawn_controller_is_performed_with_the_values_of_the_ramp(
        from in 0i64..4000, length in 1i64..3600, first in 0i64..128, last in 0i64..128,
        shape in prop::sample::select(&Shape::ALL),
    ) {
        let mut song = eighths();
        let to = from + length;
        swell(&song, &ramp(from, to, first as u16, last as u16, shape)).apply(&mut song).unwrap();
        let moves = moves(&song);
        let at = |at: i64| moves.iter().rev().find(|(tick, _)| *tick <= at).map(|(_, value)| *value);
        prop_assert_eq!(at(from), Some(first));
        for &(tick, value) in moves.iter().filter(|(tick, _)| from <= *tick && *tick < to) {
            prop_assert_eq!(value, by_hand(shape, first, last, tick - from, length), "at {}", tick);
        }
        prop_assert_eq!(at(to), Some(last));
        // 20 ticks between moves, and none within 20 of the end.
        for step in 1..length / 20 {
            let tick = from + 20 * step;
            prop_assert_eq!(at(tick), Some(by_hand(shape, first, last, 20 * step, length)), "at {}", tick);
        }
    }

    #[test]
    fn a_crescendo_is_performed_with_the_velocities_of_the_ramp(
        from in 0i64..4000, length in 1i64..3600, first in 1i64..128, last in 1i64..128,
        shape in prop::sample::select(&Shape::ALL),
    ) {
        let mut song = eighths();
        let ramp = ramp(from, from + length, first as u16, last as u16, shape);
        crescendo(&song, &ramp).apply(&mut song).unwrap();
        let wanted: Vec<i64> = (0..16)
            .map(|eighth| match (eighth * 480 - from).clamp(0, length) {
                into if into == length => last,
                into => by_hand(shape, first, last, into, length),
            })
            .collect();
        prop_assert_eq!(velocities(&song), wanted);
        prop_assert!(song.pass(PASS).unwrap().notes().iter().all(|note| note.played.velocity.get() == 90));
    }
}

/// What is tried is heard in the next round; one more try takes its place; what is taken back leaves
/// nothing.
#[test]
fn what_is_tried_while_the_loop_plays_is_heard_and_is_one_step() {
    let mut bench = Bench::new(eighths());
    let before = bench.engine.song().clone();
    bench.command(Command::Play);
    bench.to(1000);
    for last in [100, 110, 120] {
        let commit = swell(&before, &ramp(0, 1920, 20, last, Shape::Step));
        assert!(bench.command(Command::Try(commit)));
    }
    bench.to(4 * BAR);
    assert!(bench.heard(2 * BAR, 4 * BAR).contains("7680c11=20"));
    assert!(bench.heard(2 * BAR, 4 * BAR).contains("9600c11=120"));
    let undo = |bench: &Bench| bench.engine.status(bench.now).undo.map(|turn| turn.to_string());
    assert_eq!(undo(&bench).as_deref(), Some("controller ramp"));
    bench.command(Command::EndTry { keep: false });
    assert_eq!((&**bench.engine.song(), undo(&bench)), (&*before, None));
    bench.to(8 * BAR);
    assert!(!bench.heard(6 * BAR, 8 * BAR).contains("c11"));
    // Kept, it is one step; another trial does not touch it.
    for last in [100, 110] {
        let commit = swell(&before, &ramp(0, 1920, 20, last, Shape::Straight));
        assert!(bench.command(Command::Try(commit)));
    }
    bench.command(Command::EndTry { keep: true });
    let kept = bench.engine.song().clone();
    bench.command(Command::Try(crescendo(&kept, &ramp(0, 1920, 20, 120, Shape::Step))));
    bench.command(Command::EndTry { keep: false });
    assert_eq!(**bench.engine.song(), *kept);
    bench.command(Command::Undo);
    assert_eq!((&**bench.engine.song(), undo(&bench)), (&*before, None));
    bench.command(Command::Stop);
    bench.check_wire();
}

/// A try that the song refuses changes nothing and is said.
#[test]
fn a_refused_try_leaves_the_one_before_it() {
    let mut bench = Bench::new(eighths());
    let before = bench.engine.song().clone();
    bench.command(Command::Try(swell(&before, &ramp(0, 960, 1, 2, Shape::Step))));
    let tried = bench.engine.song().clone();
    let refused = Commit::new(Label::ControllerRamp, vec![Edit::RemoveTrack(TrackId(1))]);
    assert!(!bench.command(Command::Try(refused)));
    assert_eq!(**bench.engine.song(), *tried);
    bench.command(Command::EndTry { keep: false });
    assert_eq!(**bench.engine.song(), *before);
}

/// The first repeat of a held key has made a step before it was known to be one.
#[test]
fn two_steps_of_one_kind_are_joined_on_request() {
    let mut bench = Bench::new(eighths());
    let before = bench.engine.song().clone();
    let raise = |bench: &mut Bench, on: bool| {
        let pass = bench.engine.song().pass(PASS).unwrap().clone();
        let name = NoteRef { pass: PASS, note: NoteId(1) };
        let commit = Picked::new([&pass], &[name].into()).louder(1).unwrap();
        bench.command(if on { Command::EditOn(commit) } else { Command::Edit(commit) });
    };
    raise(&mut bench, false);
    raise(&mut bench, false);
    bench.command(Command::JoinSteps);
    raise(&mut bench, true);
    assert_eq!(velocities(bench.engine.song())[0], 93);
    bench.command(Command::Undo);
    assert_eq!(**bench.engine.song(), *before);
}
