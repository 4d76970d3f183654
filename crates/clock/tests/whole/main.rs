//! The engine and the scheduler together, on one virtual clock.
//!
//! What goes over the wire must be, byte for byte and nanosecond for nanosecond, what an export of
//! the same song along the same route says: `perform` says what, the walker says when.

mod deeds;
mod expected;
mod judge;
mod songs;
mod stand;

use chaconne_engine::{Click, Command, PortIx, Route};
use chaconne_song::Song;
use chaconne_time::{Ns, Span, Tick};
use deeds::{Deed, act, deed};
use judge::{Cause, Judge};
use proptest::prelude::*;
use songs::letter;
use stand::{CLICK, Line, MS, Stand, config};

/// Plays a route from a tick of it to its end. Gives the moment at which it started.
fn play(stand: &mut Stand, route: &Route, from: Tick) -> Ns {
    stand.command(Command::CountIn(0));
    stand.command(Command::Click(Click::Always));
    stand.paper.lines.clear();
    let start = stand.now + config(0).lead;
    let command = match from {
        Tick::ZERO => Command::PlayRoute(route.clone()),
        from => Command::PlayFrom(route.clone(), from),
    };
    assert!(stand.command(command));
    while stand.engine.tick_at(stand.now).is_some() {
        stand.run_to(stand.now + 300 * MS);
    }
    start
}

/// The lines of a port before the run's end that a status byte's kind picks.
fn of_port(lines: &[Line], port: PortIx, end: Ns, wanted: impl Fn(u8) -> bool) -> Vec<Line> {
    let lines = lines.iter().filter(|line| line.port == port && line.ns < end);
    lines.filter(|line| wanted(line.bytes[0])).cloned().collect()
}

fn check_a_run(song: &Song, route: &Route, from: Tick, step: Ns, grace: Ns) {
    let mut stand = Stand::new(song.clone(), step, grace);
    let ns = play(&mut stand, route, from);
    let span = Span::new(from, route.span().to);
    let line = expected::timeline(song, route, from, ns);
    let end = line.ns_at(span.to);
    let lines = std::mem::take(&mut stand.paper.lines);
    let said = expected::song_lines(song, route, from, &line, config(grace).set_up);
    for port in [PortIx(0), PortIx(1)] {
        let of_song = |status: u8| status < 0xF8 && status != 0xF2;
        let heard = of_port(&lines, port, end, of_song);
        let said: Vec<Line> = said.iter().filter(|line| line.port == port).cloned().collect();
        let differs = std::iter::zip(&heard, &said).position(|(heard, said)| heard != said);
        let near = |lines: &[Line]| -> Vec<Line> {
            let from = differs.unwrap_or(heard.len().min(said.len())).saturating_sub(2);
            lines.iter().skip(from).take(6).cloned().collect()
        };
        assert!(heard == said, "port {port:?} heard {:#?}\nsaid {:#?}", near(&heard), near(&said));
    }
    let pulses = of_port(&lines, PortIx(0), end, |status| status == 0xF8);
    let pulses: Vec<Ns> = pulses.iter().map(|line| line.ns).collect();
    assert_eq!(pulses, expected::pulses(&line, span));
    let clicks = of_port(&lines, CLICK, end, |status| status & 0xF0 == 0x90);
    let accent = config(0).click.accent.get();
    let clicks: Vec<_> = clicks.iter().map(|line| (line.ns, line.bytes[1] == accent)).collect();
    assert_eq!(clicks, expected::clicks(song, route, &line, span));
    stand.end();
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_route_is_heard_as_it_is_exported(
        song in songs::song(),
        form in prop::collection::vec(0usize..3, 1..6),
        step in 1i64..50,
        grace in prop_oneof![Just(0i64), 1i64..60],
    ) {
        let letters: Vec<_> = form.into_iter().map(letter).collect();
        let route = Route::of(&song, &letters).unwrap();
        check_a_run(&song, &route, Tick::ZERO, step * MS, grace * MS);
    }

    #[test]
    fn a_route_begun_in_the_middle_is_heard_as_it_is_exported_from_there(
        song in songs::song(),
        form in prop::collection::vec(0usize..3, 1..6),
        sixteenth in 1i64..60,
        step in 1i64..50,
    ) {
        let letters: Vec<_> = form.into_iter().map(letter).collect();
        let route = Route::of(&song, &letters).unwrap();
        let from = Tick((240 * sixteenth) % route.span().to.0).max(Tick(240));
        check_a_run(&song, &route, from, step * MS, 0);
    }
}

#[test]
fn a_loop_of_an_hour_does_not_drift() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let tree = songs::song().new_tree(&mut runner).unwrap();
    let song = proptest::strategy::ValueTree::current(&tree);
    let once = song.sections[0].length();
    let rounds = 7_200_000 / once.0 as u32;
    let route = Route::rounds(&song, letter(0), rounds).unwrap();
    check_a_run(&song, &route, Tick::ZERO, 50 * MS, 0);
}

/// A player does these deeds, each so many milliseconds after the one before.
fn play_script(song: Song, script: &[(u16, Deed)], step: Ns, grace: Ns) -> Judge {
    let mut stand = Stand::new(song, step, grace);
    let mut judge = Judge::new(&stand);
    for command in [Command::Click(Click::CountIn), Command::CountIn(0), Command::Play] {
        stand.command(command);
    }
    judge.look(&mut stand, None, Cause::Plain);
    for (wait, deed) in script {
        let to = stand.now + i64::from(*wait) * MS;
        wait_for(&mut stand, &mut judge, to);
        // Not in the few milliseconds between a start and its first tick.
        while stand.engine.tick_at(stand.now).is_some_and(|at| at <= judge.run_start) {
            let to = stand.now + MS;
            wait_for(&mut stand, &mut judge, to);
        }
        act(&mut stand, &mut judge, deed);
    }
    judge.read(&mut stand);
    let tick = stand.engine.tick_at(stand.now);
    stand.command(Command::Stop);
    judge.look(&mut stand, tick, Cause::Plain);
    stand.end();
    judge
}

/// Lets time pass; the judge looks after each poll.
fn wait_for(stand: &mut Stand, judge: &mut Judge, to: Ns) {
    stand.run_watched(to, |stand| {
        let tick = stand.engine.tick_at(stand.now);
        judge.look(stand, tick, Cause::Plain);
    });
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, max_shrink_iters: 400, rng_seed: proptest::test_runner::RngSeed::Fixed(7), ..ProptestConfig::default() })]

    #[test]
    fn after_each_change_what_sounds_is_what_perform_says(
        song in songs::song(),
        script in prop::collection::vec((0u16..1500, deed()), 1..40),
        step in 1i64..50,
    ) {
        play_script(song, &script, step * MS, 0);
    }
}
