//! Ports that are served earlier or later than due.

use super::*;

/// A bench that rolls from tick 0 at 100 ms, at 125 BPM, so that a tick is half a millisecond. Port 0
/// has no offset, port 1 is 40 ms early, port 2 is 40 ms late, and port 3 takes its messages 5 ms
/// ahead.
fn bench() -> Bench {
    let plain = Service::default();
    let moved = |shift| Service { shift, ..plain };
    let ahead = Service { shift: -5 * MS, ahead: 5 * MS, varies: true, ..plain };
    let services = [plain, moved(-40 * MS), moved(40 * MS), ahead];
    let mut bench = Bench::with(Limits { cues: 1024, voices: 256 }, &services);
    let tempo = Tempo::parse_bpm("125").unwrap();
    bench.order(Order::Roll { at: Tick(0), ns: 100 * MS, tempo, song: 0 });
    bench
}

fn on(port: u8, cue: Cue) -> Order {
    Order::Play(Cue { port: PortIx(port), ..cue })
}

/// The messages sent, each as port, milliseconds and status byte: `0@100.0 90`.
fn log(bench: &mut Bench) -> Vec<String> {
    let line = |line: Line| {
        let (ms, part) = (line.at / MS, line.at % MS * 10 / MS);
        format!("{}@{ms}.{part} {:02X}", line.port, line.bytes[0])
    };
    bench.paper.log.drain(..).map(line).collect()
}

#[test]
fn each_port_is_served_at_its_own_time() {
    let mut bench = bench();
    for port in 0..4 {
        bench.order(on(port, press(0, 1, 60, port.into())));
        bench.order(on(port, lift(20, 1, 60, port.into())));
    }
    bench.run(200 * MS);
    assert_eq!(
        log(&mut bench),
        [
            "1@60.0 90",
            "1@70.0 80",
            "3@95.0 90",
            "0@100.0 90",
            "3@105.0 80",
            "0@110.0 80",
            "2@140.0 90",
            "2@150.0 80"
        ]
    );
    bench.assert_silent();
}

#[test]
fn a_port_that_gets_messages_ahead_is_also_given_their_due_times() {
    let mut bench = bench();
    bench.order(on(3, press(0, 1, 60, 1)));
    bench.run(99 * MS);
    assert_eq!(bench.paper.log[0].due, 100 * MS);
    assert_eq!(bench.stats().worst, 0);
}

#[test]
fn through_play_and_releases_are_not_delayed_on_a_port_that_works_ahead() {
    let mut bench = bench();
    bench.order(on(3, press(0, 1, 60, 1)));
    bench.run(110 * MS);
    let (channel, key) = (Channel::default(), U7::low_bits(72));
    let address = Address { port: PortIx(3), channel, key };
    bench.touch(Touch::Press { address, velocity: U7::MAX, voice: voice(72) });
    bench.order(Order::Halt);
    let due: Vec<Ns> = bench.paper.log.iter().map(|line| line.due).collect();
    assert_eq!(due, [100 * MS, 110 * MS, 110 * MS]);
}

/// Runs until `to`. Returns for each message to port 3 when it was handed over, and when it is due.
fn handed(bench: &mut Bench, to: Ns) -> Vec<(Ns, Ns)> {
    bench.run(to);
    bench
        .paper
        .log
        .drain(..)
        .filter(|line| line.port == 3)
        .map(|l| (l.at / MS, l.due / MS))
        .collect()
}

#[test]
fn a_server_that_returns_with_another_block_size_gets_its_messages_earlier_or_later() {
    let mut bench = bench();
    assert_eq!(bench.machine.meter.early(), 40 * MS);
    // A press every 20 ms.
    for note in 0..20 {
        bench.order(on(3, press(40 * i64::from(note), 1, 60 + note as u8, note)));
        bench.order(on(0, press(40 * i64::from(note), 1, 60 + note as u8, 100 + note)));
    }
    assert_eq!(handed(&mut bench, 130 * MS), [(95, 100), (115, 120)]);
    bench.machine.lose(PortIx(3));
    // Earlier than any port before.
    bench.machine.serve(PortIx(3), 60 * MS);
    bench.machine.find(bench.now, PortIx(3), &mut bench.paper);
    bench.paper.log.clear();
    assert_eq!(bench.machine.meter.early(), 60 * MS);
    // Messages that are due within the new lead time are handed over at once; the due times stay.
    let expected = [(130, 140), (130, 160), (130, 180), (140, 200), (160, 220)];
    assert_eq!(handed(&mut bench, 170 * MS), expected);
    // Two blocks of 64 frames.
    bench.machine.lose(PortIx(3));
    bench.machine.serve(PortIx(3), 4 * MS);
    bench.machine.find(bench.now, PortIx(3), &mut bench.paper);
    bench.paper.log.clear();
    assert_eq!(bench.machine.meter.early(), 40 * MS);
    assert_eq!(handed(&mut bench, 260 * MS), [(236, 240), (256, 260)]);
    // `serve` changes neither a port that is connected nor one whose service does not vary.
    bench.machine.serve(PortIx(3), 60 * MS);
    bench.machine.lose(PortIx(1));
    bench.machine.serve(PortIx(1), 60 * MS);
    assert_eq!(bench.machine.meter.early(), 40 * MS);
    bench.run(300 * MS);
    assert!(bench.paper.log.iter().all(|line| line.port != 0 || line.at == line.due));
}

#[test]
fn ports_of_one_server_can_return_one_after_the_other() {
    let one = Service { shift: -5 * MS, ahead: 5 * MS, varies: true, ..Service::default() };
    let mut bench = Bench::with(Limits { cues: 1024, voices: 256 }, &[one; 4]);
    let tempo = Tempo::parse_bpm("125").unwrap();
    bench.order(Order::Roll { at: Tick(0), ns: 100 * MS, tempo, song: 0 });
    for port in 0..4 {
        bench.machine.lose(PortIx(port));
    }
    for (port, ahead) in [(2, 30), (0, 30)] {
        bench.machine.serve(PortIx(port), ahead * MS);
        bench.machine.find(0, PortIx(port), &mut bench.paper);
    }
    for port in 0..4 {
        bench.order(on(port, press(0, 1, 60, port.into())));
    }
    bench.run(200 * MS);
    let log: Vec<_> = bench.paper.log.iter().map(|l| (l.port, l.at / MS, l.due / MS)).collect();
    // The other two are still lost.
    assert_eq!(log, [(0, 70, 100), (2, 70, 100)]);
}

#[test]
fn offsets_do_not_apply_to_through_play() {
    let mut bench = bench();
    bench.run(50 * MS);
    for port in 0..4 {
        let (channel, key) = (Channel::default(), U7::low_bits(60));
        let address = Address { port: PortIx(port), channel, key };
        let voice = voice(60 + u32::from(port));
        bench.touch(Touch::Press { address, velocity: U7::MAX, voice });
        bench.touch(Touch::Lift { address, velocity: U7::MIN, voice });
    }
    assert!(bench.paper.log.iter().all(|line| line.at == 50 * MS));
    assert_eq!(bench.paper.log.len(), 8);
}

#[test]
fn a_key_played_while_a_note_of_that_key_waits_is_sent_after_it() {
    let mut bench = bench();
    bench.order(on(2, press(0, 1, 60, 1)));
    bench.order(on(2, lift(20, 1, 60, 1)));
    bench.run(115 * MS);
    let (channel, key) = (Channel::default(), U7::low_bits(60));
    let (address, voice) = (Address { port: PortIx(2), channel, key }, voice(60));
    bench.touch(Touch::Press { address, velocity: U7::MAX, voice });
    bench.run(180 * MS);
    bench.touch(Touch::Lift { address, velocity: U7::MIN, voice });
    assert_eq!(log(&mut bench), ["2@140.0 90", "2@150.0 80", "2@150.0 90", "2@180.0 80"]);
    bench.assert_silent();
}

#[test]
fn a_mute_cancels_waiting_notes_and_releases_sounding_ones() {
    let mut bench = bench();
    bench.order(on(2, press(0, 1, 60, 1)));
    bench.order(on(2, lift(960, 1, 60, 1)));
    bench.order(on(2, press(80, 1, 64, 2)));
    bench.order(on(2, lift(960, 1, 64, 2)));
    // The first note is sounding, the second is waiting for its port.
    bench.run(150 * MS);
    bench.order(Order::Revise { slot: Slot(1), epoch: 1 });
    bench.order(Order::Settle { slot: Slot(1) });
    bench.run(1000 * MS);
    assert_eq!(log(&mut bench), ["2@140.0 90", "2@150.0 80"]);
    bench.assert_silent();
}

#[test]
fn a_new_epoch_does_not_repeat_a_note_that_an_early_port_has_played() {
    let mut bench = bench();
    bench.order(on(1, press(0, 1, 60, 1)));
    bench.order(on(1, lift(200, 1, 60, 1)));
    bench.run(80 * MS);
    bench.order(Order::Revise { slot: Slot(1), epoch: 1 });
    // For the engine tick 0 is still to come, so it performs it again; the port has already played it.
    for cue in [press(0, 1, 60, 1), lift(100, 1, 60, 1)] {
        bench.order(on(1, Cue { epoch: 1, ..cue }));
    }
    bench.order(Order::Settle { slot: Slot(1) });
    bench.run(300 * MS);
    assert_eq!(log(&mut bench), ["1@60.0 90", "1@110.0 80"]);
    bench.assert_silent();
}

#[test]
fn a_stop_silences_late_ports_at_once_and_keeps_their_settings() {
    let mut bench = bench();
    bench.order(on(2, press(0, 1, 60, 1)));
    bench.order(on(2, change(60, 1, 7, 90)));
    bench.order(on(2, press(60, 1, 62, 2)));
    bench.run(150 * MS);
    bench.order(Order::Halt);
    assert_eq!(log(&mut bench), ["2@140.0 90", "2@150.0 B0", "2@150.0 80"]);
    bench.assert_silent();
    assert!(bench.machine.next_deadline().is_none());
}

#[test]
fn a_lost_port_forgets_what_waits_for_it() {
    let mut bench = bench();
    bench.order(on(2, press(0, 1, 60, 1)));
    bench.run(120 * MS);
    bench.machine.lose(PortIx(2));
    bench.assert_silent();
    bench.run(500 * MS);
    assert_eq!(log(&mut bench), [""; 0]);
}
