//! How often the engine is polled changes nothing of what is heard or recorded. Each case was once
//! otherwise.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Message, Mode, Rounds, When};
use chaconne_song::{
    Channel, Control, Edit, Lane, Letter, Pass, PassId, Point, Section, Song, TrackId, U7,
};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
const WHEEL: u8 = 1;
const SUSTAIN: u8 = 64;

/// Runs a case with the engine polled often and seldom. What is heard and recorded must be the same.
fn however_often(song: Song, case: impl Fn(&mut Bench)) -> Bench {
    let [often, seldom] = [MS, 40 * MS].map(|step| {
        let mut bench = Bench::new(song.clone());
        bench.step = step;
        case(&mut bench);
        bench
    });
    assert_eq!(often.wire, seldom.wire);
    assert_eq!(often.engine.song(), seldom.engine.song());
    often
}

/// The moves of a controller on the wire.
fn moves(bench: &Bench, number: u8) -> Vec<(i64, u8)> {
    let moved = |(at, message): &(Tick, Message)| match message {
        Message::Change { controller, value, .. } if controller.get() == number => {
            Some((at.0, value.get()))
        }
        _ => None,
    };
    bench.wire.iter().filter_map(moved).collect()
}

/// A lane: its span, and its moves.
type Spelt = ((i64, i64), Vec<(i64, u16)>);

/// The lanes of the first section.
fn lanes(bench: &Bench) -> Vec<Spelt> {
    let song = bench.engine.song();
    let spell = |lane: &Lane| -> Spelt {
        let points = lane.points.iter().map(|point| (point.at.0, point.value.get())).collect();
        ((lane.span.from.0, lane.span.to.0), points)
    };
    let passes = song.passes_in(&song.sections[0]);
    passes.iter().flat_map(|pass| pass.lanes().iter().map(spell)).collect()
}

#[test]
fn a_pedal_of_an_older_round_comes_up_at_the_seam_at_which_the_newest_mutes_it() {
    let b = however_often(song(1, 1), |b| {
        b.command(Command::Rounds(Rounds::Newest));
        b.command(Command::Record(true));
        // It goes on over the seam, so the second round begins with it down.
        b.change(2000, SUSTAIN, 127);
        b.press(BAR + 1000, 60);
        b.lift(BAR + 1100, 60);
        b.to(2 * BAR + 500);
    });
    assert_eq!(moves(&b, SUSTAIN).last(), Some(&(2 * BAR, 0)));
}

#[test]
fn a_wheel_moved_within_the_look_ahead_of_the_seam_goes_to_rest_there() {
    // The look-ahead is 100 ms: 192 ticks at 120.
    for before in [300, 193, 192, 191, 150, 50] {
        let b = however_often(song(1, 1), |b| {
            b.to(0);
            b.command(Command::Play);
            b.to(1864);
            b.command(Command::Record(true));
            b.press(2937, 58);
            b.press(4412, 58);
            b.change(2 * BAR - before, WHEEL, 1);
            b.press(2 * BAR + 155, 58);
            b.lift(2 * BAR + 155, 58);
            b.command(Command::Stop);
        });
        assert_eq!(moves(&b, WHEEL), [(2 * BAR, 0)], "{before} ticks before");
    }
}

#[test]
fn a_take_starts_where_the_newest_gesture_has_left_the_controller() {
    let b = however_often(song(1, 1), |b| {
        b.command(Command::Play);
        b.change(100, WHEEL, 40);
        // Each stands still for more than a bar.
        b.change(BAR + 1000, WHEEL, 90);
        b.to(3 * BAR);
        b.command(Command::Record(true));
        b.to(4 * BAR + 10);
        b.command(Command::Record(false));
    });
    assert_eq!(lanes(&b)[0].1, [(0, 90)]);
}

#[test]
fn a_take_starts_where_a_controller_was_though_it_moves_on_in_it() {
    let b = however_often(song(1, 1), |b| {
        b.command(Command::Play);
        b.change(100, WHEEL, 40);
        b.to(6 * BAR);
        b.command(Command::Record(true));
        b.change(6 * BAR + 1000, WHEEL, 0);
        b.to(7 * BAR + 10);
        b.command(Command::Record(false));
    });
    let wheel: Vec<_> = lanes(&b).into_iter().map(|(_, moves)| moves).collect();
    assert_eq!(wheel, [vec![(0, 40)], vec![(1000, 0)]]);
}

#[test]
fn a_wheel_that_moves_on_after_its_seam_is_performed_is_given_back_at_the_seam() {
    let b = however_often(song(1, 1), |b| {
        b.command(Command::Record(true));
        b.change(3432, WHEEL, 1);
        b.change(BAR + 410, WHEEL, 1);
        b.to(BAR + 500);
        b.command(Command::Record(false));
        // The look-ahead is 100 ms: 192 ticks at 120.
        b.change(2 * BAR - 150, WHEEL, 2);
        b.to(2 * BAR + 100);
    });
    // The gesture of the first round goes on over the seam.
    assert_eq!(moves(&b, WHEEL), [(BAR, 0), (2 * BAR, 1)]);
}

#[test]
fn a_gesture_that_began_before_its_take_ends_where_its_pass_says() {
    let b = however_often(song(1, 1), |b| {
        b.command(Command::Play);
        b.change(3 * BAR + 2667, WHEEL, 1);
        b.to(4 * BAR + 1200);
        b.command(Command::Record(true));
        b.press(4 * BAR + 1800, 58);
        b.lift(4 * BAR + 1900, 58);
        // A bar after it was moved.
        b.to(4 * BAR + 2800);
        b.command(Command::Stop);
    });
    assert_eq!(lanes(&b), [((1200, BAR), vec![(1200, 1)])]);
}

#[test]
fn a_pedal_that_has_stood_still_up_is_not_lifted_at_the_stop() {
    let b = however_often(song(2, 1), |b| {
        b.command(Command::Record(true));
        // From 64 up it is down: MIDI 1.0, "Controller Numbers".
        b.change(100, SUSTAIN, 127);
        b.change(300, SUSTAIN, 40);
        b.to(BAR + 301);
        b.command(Command::Stop);
    });
    assert_eq!(lanes(&b), [((100, BAR + 300), vec![(100, 127), (300, 40)])]);
}

/// A song of two sections, in the first of which the second track has the wheel at rest; both tracks
/// play on one channel.
fn wheel_at_rest() -> Song {
    let mut song = song(1, 2);
    for track in &mut song.tracks {
        Arc::make_mut(track).channel = Some(Channel::default());
    }
    let b = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(b));
    let mut pass = Pass::empty(PassId(10), TrackId(2), Tick(960));
    pass.notes_mut().lanes.push(Lane {
        channel: Channel::default(),
        control: Control::Change(U7::low_bits(WHEEL)),
        span: Span::new(Tick::ZERO, Tick(1)),
        points: vec![Point::step(Tick::ZERO, U7::MIN.into())],
    });
    Edit::lay(Letter::A, 0, Arc::new(pass)).apply(&mut song).unwrap();
    song
}

#[test]
fn tracks_that_share_a_wheel_send_its_rest_once() {
    let b = however_often(wheel_at_rest(), |b| {
        b.command(Command::Play);
        b.change(4333, WHEEL, 1);
        b.to(6280);
        b.command(Command::Jump("B".parse().unwrap(), When::Seam));
        // The seam is performed already.
        b.to(7488);
        b.command(Command::Record(true));
        b.to(8995);
        b.command(Command::Mode(Mode::Punch));
        b.press(3 * BAR + 1, 58);
        b.lift(3 * BAR + 1, 58);
        b.command(Command::Stop);
    });
    assert_eq!(moves(&b, WHEEL), [(0, 0), (2 * BAR, 0)]);
}

#[test]
fn a_gesture_that_goes_on_is_known_before_its_repeat_is_performed() {
    // It moves on just before the seam at which its pass would have left it.
    for before in [200, 220, 250, 280, 308, 340, 380] {
        let b = however_often(song(1, 1), |b| {
            b.command(Command::Play);
            b.to(1642);
            b.command(Command::Record(true));
            b.press(3290, 58);
            b.change(6147, SUSTAIN, 127);
            b.to(6804);
            b.command(Command::Record(false));
            b.change(7488, SUSTAIN, 40);
            b.change(3 * BAR - before, SUSTAIN, 0);
            b.to(4 * BAR);
        });
        // At the seam it stays where it was, until the gesture begins again.
        let all = moves(&b, SUSTAIN);
        let heard = [(9987, 127), (11328, 40), (13827, 127), (15168, 40)];
        assert_eq!(all, heard, "{before} ticks before");
    }
}
