//! The view of ports and timing as pictures.

use super::*;
use crate::desk::{Direction, Health, Lateness, PortFacts, PortLine, PortState};

/// Lateness of so many messages at each of these, in microseconds.
fn late(counts: &[(u64, u64)]) -> Lateness {
    let mut late = Lateness::default();
    for &(us, count) in counts {
        late.bins[Lateness::bin(us * 1000)] += count;
        late.count += count;
        late.worst_ns = late.worst_ns.max(us * 1000);
    }
    (late.p50_ns, late.p99_ns) = (40_000, 420_000);
    late
}

/// Two outputs and two inputs, one of them lost, after three minutes.
fn stage() -> Stage {
    let mut song = four_parts();
    Arc::make_mut(&mut song.tracks[1]).port = "bells".into();
    let mut stage = Stage::new(song);
    let port = |name: &str, direction, state, detail: &str| {
        let (name, detail) = (name.to_string(), detail.to_string());
        PortLine { name, direction, state, detail }
    };
    stage.bench.ports = vec![
        port("sound", Direction::Out, PortState::Ok, ""),
        port("bells", Direction::Out, PortState::Slow, "3 dropped"),
        port("midi:Stage keys", Direction::In, PortState::Lost, "disconnected"),
        port("midi:Pads", Direction::In, PortState::Waiting, "nothing at the other end yet"),
    ];
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_string()).collect();
    let (sent, lost, carries) = (1432, 3, words(&["clock", "serial cable"]));
    let bells = PortFacts { called: "bells".into(), carries, sent, lost, late: 9, since: None };
    let clicked = PortFacts { sent: 20_517, carries: words(&["click"]), ..PortFacts::default() };
    let gone = PortFacts { since: Some(Duration::from_secs(12)), ..PortFacts::default() };
    let notes = [(0, 12), (3, 1800), (40, 6004), (150, 900), (420, 77), (1500, 6), (12_300, 3)];
    stage.bench.health = Health {
        ports: vec![clicked, bells, gone, PortFacts::default()],
        notes: late(&notes),
        pulses: late(&[(30, 8000), (700, 12)]),
        through: Lateness::default(),
        counted: Duration::from_secs(200),
        seconds: (0..200u64).map(|s| if s == 150 { 12_300_000 } else { s * 3500 }).collect(),
        priority: "real-time priority 70".into(),
    };
    stage.press([Key::new(Code::F(7))]);
    stage
}

#[test]
fn ports_and_timing_are_drawn_at_every_size() {
    let mut stage = stage();
    insta::assert_snapshot!("ports_80x24", stage.picture(80, 24));
    for (width, height) in [(40, 12), (60, 16), (120, 40), (200, 60)] {
        insta::assert_snapshot!(format!("ports_{width}x{height}"), stage.text(width, height));
    }
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    for (width, height) in [(80, 24), (140, 44)] {
        let text = stage.text(width, height);
        assert!(text.is_ascii(), "{text}");
        insta::assert_snapshot!(format!("ports_ascii_{width}x{height}"), text);
    }
}

#[test]
fn without_an_output_there_are_no_figures() {
    let mut stage = stage();
    stage.bench.timing = crate::Timing { p50_ns: 100_000, p99_ns: 900_000, ..Default::default() };
    for (state, shown) in [
        (PortState::Ok, true),
        (PortState::Stalled, true),
        (PortState::Waiting, false),
        (PortState::Lost, false),
        (PortState::None, false),
    ] {
        stage.bench.ports.truncate(1);
        stage.bench.ports[0].state = state;
        for (width, height) in [(40, 12), (80, 24), (140, 44)] {
            let text = stage.text(width, height);
            assert_eq!(text.contains("p50"), shown, "{state:?} {text}");
            assert_eq!(text.contains("No output is connected"), !shown, "{text}");
        }
        // The line of the ports on the other views has them in short.
        stage.press([Key::new(Code::F(2))]);
        assert_eq!(stage.text(80, 24).contains("p50 0.1, p99 0.9 ms late"), shown, "{state:?}");
        stage.bench.timing.late = 6;
        assert_eq!(stage.text(80, 24).contains("6 late"), shown, "{state:?}");
        stage.bench.timing.late = 0;
        stage.press([Key::new(Code::F(7))]);
    }
}

#[test]
fn many_ports_leave_room_for_the_figures() {
    let mut stage = stage();
    let out = stage.bench.ports[1].clone();
    for number in 1..=20 {
        let name = format!("rack {number}");
        stage.bench.health.ports.push(PortFacts { called: name.clone(), ..Default::default() });
        stage.bench.ports.push(PortLine { name, state: PortState::Ok, ..out.clone() });
    }
    let text = stage.text(80, 24);
    assert!(text.contains("+11 more") && text.contains("p50"), "{text}");
    // The port of the chosen track is always shown.
    let song = &mut stage.bench.engine.song().as_ref().clone();
    Arc::make_mut(&mut song.tracks[0]).port = "rack 20".into();
    stage.bench.engine = Engine::new(Arc::new(song.clone()), Config::default());
    stage.wait(10);
    for (width, height) in [(60, 16), (80, 24), (140, 44)] {
        let text = stage.text(width, height);
        assert!(text.contains("rack 20"), "{text}");
    }
}

#[test]
fn the_clock_that_is_followed_is_named() {
    let mut stage = stage();
    assert!(stage.text(120, 40).contains("clock: internal"));
    let follow = Some(Follow { name: "desk".into(), on_loss: OnLoss::Keep });
    let song = stage.bench.engine.song().clone();
    stage.bench.engine = Engine::new(song, Config { follow, ..Config::default() });
    stage.wait(10);
    assert!(stage.text(120, 40).contains("clock: internal, none from desk yet"));
}
