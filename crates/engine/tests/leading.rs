//! What a device that follows this transport gets: pulses, Start, Stop, Continue, Song Position.
//!
//! The facts are from the MIDI 1.0 Detailed Specification, "System Real Time" and "Song Position
//! Pointer": 24 pulses to the quarter; after Start the first pulse is beat one, after Continue it is
//! the position that was kept; a song position counts in units of six pulses.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{
    Action, Click, Command, Config, Engine, Message, Order, PortIx, Route, Transport, When,
};
use chaconne_song::{
    Channel, Commit, Control, Edit, Lane, Letter, Note, NoteId, Pass, PassId, Point, Section,
    SectionEdit, Song, Stroke, TrackId, U7, U14,
};
use chaconne_time::{
    Metre, MetreMap, Place, Span, Tempo, TempoMap, TempoPoint, Tick, Timeline, pulse,
};
use std::sync::Arc;

const BAR: i64 = 3840;

/// What was sent from one message on: pulses as dots, the rest by name.
fn sent(bench: &Bench, from: usize) -> String {
    let words = bench.wire[from..].iter().map(|(_, message)| match message {
        Message::Clock => ".".to_string(),
        Message::SongPosition(position) => format!("[{}]", position.get()),
        Message::NoteOn { key, .. } => format!("+{key}"),
        Message::NoteOff { key, .. } => format!("-{key}"),
        Message::Change { controller, value, .. } => format!("c{controller}={value}"),
        other => format!("{other:?}"),
    });
    words.collect::<Vec<_>>().join(" ").replace(". ", ".")
}

/// A song with one pass on its first track: start, length and key of each note.
fn with_pass(bars: u32, length: i64, notes: &[(i64, i64, u8)], lanes: Vec<Lane>) -> Song {
    let mut song = song(bars, 1);
    let mut pass = Pass::empty(PassId(1), TrackId(1), Tick(length));
    for (id, &(start, length, key)) in notes.iter().enumerate() {
        let played = Stroke {
            start: Tick(start),
            length: Tick(length),
            key: U7::low_bits(key),
            velocity: U7::low_bits(100),
            release: U7::CENTRE,
        };
        let id = NoteId(id as u32 + 1);
        pass.notes_mut().notes.push(Note {
            id,
            channel: Channel::default(),
            played,
            placed: Default::default(),
        });
    }
    pass.notes_mut().lanes = lanes;
    song.lay(song.sections[0].letter, pass);
    song
}

fn lane(control: Control, from: i64, to: i64, points: &[(i64, u16)]) -> Lane {
    let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
    let span = Span::new(Tick(from), Tick(to));
    Lane { channel: Channel::default(), control, span, points: points.iter().map(point).collect() }
}

#[test]
fn start_comes_a_millisecond_before_the_first_pulse_and_pulses_before_notes() {
    let mut b = Bench::leading(with_pass(1, BAR, &[(0, 100, 60)], Vec::new()));
    b.command(Command::Play);
    b.to(85);
    assert_eq!(sent(&b, 0), "Start .+60 ..");
    // At 120 a tick is 0.52 ms: two of them are 1.04 ms.
    let ticks: Vec<i64> = b.wire.iter().map(|(at, _)| at.0).collect();
    assert_eq!(ticks, [-2, 0, 0, 40, 80]);
}

#[test]
fn the_count_in_has_pulses_and_start_comes_at_its_end() {
    let mut b = Bench::leading(song(1, 1));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.to(2);
    let start = b.wire.iter().position(|(_, message)| *message == Message::Start).unwrap();
    let clocks = |wire: &[(Tick, Message)]| {
        let all = wire.iter().filter(|(_, message)| *message == Message::Clock);
        all.map(|(at, _)| at.0).collect::<Vec<_>>()
    };
    let before: Vec<i64> = (-96..0).map(|k| k * 40).collect();
    assert_eq!(clocks(&b.wire[..start]), before);
    assert_eq!(clocks(&b.wire[start..]), [0]);
    assert_eq!(b.wire[start].0, Tick(-2));
}

#[test]
fn stop_is_sent_at_once_and_nothing_after_it() {
    let mut b = Bench::leading(with_pass(1, BAR, &[(0, 900, 60)], Vec::new()));
    b.command(Command::Play);
    b.to(100);
    b.command(Command::Stop);
    b.run_to(b.now + 500 * MS);
    assert_eq!(sent(&b, 0), "Start .+60 ..-60 Stop");
}

#[test]
fn locate_sends_the_position_and_continue_sends_it_again_and_plays_from_there() {
    let mut b = Bench::leading(with_pass(2, 2 * BAR, &[(0, 100, 60), (BAR, 100, 62)], Vec::new()));
    // Bar 2 of 4/4 is sixteenth 16: F2 10 00.
    assert!(b.command(Command::Locate(Tick(BAR + 239))));
    let status = b.engine.status(b.now);
    assert_eq!((status.at, status.in_section), (Tick(BAR), Tick(BAR)));
    assert_eq!(status.place, Place { bar: 2, beat: 1, tick: 0 });
    assert_eq!(sent(&b, 0), "[16]");
    b.command(Command::Continue);
    b.to(BAR + 45);
    assert_eq!(sent(&b, 0), "[16] [16] Continue .+62 .");
    assert_eq!(b.wire[2].0, Tick(BAR - 2));
    assert_eq!(b.wire[3].0, Tick(BAR));
    // And from the top again: Start, no position.
    b.command(Command::Stop);
    let from = b.wire.len();
    b.command(Command::Play);
    b.to(5);
    assert_eq!(sent(&b, from), "Start .+60");
}

#[test]
fn a_stop_keeps_the_sixteenth_and_the_round() {
    // A pass of two rounds plays on from its second round.
    let mut b =
        Bench::leading(with_pass(1, 2 * BAR, &[(0, 9, 60), (BAR + 960, 9, 62)], Vec::new()));
    b.command(Command::Play);
    b.to(BAR + 700);
    b.command(Command::Stop);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.at), (Transport::Stopped, Tick(BAR + 480)));
    assert_eq!((status.round, status.in_section), (1, Tick(480)));
    let from = b.wire.len();
    b.command(Command::Continue);
    b.to(BAR + 970);
    // (3840 + 480) / 240 = 18; then pulses to 960 = 24 * 40.
    let pulses = ".".repeat(13);
    assert_eq!(sent(&b, from), format!("[18] Continue {pulses}+62 -62"));
}

#[test]
fn a_position_is_refused_while_it_rolls_and_kept_inside_the_section() {
    let mut b = Bench::leading(song(2, 1));
    b.command(Command::Play);
    b.to(10);
    assert!(!b.command(Command::Locate(Tick(960))));
    assert!(b.engine.status(b.now).said.1.contains("stop it first"));
    // While rolling, Continue does nothing, like Play.
    assert!(b.command(Command::Continue));
    b.command(Command::Stop);
    for (asked, taken) in [(-5, 0), (0, 0), (241, 240), (2 * BAR, 2 * BAR - 240), (1 << 50, 7440)] {
        assert!(b.command(Command::Locate(Tick(asked))));
        assert_eq!(b.engine.status(b.now).at, Tick(taken), "{asked}");
    }
    // Continue from the top sends a position too.
    b.command(Command::Locate(Tick(0)));
    let from = b.wire.len();
    b.command(Command::Continue);
    b.to(5);
    assert_eq!(sent(&b, from), "[0] Continue .");
}

#[test]
fn a_position_is_rounded_down_to_a_sixteenth() {
    // Bars of 5/32 are 600 ticks: bar 2 lies between sixteenths 2 and 3.
    let metre = MetreMap::new(4, Metre::new(5, 32).unwrap()).unwrap();
    let mut b = Bench::leading(Song::new("t", Section::new(Letter::A, metre, Tempo::DEFAULT)));
    b.command(Command::Locate(Tick(600)));
    assert_eq!(sent(&b, 0), "[2]");
    assert_eq!(b.engine.status(b.now).in_section, Tick(480));
}

#[test]
fn a_position_too_large_to_send_is_reduced_by_whole_rounds() {
    // 16383 sixteenths are 1023 bars of four quarters and 15 sixteenths (MIDI 1.0, "Song Position
    // Pointer": 14 bits).
    let go = |bars: u32, metre: Metre, to: i64| {
        let metre = MetreMap::new(bars, metre).unwrap();
        let song = Song::new("t", Section::new(Letter::A, metre, Tempo::FASTEST));
        let mut b = Bench::leading(song);
        b.step = 50 * MS;
        b.command(Command::Play);
        b.to(to);
        b.command(Command::Stop);
        let from = b.wire.len();
        b.command(Command::Continue);
        sent(&b, from).split(' ').next().unwrap().to_string()
    };
    let last = 16383 * 240;
    assert_eq!(go(4, Metre::common(), last), "[16383]");
    assert_eq!(go(4, Metre::common(), last + 240), "[16320]");
    // 5/32: two bars of 600 ticks make whole sixteenths.
    assert_eq!(go(1, Metre::new(5, 32).unwrap(), last + 240), "[16379]");
}

#[test]
fn a_start_in_mid_section_sends_the_controllers_and_programs_in_force_there() {
    let wheel = Control::Change(U7::low_bits(1));
    let bright = Control::Change(U7::low_bits(74));
    let lanes = vec![
        lane(wheel, 0, 7680, &[(0, 10), (1000, 50), (5000, 90)]),
        // Left at 33 when its lane ends in bar 1, and not moved since.
        lane(bright, 100, 900, &[(100, 20), (800, 33)]),
        lane(Control::SUSTAIN, 1000, 4801, &[(1000, 127), (4800, 0)]),
        lane(Control::Program, 0, 7680, &[(0, 4), (2000, 7)]),
    ];
    // The long note began before, so it is not struck. The pedal is down.
    let song = with_pass(2, 2 * BAR, &[(0, 6000, 60), (BAR, 100, 62)], lanes);
    let mut b = Bench::leading(song);
    b.command(Command::Locate(Tick(BAR)));
    b.command(Command::Continue);
    b.to(5010);
    let program = "Program { channel: Channel(0), program: U7(7) }";
    let pulses = ".".repeat(22);
    assert_eq!(
        sent(&b, 0),
        format!(
            "[16] [16] Continue .{program} c1=50 c64=127 c74=33 +62 ..-62 {pulses}c64=0 .....c1=90"
        )
    );
}

#[test]
fn changing_the_bars_or_the_section_while_stopped_resets_the_position() {
    let mut b = Bench::leading(song(2, 1));
    b.command(Command::Locate(Tick(960)));
    let metre = MetreMap::new(3, Metre::common()).unwrap();
    assert!(
        b.command(Command::Edit(Commit::of(Edit::Section(Letter::A, SectionEdit::Metre(metre)))))
    );
    assert_eq!(b.engine.status(b.now).at, Tick::ZERO);
    b.command(Command::Locate(Tick(960)));
    b.command(Command::Jump(Letter::A, When::Seam));
    assert_eq!(b.engine.status(b.now).at, Tick::ZERO);
}

#[test]
fn a_start_is_ordered_with_its_musical_time() {
    // 120 in bar 1, 60 in bar 2: two seconds and four (ms a quarter = 60000 / BPM).
    let bpm = |text: &str| Tempo::parse_bpm(text).unwrap();
    let points = vec![
        TempoPoint { at: Tick(0), tempi: vec![bpm("120")] },
        TempoPoint { at: Tick(BAR), tempi: vec![bpm("60")] },
    ];
    let mut song = song(2, 1);
    Arc::make_mut(&mut song.sections[0]).tempo = TempoMap::with_points(points).unwrap();
    let mut engine = Engine::new(Arc::new(song), Config::default());
    let mut rolls = |commands: &[Command], poll: i64| {
        for command in commands {
            engine.command(poll, command.clone()).unwrap();
        }
        let roll = engine.take_orders().find_map(|order| match order {
            Order::Roll { at, tempo, song, .. } => Some((at.0, tempo, song / MS)),
            _ => None,
        });
        engine.command(poll, Command::Stop).unwrap();
        roll.unwrap()
    };
    assert_eq!(rolls(&[Command::Play], 0), (0, bpm("120"), 0));
    assert_eq!(rolls(&[Command::Record(true)], 0), (-BAR, bpm("120"), -2000));
    let here = [Command::Locate(Tick(BAR + 960)), Command::Continue];
    assert_eq!(rolls(&here, 0), (BAR + 960, bpm("60"), 3000));
    let top = [Command::Locate(Tick(0)), Command::Continue];
    assert_eq!(rolls(&top, 0), (0, bpm("120"), 0));
}

/// The tick and the moment of each pulse of two rounds.
fn pulses(song: &Song) -> Vec<(Tick, i64)> {
    let config = Config { clock_ports: vec![PortIx(0)], ..Config::default() };
    let step = config.lookahead;
    let mut engine = Engine::new(Arc::new(song.clone()), config);
    engine.command(0, Command::Click(Click::CountIn)).unwrap();
    engine.command(0, Command::PlayRoute(Route::rounds(song, Letter::A, 2).unwrap())).unwrap();
    let (mut now, mut line, mut pulses) = (0, None, Vec::new());
    while engine.status(now).transport != Transport::Stopped {
        engine.poll(now);
        for order in engine.take_orders() {
            match order {
                Order::Roll { at, ns, tempo, .. } => line = Some(Timeline::new(at, ns, tempo)),
                Order::Tempo { at, tempo } => line.as_mut().unwrap().push(at, tempo),
                Order::Play(cue) if cue.action == Action::Send(Message::Clock) => {
                    pulses.push(cue.at);
                }
                _ => {}
            }
        }
        now += step;
    }
    let line = line.unwrap();
    pulses.into_iter().map(|at| (at, line.ns_at(at))).collect()
}

#[test]
fn pulses_do_not_drift_in_any_metre_or_tempo() {
    // MIDI 1.0: 24 pulses to the quarter. So a bar of n/d has 96 n / d pulses, and each lasts a 24th of
    // a quarter at its tempo.
    let tempi = ["20", "93.7", "300", "120", "61.803", "174", "240", "45"];
    let mut turn = 0;
    for unit in [1u8, 2, 4, 8, 16, 32] {
        for count in (1..=64).filter(|&count| count <= 12 || count % 7 == 0 || count == 64) {
            let bar = Metre::new(count, unit).unwrap();
            let many = i64::from(count) * 96 / i64::from(unit);
            let mut next = || {
                turn += 1;
                Tempo::parse_bpm(tempi[turn % tempi.len()]).unwrap()
            };
            // A change at every third of the bar, and a ramp of one tempo a pulse at the end.
            let points: Vec<TempoPoint> = [0, many / 3, many * 2 / 3]
                .into_iter()
                .enumerate()
                .filter(|&(index, at)| index == 0 || at > (index as i64 - 1) * many / 3)
                .map(|(index, at)| {
                    let ramp = if index == 2 { (many - at).min(4) } else { 1 };
                    let tempi = (0..ramp.max(1)).map(|_| next()).collect();
                    TempoPoint { at: pulse::tick_of(at), tempi }
                })
                .collect();
            let map = TempoMap::with_points(points).unwrap();
            let metre = MetreMap::new(1, bar).unwrap();
            let mut section = Section::new(Letter::A, metre, Tempo::DEFAULT);
            section.tempo = map.clone();
            let pulses = pulses(&Song::new("t", section));
            assert_eq!(pulses.len() as i64, 2 * many, "{count}/{unit}");
            // The sum of all pulses before, in 24ths of a nanosecond: exact.
            let (start, mut exact) = (pulses[0].1, 0i128);
            for (k, &(at, ns)) in pulses.iter().enumerate() {
                assert_eq!(at, pulse::tick_of(k as i64));
                let off = exact - i128::from(ns - start) * 24;
                assert!((0..24).contains(&off), "{count}/{unit}, pulse {k}: {off}");
                let inside = pulse::tick_of(k as i64 % many);
                exact += i128::from(map.at(inside).micros()) * 1000;
            }
        }
    }
}

#[test]
fn an_engine_that_performs_earlier_orders_further_ahead_and_nothing_twice() {
    // At 120 there is a pulse every 500 / 24 ms, beginning 5 ms after the command (the default lead).
    const PULSE: i64 = 500_000_000 / 24;
    let config = Config { clock_ports: vec![PortIx(0)], ..Config::default() };
    let mut engine = Engine::new(Arc::new(song(1, 1)), config);
    engine.command(0, Command::Play).unwrap();
    let mut pulses = Vec::new();
    let mut poll = |engine: &mut Engine, now| {
        engine.poll(now);
        pulses.extend(engine.take_orders().filter_map(|order| match order {
            Order::Play(cue) if cue.action == Action::Send(Message::Clock) => Some(cue.at),
            _ => None,
        }));
        pulses.len() as i64
    };
    let within = |ahead: i64| (ahead - 5 * MS) / PULSE + 1;
    assert_eq!(poll(&mut engine, 0), within(100 * MS));
    engine.perform_earlier(80 * MS);
    assert_eq!(poll(&mut engine, 0), within(180 * MS));
    engine.perform_earlier(-80 * MS);
    assert_eq!(poll(&mut engine, 40 * MS), within(180 * MS));
    assert_eq!(poll(&mut engine, 200 * MS), within(300 * MS));
    // The next start is later by the same amount.
    engine.perform_earlier(80 * MS);
    engine.command(300 * MS, Command::Stop).unwrap();
    engine.take_orders().for_each(drop);
    engine.command(300 * MS, Command::Play).unwrap();
    let roll = engine.take_orders().find_map(|order| match order {
        Order::Roll { ns, .. } => Some(ns),
        _ => None,
    });
    assert_eq!(roll, Some(385 * MS));
    assert!(pulses.is_sorted() && pulses.windows(2).all(|pair| pair[1] - pair[0] == Tick(40)));
}

#[test]
fn a_route_can_be_played_from_any_position_and_stops_at_its_end() {
    let mut b = Bench::leading(song(2, 1));
    let route = chaconne_engine::Route::rounds(b.engine.song(), Letter::A, 2).unwrap();
    for outside in [Tick(-1), Tick(4 * 3840)] {
        assert!(!b.command(Command::PlayFrom(route.clone(), outside)));
    }
    let from = b.wire.len();
    // Bar 2 of the second round: three bars are 48 sixteenths.
    assert!(b.command(Command::PlayFrom(route, Tick(3 * 3840 + 30))));
    b.run_to(b.now + 10_000 * MS);
    let sent: Vec<&Message> = b.wire[from..].iter().map(|(_, message)| message).collect();
    let place = chaconne_song::U14::new(48).unwrap();
    assert_eq!(sent[..3], [&Message::SongPosition(place), &Message::Continue, &Message::Clock]);
    assert_eq!(sent.iter().filter(|&&message| *message == Message::Clock).count(), 96);
    assert_eq!((sent.last(), b.engine.tick_at(b.now)), (Some(&&Message::Stop), None));
}

#[test]
fn a_position_is_reduced_by_as_many_rounds_as_needed_if_its_section_has_them() {
    let last = 16383 * 240;
    let sent_from = |song: Song, route: Route, at: i64| {
        let mut b = Bench::leading(song);
        assert!(b.command(Command::PlayFrom(route, Tick(at))));
        sent(&b, 0).split(' ').next().unwrap().to_string()
    };
    let loops = |at: i64| {
        let route = Route::rounds(&song(1, 1), Letter::A, 2000).unwrap();
        sent_from(song(1, 1), route, at)
    };
    // A bar is 16 sixteenths.
    assert_eq!(loops(last + 3 * BAR), "[16383]");
    assert_eq!(loops(last + 3 * BAR + 240), "[16368]");
    assert_eq!(loops(last + 500 * BAR - 240), "[16382]");
    // B is entered after so long that a position in it cannot be sent at all.
    let b: Letter = "B".parse().unwrap();
    let mut long = song(999, 1);
    let bar = MetreMap::new(1, Metre::common()).unwrap();
    long.sections.push(Arc::new(Section::new(b, bar, Tempo::DEFAULT)));
    let route = Route::of(&long, &[Letter::A, Letter::A, b, b, b]).unwrap();
    assert_eq!(sent_from(long, route, 2 * 999 * BAR + BAR + 960), "[16383]");
}
