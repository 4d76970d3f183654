//! Tapping the tempo while the loop plays: it is exact, and the music does not stumble.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Message, PortIx};
use chaconne_time::{Ns, Tempo, Tick};

const BAR: i64 = 3840;

/// A one-bar loop with four notes and with pulses. Its look-ahead is that of a rig with slow inputs.
fn looping() -> Bench {
    let clock_ports = vec![PortIx(0)];
    let config = Config { lead: 0, lookahead: 220 * MS, clock_ports, ..Config::default() };
    let mut b = Bench::with(song(1, 1), config);
    b.command(Command::Record(true));
    for beat in 0..4 {
        b.press(beat * 960 + 30, 60);
        b.lift(beat * 960 + 700, 60);
    }
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b
}

/// The tempo in the song.
fn tempo(b: &Bench) -> Tempo {
    b.engine.song().sections[0].tempo.first()
}

/// Lets time pass in steps of a millisecond, and checks that the position never goes back.
fn run_smoothly(b: &mut Bench, to: Ns) {
    let mut last = b.engine.tick_at(b.now);
    while b.now < to {
        b.run_to((b.now + MS).min(to));
        let at = b.engine.tick_at(b.now);
        assert!(at >= last, "{at:?} after {last:?}");
        last = at;
    }
}

/// Taps at intervals of `apart`; the engine hears of each tap `heard_later` than it was made. Checks
/// that no tap moves the position.
fn tap_at(b: &mut Bench, apart: Ns, heard_later: &[Ns]) {
    let start = b.now + 10 * MS;
    for (index, later) in heard_later.iter().enumerate() {
        let at = start + apart * index as Ns;
        run_smoothly(b, at + later);
        let before = b.engine.tick_at(b.now);
        assert!(b.tap(at));
        assert_eq!(b.engine.tick_at(b.now), before);
    }
}

#[test]
fn the_time_of_a_tap_counts_however_late_the_engine_hears_of_it() {
    let mut b = looping();
    tap_at(&mut b, 400 * MS, &[0, 90 * MS, 3 * MS, 100 * MS, 17 * MS]);
    assert_eq!(tempo(&b), Tempo::from_micros(400_000).unwrap());
    // After a pause of more than three seconds taps count from the beginning: one alone does nothing.
    let next = b.now + 3100 * MS;
    run_smoothly(&mut b, next);
    tap_at(&mut b, 600 * MS, &[5 * MS]);
    assert_eq!(tempo(&b), Tempo::from_micros(400_000).unwrap());
}

#[test]
fn the_mean_of_the_last_few_taps_counts() {
    let mut b = looping();
    // Four distances of 480, 520, 500 and 500 ms, and an older one that no longer counts.
    let mut at = b.now;
    for apart in [900, 480, 520, 500, 500] {
        b.run_to(at);
        b.tap(at);
        at += apart * MS;
    }
    b.run_to(at);
    b.tap(at);
    assert_eq!(tempo(&b), Tempo::from_micros(500_000).unwrap());
}

#[test]
fn tapping_the_tempo_keeps_notes_in_order_and_leaves_none_hanging() {
    for apart in [250, 431, 700, 1300] {
        let mut b = looping();
        let from = b.wire.len();
        tap_at(&mut b, apart * MS, &[100 * MS, 2 * MS, 40 * MS, 0, 60 * MS, 99 * MS]);
        let end = b.engine.tick_at(b.now).unwrap().0 + 2 * BAR;
        b.to(end);
        let wire = &b.wire[from..];
        assert!(wire.iter().map(|(at, _)| at).is_sorted(), "{apart}: out of order");
        let ticks = |of: fn(&Message) -> bool| -> Vec<Tick> {
            wire.iter().filter(|(_, message)| of(message)).map(|(at, _)| *at).collect()
        };
        // 24 pulses to the quarter (MIDI 1.0 Detailed Specification, "Timing Clock"): each once.
        let pulses = ticks(|message| *message == Message::Clock);
        assert!(pulses.len() > 96 && pulses.windows(2).all(|two| two[1] - two[0] == Tick(40)));
        // Every note of the loop is struck once, where it was played.
        let strikes = ticks(|message| matches!(message, Message::NoteOn { .. }));
        assert!(strikes.len() >= 8 && strikes.windows(2).all(|two| two[1] - two[0] == Tick(960)));
        assert!(strikes.iter().all(|at| at.0.rem_euclid(960) == 30));
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn the_status_reports_a_tapped_tempo() {
    let mut b = looping();
    let before = b.engine.status(b.now).said.0;
    let first = b.now;
    b.tap(first);
    let said = b.engine.status(b.now).said;
    let again = "tap again: two or more taps in time set the tempo";
    assert_eq!(said, (before + 1, again.to_string()));
    b.run_to(first + 600 * MS);
    b.tap(b.now);
    let said = b.engine.status(b.now).said;
    assert_eq!(said, (before + 2, "tapped tempo: 100".to_string()));
}

#[test]
fn taps_less_than_50_ms_apart_are_one() {
    let mut b = looping();
    let first = b.now;
    for (at, expected) in [
        (first, 120),
        (first, 120),
        (first + 49 * MS, 120),
        (first + 600 * MS, 100),
        (first + 601 * MS, 100),
        // The order in which two inputs deliver is no matter.
        (first + 590 * MS, 100),
        (first + 1200 * MS, 100),
    ] {
        b.run_to(at.max(b.now));
        assert!(b.tap(at));
        assert_eq!(tempo(&b), Tempo::from_micros(60_000_000 / expected).unwrap(), "{at}");
    }
}

/// 80.3 dotted quarters a minute, tapped in 6/8: a tap every 747.2 ms.
#[test]
fn taps_count_what_the_metre_counts_and_give_a_whole_number_unless_asked() {
    let mut song = song(2, 1);
    let metre: chaconne_time::Metre = "6/8".parse().unwrap();
    let metre = chaconne_time::MetreMap::new(2, metre.counted()).unwrap();
    std::sync::Arc::make_mut(&mut song.sections[0]).metre = metre;
    let mut b = Bench::new(song);
    assert!(!b.command(Command::TapExactly), "nothing has been tapped");
    let start = b.now;
    for tap in 0..4 {
        b.run_to(start + tap * 747_198_000);
        assert!(b.tap(b.now));
    }
    let dotted = chaconne_time::NoteValue::new(4, chaconne_time::NoteKind::Dotted).unwrap();
    let tempo = |b: &Bench| b.engine.status(b.now).tempo.in_beats(dotted);
    assert_eq!(tempo(&b), "80");
    assert!(b.command(Command::TapExactly));
    assert_eq!(tempo(&b), "80.3");
    assert_eq!(b.engine.status(b.now).said.1, "tapped tempo: 80.3");
}

/// The count-in of 6/8 clicks twice a bar where the tempo is given in dotted quarters.
#[test]
fn a_count_in_clicks_what_the_metre_counts() {
    for (counted, clicks) in [(false, 6), (true, 2)] {
        let mut song = song(1, 1);
        let metre: chaconne_time::Metre = "6/8".parse().unwrap();
        let metre = if counted { metre.counted() } else { metre };
        let map = chaconne_time::MetreMap::new(1, metre).unwrap();
        std::sync::Arc::make_mut(&mut song.sections[0]).metre = map;
        let route = chaconne_engine::Route::open(song.sections[0].letter);
        let walk = chaconne_engine::Walk::along(&song, &route);
        let beats = walk.beats(chaconne_time::Tick(-2880));
        let in_count = beats.take_while(|beat| beat.at.0 < 0);
        assert_eq!(in_count.count(), clicks);
    }
}

#[test]
fn taps_50_ms_apart_are_two() {
    for (apart, counts) in [(49 * MS, false), (50 * MS, true)] {
        let mut b = Bench::new(song(1, 1));
        let now = b.now;
        assert!(b.tap(now));
        // Two taps so close would be faster than any tempo.
        assert_eq!(!b.tap(now + apart), counts);
    }
}
