//! What comes in: its latency, taps, and how long a round waits for it.

use super::*;
use crate::rig::start::grace;

/// An input of the rig without a port: through-play goes elsewhere.
fn hearing(rig: &Rig, latency: Ns, thru: Thru) -> Hearing {
    thru.target().set(Some((chaconne_engine::PortIx(0), None)));
    Hearing {
        follows: false,
        source: 0,
        latency,
        taps: None,
        player: crate::fingering::Player::default(),
        thru,
        played: rig.keys.played.clone(),
        requests: rig.requests.clone(),
        shared: rig.shared.clone(),
    }
}

#[test]
fn an_input_is_recorded_earlier_by_its_latency_and_passed_on_at_once() {
    // Eight bars at 1000 are two seconds, and no round ends before the test does.
    let (rig, _port) = rig(&[("A", 8)], false);
    let (output, through) = Output::memory("through");
    let mut other = clock::start(vec![output], Setup::default()).unwrap();
    let latency = 12_345_678;
    let mut hearing = hearing(&rig, latency, other.thrus.remove(0));
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    let mut arrivals = Vec::new();
    for (tick, velocity) in [(961, 90), (1443, 0)] {
        let mut played = None;
        wait_for("a time for the tick", || {
            played = rig.keys.when(Tick(tick));
            played.is_some()
        });
        let arrival = played.unwrap() + latency;
        let (channel, key, velocity) = (Channel::default(), seven(60), seven(velocity));
        let message = match velocity {
            U7::MIN => Message::NoteOff { channel, key, velocity },
            velocity => Message::NoteOn { channel, key, velocity },
        };
        hearing.hear(arrival, message.into());
        arrivals.push(arrival);
    }
    let note = || {
        let status = rig.status();
        let pass = status.unfinished.as_ref()?;
        let played = pass.notes().first()?.played;
        Some((played.start, played.length))
    };
    wait_for("the note", || note() == Some((Tick(961), Tick(1443 - 961))));
    wait_for("both messages passed on", || through.sendings().len() == 2);
    let due: Vec<Ns> = through.sendings().iter().map(|sent| sent.due).collect();
    assert_eq!(due, arrivals);
}

#[test]
fn a_pad_that_is_tapped_sets_the_tempo_and_is_neither_heard_nor_recorded() {
    let (rig, _port) = rig(&[("A", 1)], false);
    let (output, through) = Output::memory("through");
    let mut other = clock::start(vec![output], Setup::default()).unwrap();
    let mut hearing = hearing(&rig, 7_000_000, other.thrus.remove(0));
    hearing.taps = Some(TapWatch::new("note:36@10".parse().unwrap()));
    let pad = |velocity| {
        let (channel, key) = (Channel::PERCUSSION, seven(36));
        match seven(velocity) {
            U7::MIN => Message::NoteOff { channel, key, velocity: U7::CENTRE },
            velocity => Message::NoteOn { channel, key, velocity },
        }
    };
    // 800 ms apart by their stamps: 75 beats a minute.
    let start = now() - 4_000_000_000;
    for tap in 0..4 {
        for (velocity, later) in [(99, 0), (0, 50_000_000)] {
            let at = start + tap * 800_000_000 + later;
            hearing.hear(at, pad(velocity).into());
        }
    }
    wait_for("the tempo", || rig.status().tempo.to_string() == "75");
    // Another pad still sounds.
    let (channel, key, velocity) = (Channel::PERCUSSION, seven(38), seven(99));
    let message = Message::NoteOn { channel, key, velocity };
    hearing.hear(now(), message.into());
    wait_for("the other pad", || !through.sendings().is_empty());
    let bytes: Vec<Vec<u8>> = through.sendings().into_iter().map(|sent| sent.bytes).collect();
    assert_eq!(bytes, [[0x99, 38, 99]]);
}

#[test]
fn rounds_wait_for_the_slowest_input() {
    let input = |text: &str| text.parse::<In>().unwrap();
    let config = RigConfig {
        ins: vec![input("none,latency=3"), input("none,latency=80.5"), input("none")],
        grace: 20_000_000,
        ..RigConfig::default()
    };
    assert_eq!(grace(&config), 100_500_000);
    assert_eq!(grace(&RigConfig { ins: Vec::new(), ..config }), 20_000_000);
}
