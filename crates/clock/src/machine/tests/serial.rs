//! Ports that end in a serial MIDI cable: 320 us a byte (MIDI 1.0 Detailed Specification,
//! "Hardware": 31,250 baud, ten bits a byte).

use super::*;
use chaconne_midi::Wire;
use chaconne_midi::parser::Parser;
use chaconne_midi::serial::{BYTE, Grain};

pub(super) fn serial() -> Service {
    Service { line: Some(Grain::Bytes), ..Service::default() }
}

fn bench() -> Bench {
    let mut bench = Bench::with(Limits { cues: 4096, voices: 256 }, &[serial()]);
    bench.order(Order::Roll { at: Tick(0), ns: 0, tempo: Tempo::DEFAULT, song: 0 });
    bench
}

/// The messages in the bytes of a port, each with the time at which its last byte was sent.
pub(super) fn spoken(log: &[Line], port: u8) -> Vec<Line> {
    let (mut parser, mut lines) = (Parser::new(), Vec::new());
    for line in log.iter().filter(|line| line.port == port) {
        parser.feed(&line.bytes, &mut |parsed| {
            let bytes = match parsed {
                Wire::Message(message) => message.bytes().to_vec(),
                Wire::SysEx(bytes) => bytes.to_vec(),
            };
            lines.push(Line { bytes, ..line.clone() });
        });
    }
    assert_eq!(parser.stray(), 0, "bytes outside any message");
    lines
}

/// The same without releases of keys that are not down. A stop may send some; they do no harm.
pub(super) fn needed(lines: Vec<Line>) -> Vec<Line> {
    let mut down = std::collections::BTreeSet::new();
    let mut needed = |line: &Line| match (line.bytes[0] & 0xF0, line.bytes[0] & 15) {
        (0x90, channel) => {
            down.insert((channel, line.bytes[1]));
            true
        }
        (0x80, channel) => down.remove(&(channel, line.bytes[1])),
        _ => true,
    };
    lines.into_iter().filter(|line| needed(line)).collect()
}

/// Checks that each byte was sent only after the one before it had been transmitted.
fn assert_paced(log: &[Line]) {
    assert!(log.iter().all(|line| line.bytes.len() == 1));
    assert!(log.windows(2).all(|pair| pair[1].at - pair[0].at >= BYTE));
}

#[test]
fn a_chord_of_ten_takes_twenty_one_bytes_and_6_72_ms() {
    let mut bench = bench();
    for key in 0..10 {
        bench.order(Order::Play(press(0, 1, 60 + key, key.into())));
    }
    bench.run(50 * MS);
    assert_paced(&bench.paper.log);
    assert_eq!(bench.paper.log.len(), 21);
    assert_eq!(bench.paper.log[20].at + BYTE, 6_720_000);
    assert_eq!(bench.stats().ports[0].bytes, 21);
    assert_eq!((bench.stats().sounding, bench.stats().ports[0].sent), (10, 10));
}

#[test]
fn a_pulse_is_never_more_than_a_byte_late() {
    let mut bench = bench();
    for at in 0..96i64 {
        bench.order(Order::Play(clock(at * 40)));
    }
    for note in 0..400u32 {
        let (at, key) = (i64::from(note) * 4, (note % 100) as u8);
        bench.order(Order::Play(press(at, 1, key, note)));
        bench.order(Order::Play(lift(at + 300, 1, key, note)));
        bench.order(Order::Play(change(at, 1, 74, (note % 128) as u8)));
    }
    bench.run(3000 * MS);
    assert_paced(&bench.paper.log);
    let pulses: Vec<&Line> = bench.paper.log.iter().filter(|line| line.bytes[0] == 0xF8).collect();
    assert_eq!(pulses.len(), 96);
    let line = Timeline::new(Tick(0), 0, Tempo::DEFAULT);
    for (k, pulse) in pulses.iter().enumerate() {
        let late = pulse.at - line.ns_at(Tick(k as i64 * 40));
        assert!((0..=BYTE).contains(&late), "pulse {k} is {late} ns late");
    }
    // The line had no time for every value of the controller, because notes were sent first.
    assert!(bench.stats().ports[0].thinned > 0);
    assert_eq!(bench.stats().ports[0].dropped, 0);
    audit(&spoken(&bench.paper.log, 0)).unwrap();
    bench.assert_silent();
}

#[test]
fn a_stop_drops_what_waits_and_releases_what_sounds() {
    let mut bench = bench();
    for key in 0..100 {
        bench.order(Order::Play(press(0, 1, key, key.into())));
    }
    bench.run(10 * MS);
    bench.order(Order::Halt);
    bench.run(100 * MS);
    audit(&needed(spoken(&bench.paper.log, 0))).unwrap();
    bench.assert_silent();
    // Only the presses that fit into 10 ms were sent.
    let struck = spoken(&bench.paper.log, 0).iter().filter(|line| line.bytes[0] == 0x90).count();
    assert!(struck <= 16, "{struck}");
}

#[test]
fn notes_shorter_than_the_line_needs_are_still_played() {
    let mut bench = bench();
    for key in 0..8 {
        bench.order(Order::Play(press(0, 1, 60 + key, key.into())));
        bench.order(Order::Play(lift(1, 1, 60 + key, key.into())));
    }
    bench.run(100 * MS);
    let spoken = spoken(&bench.paper.log, 0);
    assert_eq!(spoken.len(), 16);
    audit(&spoken).unwrap();
    bench.assert_silent();
}

#[test]
fn pulses_pass_inside_a_system_exclusive_message_which_arrives_whole() {
    let mut bench = bench();
    let bytes: Arc<[u8]> = [0xF0].into_iter().chain([1; 300]).chain([0xF7]).collect();
    let sysex = cue(0, 1, Action::SysEx(bytes.clone()));
    bench.order(Order::Play(sysex));
    (1..5).for_each(|k| bench.order(Order::Play(clock(k * 40))));
    bench.run(200 * MS);
    assert_paced(&bench.paper.log);
    let spoken = spoken(&bench.paper.log, 0);
    assert_eq!(spoken.iter().filter(|line| line.bytes == [0xF8]).count(), 4);
    assert_eq!(spoken.iter().filter(|line| line.bytes[..] == bytes[..]).count(), 1);
    // The bytes are returned, to be freed on another thread.
    assert!(bench.machine.retired().is_some());
}

#[test]
fn a_lost_serial_port_is_forgotten() {
    let mut bench = bench();
    for key in 0..20 {
        bench.order(Order::Play(press(0, 1, 60 + key, key.into())));
    }
    bench.run(2 * MS);
    bench.paper.answers[0] = Sent::Lost;
    bench.run(100 * MS);
    bench.assert_silent();
    assert!(bench.machine.next_deadline().is_none());
}
