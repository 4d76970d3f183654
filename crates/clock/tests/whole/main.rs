//! The engine and the scheduler together, on one virtual clock.
//!
//! They must send, byte for byte and nanosecond for nanosecond, what an export of the same song along
//! the same route contains: `perform` gives the events, the walker gives their times.

mod actions;
mod by_hand;
#[path = "../../../song/tests/common/mod.rs"]
mod common;
mod counted;
mod expected;
mod judge;
mod songs;
mod stand;
mod texts;

use actions::{
    FORMS, PlayerAction, act, act_judged, any_action, any_start, jump, key_change, start_elsewhere,
    waiting,
};
use chaconne_engine::{Click, Command, Mode, PortIx, Route};
use chaconne_song::Song;
use chaconne_time::{Ns, Span, Tick};
use judge::{Cause, Judge, Judged};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use songs::letter;
use stand::{CLICK, Line, MS, SECOND, Stand, config};

/// Plays a route from one of its ticks to its end. Returns the time at which it started.
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

/// The lines of a port before the run's end whose status byte is wanted.
fn of_port(lines: &[Line], port: PortIx, end: Ns, wanted: impl Fn(u8) -> bool) -> Vec<Line> {
    let lines = lines.iter().filter(|line| line.port == port && line.ns < end);
    let lines = lines.filter(|line| wanted(line.bytes[0]));
    lines.map(|line| Line { tick: None, ..line.clone() }).collect()
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
        mut song in songs::song(),
        form in prop_oneof![2 => "[ABC]( [ABC]){0,4}", 1 => prop::sample::select(&FORMS[..])
            .prop_map(String::from)],
        step in 1i64..50,
        grace in prop_oneof![Just(0i64), 1i64..60],
    ) {
        song.form = form.parse().unwrap();
        let route = Route::form(&song).unwrap();
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

/// An endless sequence of random values, the same in every run.
fn sequence<S: Strategy>(strategy: S) -> impl Iterator<Item = S::Value> {
    let mut runner = TestRunner::deterministic();
    std::iter::repeat_with(move || strategy.new_tree(&mut runner).unwrap().current())
}

#[test]
fn a_loop_of_an_hour_does_not_drift() {
    let song = sequence(songs::song()).next().unwrap();
    let once = song.sections[0].length();
    let route = Route::rounds(&song, letter(0), 7_200_000 / once.0 as u32).unwrap();
    check_a_run(&song, &route, Tick::ZERO, 50 * MS, 0);
}

/// A player at a stand, watched by the judge.
struct Session {
    stand: Stand,
    judge: Judge,
}

impl Session {
    /// A session that rolls from the top of the first section.
    fn new(song: Song, step: Ns) -> Session {
        let mut stand = Stand::new(song, step, 0);
        let mut judge = Judge::new(&stand);
        for command in [Command::Click(Click::CountIn), Command::CountIn(0), Command::Play] {
            stand.command(command);
        }
        judge.look(&mut stand, None, Cause::Plain);
        Session { stand, judge }
    }

    /// Lets time pass; the judge checks after each poll.
    fn wait(&mut self, ns: Ns) {
        let Session { stand, judge } = self;
        stand.run_watched(stand.now + ns, |stand| {
            let tick = stand.engine.tick_at(stand.now);
            judge.look(stand, tick, Cause::Plain);
        });
    }

    /// Lets time pass until the transport is at or just past a tick.
    fn wait_for(&mut self, tick: Tick) {
        while self.stand.engine.tick_at(self.stand.now).unwrap() < tick {
            self.wait(MS);
        }
    }

    fn act(&mut self, action: &PlayerAction) {
        act_judged(&mut self.stand, &mut self.judge, action);
    }

    /// Stops, checks that nothing is still sounding, and returns how much was judged.
    fn end(mut self) -> Judged {
        act_judged(&mut self.stand, &mut self.judge, &PlayerAction::Stop);
        self.stand.end();
        self.judge.judged
    }
}

/// What a player does, starts elsewhere than at the top among it, and how many milliseconds before each.
fn script() -> impl Strategy<Value = Vec<(i64, PlayerAction)>> {
    let actions = prop_oneof![
        16 => any_action().prop_map(|action| vec![action]),
        2 => any_start().prop_map(|action| vec![action]),
        1 => start_elsewhere(),
        3 => key_change().prop_map(|action| vec![action]),
    ];
    let script = prop::collection::vec((0i64..1500, actions), 1..40);
    script.prop_map(|script| {
        let spread = |(wait, actions): (i64, Vec<PlayerAction>)| {
            std::iter::once(wait).chain(std::iter::repeat(7)).zip(actions)
        };
        script.into_iter().flat_map(spread).collect()
    })
}

fn play_script(song: Song, script: &[(i64, PlayerAction)], step: Ns) -> Judged {
    let mut session = Session::new(song, step);
    for (wait, action) in script {
        session.wait(wait * MS);
        session.act(action);
    }
    session.end()
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 256,
        failure_persistence: None,
        max_shrink_iters: 400,
        ..ProptestConfig::default()
    })]

    #[test]
    fn after_each_change_the_output_matches_perform(
        song in songs::song(),
        script in script(),
        step in 1i64..50,
    ) {
        play_script(song, &script, step * MS);
    }

    #[test]
    fn where_the_time_waits_the_output_matches_perform(
        song in songs::song(),
        script in script_with_waits(),
        step in 1i64..50,
    ) {
        play_script(song, &script, step * MS);
    }

    #[test]
    fn nothing_hangs_if_inputs_arrive_late(
        song in songs::song(),
        script in prop::collection::vec(
            (0i64..1500, prop_oneof![6 => any_action(), 1 => any_start()]),
            1..40,
        ),
        step in 1i64..50,
        grace in 1i64..60,
    ) {
        play_unjudged(Stand::new(song, step * MS, grace * MS), &script);
    }
}

/// What a player does who changes the key again and again.
fn script_of_keys() -> impl Strategy<Value = Vec<(i64, PlayerAction)>> {
    let action = prop_oneof![2 => key_change(), 1 => any_action(), 1 => jump()];
    prop::collection::vec((0i64..1500, action), 1..60)
}

#[test]
fn where_keys_change_the_output_matches_perform_from_that_tick_on() {
    let played = sequence((songs::song(), script_of_keys(), 1i64..50)).take(300);
    let judged = played.map(|(song, script, step)| play_script(song, &script, step * MS));
    let (turns, presses) = judged
        .fold((0, 0), |(turns, presses), judged| (turns + judged.turns, presses + judged.presses));
    assert!(turns > 1000 && presses > 5000, "{turns} turns, {presses} presses");
}

/// Plays a script, and checks only that nothing sounds after it.
fn play_unjudged(mut stand: Stand, script: &[(i64, PlayerAction)]) {
    stand.command(Command::Play);
    let mut judge = Judge::new(&stand);
    for (wait, action) in script {
        stand.run_to(stand.now + wait * MS);
        act(&mut stand, &mut judge, action);
    }
    stand.end();
}

/// What a player does at a song with fermatas, led by hand now and then.
fn script_with_waits() -> impl Strategy<Value = Vec<(i64, PlayerAction)>> {
    let action = prop_oneof![2 => any_action(), 1 => waiting()];
    prop::collection::vec((0i64..1500, action), 1..60)
}

#[test]
fn nothing_hangs_where_the_time_waits_while_recording() {
    for (song, script, step) in sequence((songs::song(), script_with_waits(), 1i64..50)).take(300) {
        play_unjudged(Stand::new(song, step * MS, 0), &script);
    }
}

#[test]
fn starts_elsewhere_than_at_the_top_are_judged_too() {
    let played = sequence((songs::song(), script(), 1i64..50)).take(200);
    let elsewhere =
        played.map(|(song, script, step)| play_script(song, &script, step * MS).elsewhere);
    let elsewhere: u64 = elsewhere.sum();
    assert!(elsewhere > 300, "{elsewhere} presses");
}

#[test]
fn a_punch_that_goes_on_over_its_seam_matches_perform_if_it_is_stopped_just_after() {
    let song = sequence(songs::song()).next().unwrap();
    let length = song.sections[0].length();
    for step in 20..50 {
        // With most steps the engine is not polled between the seam and the stop.
        let mut session = Session::new(song.clone(), step * MS);
        session.act(&PlayerAction::Mode(Mode::Punch));
        session.act(&PlayerAction::Record(true));
        session.wait_for(length);
        session.act(&PlayerAction::Press(60));
        session.wait_for(length * 3 + Tick(10));
        session.end();
    }
}

#[test]
fn a_day_of_playing_and_editing_always_matches_perform_and_ends_in_silence() {
    let song = sequence(songs::song()).find(|song| song.passes.len() > 3).unwrap();
    let mut session = Session::new(song, 50 * MS);
    let end = session.stand.now + 24 * 3600 * SECOND;
    let mut starts = [PlayerAction::PlayForm, PlayerAction::Play].into_iter().cycle();
    for (wait, action) in sequence((0i64..12_000, any_action())) {
        if session.stand.now >= end {
            break;
        }
        session.wait(wait * MS);
        session.act(&action);
        while session.stand.engine.tick_at(session.stand.now).is_none() {
            session.act(&starts.next().unwrap());
        }
    }
    let judged = session.end();
    assert!(judged.eras > 5_000 && judged.presses > 40_000 && judged.moves > 1000, "{judged:?}");
}

/// Twenty-six songs are jumped in while they are edited, and their keys change; what sounds, where every controller is
/// after a jump, and the silence at the end are judged (`Judge::check_controllers`, `Stand::end`).
#[test]
fn ten_thousand_live_jumps_while_the_song_is_edited_match_perform_along_the_route_taken() {
    let songs = sequence(songs::song()).filter(|song| song.passes.len() > 3).take(26);
    let action = prop_oneof![12 => jump(), 4 => any_action(), 1 => key_change()];
    let mut deeds = sequence((0i64..700, action));
    let (mut jumps, mut checked, mut edited, mut controllers) = (0, 0, 0, 0);
    for song in songs {
        let mut session = Session::new(song, 20 * MS);
        for (wait, action) in deeds.by_ref().take(1400) {
            session.wait(wait * MS);
            session.act(&action);
            if session.stand.engine.tick_at(session.stand.now).is_none() {
                session.act(&PlayerAction::PlayForm);
                session.act(&PlayerAction::Play);
            }
        }
        edited += session.stand.engine.revision();
        let judged = session.end();
        jumps += judged.jumps;
        checked += judged.checked;
        controllers += judged.controllers;
    }
    let counts =
        format!("{jumps} jumps, {checked} checked, {controllers} controllers, {edited} edits");
    assert!(jumps > 10_000 && checked > 4000 && controllers > 12_000 && edited > 2000, "{counts}");
}
