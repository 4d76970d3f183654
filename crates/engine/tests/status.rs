//! The status: where the song is, and what comes next. And the positions that it stops and starts at.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Engine, Mode, Order, Route, Status, Transport, Turn, When};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, MetreMap, Place, Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

fn b() -> Letter {
    "B".parse().unwrap()
}

/// A song of two sections: A with one bar and B with so many.
fn two_sections(bars: u32) -> Song {
    let mut two = song(1, 1);
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    two.sections.push(Arc::new(Section::new(b(), metre, Tempo::DEFAULT)));
    two
}

fn status(bench: &Bench) -> Status {
    bench.engine.status(bench.now)
}

fn place(bar: u32, beat: u8, tick: u32) -> Place {
    Place { bar: i64::from(bar), beat, tick }
}

#[test]
fn a_position_is_told_in_the_section_and_in_the_round() {
    let mut bench = Bench::new(song(2, 1));
    bench.command(Command::CountIn(2));
    bench.command(Command::Record(true));
    for (tick, transport, where_, round) in [
        // In the count-in the bars count up from 1.
        (-2 * BAR + 5, Transport::CountingIn, place(1, 1, 5), 0),
        (-960, Transport::CountingIn, place(2, 4, 0), 0),
        (0, Transport::Rolling, place(1, 1, 0), 0),
        (BAR + 1000, Transport::Rolling, place(2, 2, 40), 0),
        (2 * BAR, Transport::Rolling, place(1, 1, 0), 1),
        (5 * BAR + 100, Transport::Rolling, place(2, 1, 100), 2),
    ] {
        bench.to(tick);
        let status = status(&bench);
        assert_eq!((status.at, status.transport), (Tick(tick), transport));
        let inside = if tick < 0 { tick } else { tick % (2 * BAR) };
        assert_eq!((status.place, status.in_section), (where_, Tick(inside)), "at {tick}");
        assert_eq!((status.round, status.along.is_some()), (round, tick >= 0), "at {tick}");
    }
}

#[test]
fn the_next_section_is_the_same_one_while_rounds_of_it_follow() {
    let song = two_sections(1);
    let order = [Letter::A, b(), b(), b(), Letter::A];
    let route = Route::of(&song, &order).unwrap();
    let mut bench = Bench::new(song);
    bench.command(Command::PlayRoute(route));
    for (round, &here) in order.iter().enumerate() {
        let number = round as i64;
        for tick in [number * BAR, number * BAR + 2000, (number + 1) * BAR - 10] {
            bench.to(tick);
            let status = status(&bench);
            let next = order.get(round + 1).copied();
            assert_eq!((status.section, status.next_section), (here, next), "at {tick}");
            assert_eq!(status.in_form, Some((number + 1, 5)), "at {tick}");
            assert_eq!(status.along.map(|along| along.round), Some(number + 1));
        }
    }
    bench.run_to(bench.now + 100 * MS);
    assert_eq!((status(&bench).transport, status(&bench).in_form), (Transport::Stopped, None));
}

#[test]
fn a_loop_has_no_next_section_and_no_rounds_until_a_jump_is_asked_for() {
    let mut bench = Bench::new(two_sections(1));
    bench.command(Command::CountIn(1));
    bench.command(Command::Record(true));
    for tick in [-500, 0, 1000, 3 * BAR + 2000] {
        bench.to(tick);
        assert_eq!((status(&bench).next_section, status(&bench).in_form), (None, None));
    }
    bench.command(Command::Jump(b(), When::Seam));
    assert_eq!(status(&bench).next_section, Some(b()));
    bench.to(4 * BAR);
    assert_eq!((status(&bench).section, status(&bench).next_section), (b(), None));
}

#[test]
fn a_stopped_route_tells_the_round_in_which_it_goes_on() {
    let song = two_sections(2);
    let route = Route::of(&song, &[Letter::A, b(), Letter::A]).unwrap();
    for (tick, at, round) in [(100, 0, None), (250, 240, Some((1, 3))), (BAR, BAR, Some((2, 3)))] {
        let mut bench = Bench::new(song.clone());
        bench.command(Command::PlayRoute(route.clone()));
        bench.to(tick);
        bench.command(Command::Stop);
        // A stop within the first sixteenth goes back to the top, which is in no route.
        assert_eq!((status(&bench).at, status(&bench).in_form), (Tick(at), round), "{tick}");
    }
}

#[test]
fn bars_are_counted_from_the_top_of_the_section_in_which_the_song_stopped() {
    let song = two_sections(3);
    let route = Route::of(&song, &[Letter::A, b()]).unwrap();
    for (bars, expected) in [(-1, BAR), (0, BAR), (1, 2 * BAR), (-2, 0)] {
        let mut bench = Bench::new(song.clone());
        bench.command(Command::PlayRoute(route.clone()));
        // Bar 2 of B, beat 2.
        bench.to(2 * BAR + 970);
        bench.command(Command::Stop);
        assert_eq!(status(&bench).in_section, Tick(BAR + 960));
        assert!(bench.command(Command::LocateBars(bars)));
        let status = status(&bench);
        assert_eq!((status.section, status.in_section), (b(), Tick(expected)), "{bars}");
    }
}

#[test]
fn a_step_goes_to_the_start_of_a_bar_even_if_the_position_lies_just_before_it() {
    let bars = |metre: &str| {
        let metre = MetreMap::new(4, metre.parse().unwrap()).unwrap();
        Bench::new(Song::new("t", Section::new(Letter::A, metre, Tempo::DEFAULT)))
    };
    let steps = |bench: &mut Bench, by: i32| {
        let mut step = || {
            assert!(bench.command(Command::LocateBars(by)));
            status(bench).at.0
        };
        [step(), step(), step(), step()]
    };
    // Bars of 600 ticks. Where it stops is rounded down to a sixteenth, 240 ticks: here to the bar before.
    let mut bench = bars("5/32");
    assert_eq!(steps(&mut bench, 1), [600, 1200, 1800, 1800]);
    assert_eq!(steps(&mut bench, -1), [1200, 600, 0, 0]);
    bench.command(Command::Play);
    bench.to(610);
    bench.command(Command::Stop);
    assert_eq!(status(&bench).at, Tick(480));
    assert_eq!(steps(&mut bench, 1), [1200, 1800, 1800, 1800]);
    let mut bench = bars("4/4");
    // A whole sixteenth before a bar is in the bar before.
    for (from, by, to) in [(3600, 1, BAR), (BAR + 240, -1, BAR), (BAR, -1, 0), (240, 2, 2 * BAR)] {
        bench.command(Command::Locate(Tick(from)));
        assert!(bench.command(Command::LocateBars(by)));
        assert_eq!(status(&bench).at, Tick(to), "from {from}");
    }
}

#[test]
fn a_route_can_be_played_from_its_first_tick_and_not_from_its_end() {
    let route = Route::rounds(&song(1, 1), Letter::A, 2).unwrap();
    for (at, plays) in [(-1, false), (0, true), (2 * BAR - 1, true), (2 * BAR, false)] {
        let mut bench = Bench::new(song(1, 1));
        assert_eq!(bench.command(Command::PlayFrom(route.clone(), Tick(at))), plays, "{at}");
        assert_eq!(bench.engine.tick_at(bench.now), plays.then_some(Tick(at / 240 * 240)));
    }
}

#[test]
fn a_start_and_a_continue_come_after_the_lead() {
    let config = Config { lead: 5 * MS, ..Config::default() };
    for command in [Command::Play, Command::Continue] {
        let mut engine = Engine::new(Arc::new(song(1, 1)), config.clone());
        engine.command(1000 * MS, command).unwrap();
        let roll = engine.take_orders().find_map(|order| match order {
            Order::Roll { ns, .. } => Some(ns),
            _ => None,
        });
        assert_eq!(roll, Some(1005 * MS));
    }
}

#[test]
fn an_unfinished_round_without_anything_in_it_is_not_offered_for_undo() {
    // A punch silences others even while nothing is played.
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Mode(Mode::Punch));
    bench.command(Command::Record(true));
    bench.to(500);
    bench.command(Command::Click(Default::default()));
    let open = status(&bench).unfinished.unwrap();
    assert!(open.notes().is_empty());
    assert_eq!(status(&bench).undo, None);
    bench.press(600, 60);
    bench.lift(700, 60);
    bench.command(Command::Click(Default::default()));
    assert_eq!(status(&bench).undo, Some(Turn::UnfinishedRound));
}
