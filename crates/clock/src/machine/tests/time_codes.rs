//! Time code on the ports that receive it.

use super::*;
use chaconne_time::FrameRate;

const SECOND: Ns = 1000 * MS;

/// A bench whose port 0 gets time code at 25 frames a second, port 1 at 29.97 and 40 ms late, port 2
/// at 25 and 40 ms early, and port 3 none.
fn bench() -> Bench {
    let at = |rate, shift| Service { shift, mtc: Some(rate), ..Service::default() };
    let services = [
        at(FrameRate::Twenty5, 0),
        at(FrameRate::Drop30, 40 * MS),
        at(FrameRate::Twenty5, -40 * MS),
        Service::default(),
    ];
    Bench::with(Limits { cues: 1024, voices: 256 }, &services)
}

fn roll(bench: &mut Bench, ns: Ns, song: Ns) {
    bench.order(Order::Roll { at: Tick(0), ns, tempo: Tempo::DEFAULT, song });
}

/// The quarter frames of a port: when each was sent, and its data byte.
fn pieces(bench: &Bench, port: u8) -> Vec<(Ns, u8)> {
    let own = bench.paper.log.iter().filter(|line| line.port == port);
    let frames = own.filter(|line| line.bytes[0] == 0xF1);
    frames.map(|line| (line.at, line.bytes[1])).collect()
}

#[test]
fn an_hour_of_quarter_frames_is_exact() {
    let mut bench = bench();
    roll(&mut bench, 7 * SECOND, 0);
    bench.run(7 * SECOND + 3600 * SECOND - 1);
    // An hour at 25 is 90,000 frames, four quarters of 10 ms each.
    let plain = pieces(&bench, 0);
    assert_eq!(plain.len(), 360_000);
    assert!((0i64..).zip(&plain).all(|(k, &(at, _))| at == 7 * SECOND + k * 10 * MS));
    // 01:00:00:00 at 25, and 01:59:59:23: MIDI Time Code, "Quarter Frame Messages".
    let bytes = |range: std::ops::Range<usize>| -> Vec<u8> {
        plain[range].iter().map(|&(_, byte)| byte).collect()
    };
    assert_eq!(bytes(0..8), [0x00, 0x10, 0x20, 0x30, 0x40, 0x50, 0x61, 0x72]);
    assert_eq!(bytes(359_992..360_000), [0x07, 0x11, 0x2B, 0x33, 0x4B, 0x53, 0x61, 0x72]);
    // 29.97: 3,600 * 30,000 / 1,001 frames, minus those of the last 40 ms, which are not yet due.
    let drop = pieces(&bench, 1);
    assert_eq!(drop.len() as i64, (3600 * SECOND - 40 * MS) * 4 * 30 / (1001 * MS) + 1);
    let moment = |k: i64| 7 * SECOND + 40 * MS + k * 1_001_000_000 / 120;
    assert!((0i64..).zip(&drop).all(|(k, &(at, _))| at == moment(k)));
    assert!(pieces(&bench, 3).is_empty());
}

#[test]
fn an_offset_moves_the_time_code_of_its_port() {
    let mut bench = bench();
    roll(&mut bench, SECOND, 0);
    bench.run(2 * SECOND);
    let (plain, early) = (pieces(&bench, 0), pieces(&bench, 2));
    assert!(plain.iter().zip(&early).all(|(a, b)| (a.0 - 40 * MS, a.1) == *b));
    assert_eq!((plain[0].0, early[0].0), (SECOND, 960 * MS));
}

#[test]
fn a_stop_ends_time_code_and_a_start_begins_a_new_one() {
    let mut bench = bench();
    roll(&mut bench, SECOND, 0);
    bench.run(SECOND + 35 * MS);
    bench.order(Order::Halt);
    let before = bench.paper.log.len();
    assert_eq!(pieces(&bench, 0).len(), 4);
    assert!(bench.machine.next_deadline().is_none());
    bench.run(5 * SECOND);
    assert_eq!(bench.paper.log.len(), before);
    // A start in the middle of the song: a time code begins with its first piece, on an even frame.
    roll(&mut bench, 6 * SECOND, 90 * SECOND + 650 * MS);
    bench.run(7 * SECOND);
    let again = pieces(&bench, 0)[4..].to_vec();
    // 01:01:30:16 at 25 begins at 90.64 s, the next even frame 70 ms later.
    assert_eq!(again[0], (6 * SECOND + 70 * MS, 0x02));
    assert_eq!(
        again[1..8].iter().map(|piece| piece.1).collect::<Vec<_>>(),
        [0x11, 0x2E, 0x31, 0x41, 0x50, 0x61, 0x72]
    );
}

#[test]
fn the_count_in_counts_up_to_the_hour() {
    let mut bench = bench();
    roll(&mut bench, SECOND, -2 * SECOND);
    bench.run(3 * SECOND + 20 * MS);
    let plain = pieces(&bench, 0);
    // 00:59:58:00, and two seconds later 01:00:00:00.
    let bytes = |from: usize| plain[from..from + 2].iter().map(|p| p.1).collect::<Vec<_>>();
    assert_eq!(plain[0], (SECOND, 0x00));
    assert_eq!(
        plain[..8].iter().map(|p| p.1).collect::<Vec<_>>(),
        [0x00, 0x10, 0x2A, 0x33, 0x4B, 0x53, 0x60, 0x72]
    );
    assert_eq!((plain[200].0, bytes(200)), (3 * SECOND, vec![0x00, 0x10]));
}

#[test]
fn tempo_and_lateness_do_not_change_time_code() {
    let mut steady = bench();
    roll(&mut steady, SECOND, 0);
    steady.run(10 * SECOND);
    let mut other = bench();
    other.jitter = 3 * MS;
    roll(&mut other, SECOND, 0);
    for (at, bpm) in [(960, "60"), (1920, "300"), (4000, "93.7")] {
        let tempo = Tempo::parse_bpm(bpm).unwrap();
        other.order(Order::Tempo { at: Tick(at), tempo });
    }
    other.order(Order::Play(press(2000, 1, 60, 1)));
    other.order(Order::Play(lift(2100, 1, 60, 1)));
    other.run(10 * SECOND);
    for port in 0..3 {
        let dues = |bench: &Bench| -> Vec<(Ns, Vec<u8>)> {
            let own = bench.paper.log.iter().filter(|line| line.port == port);
            own.map(|line| (line.due, line.bytes.clone())).filter(|(_, b)| b[0] == 0xF1).collect()
        };
        let (a, b) = (dues(&steady), dues(&other));
        // The late machine may not have sent the last one yet.
        assert!(a.len() - b.len() <= 1 && a.starts_with(&b), "port {port}");
    }
    other.order(Order::Halt);
    other.assert_silent();
}

#[test]
fn a_quarter_frame_is_sent_before_notes_that_are_due_at_the_same_time() {
    let mut bench = bench();
    roll(&mut bench, SECOND, 0);
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(lift(96, 1, 60, 1)));
    // The machine is called late, so it sends everything at once.
    bench.now = SECOND + 55 * MS;
    bench.poll();
    let own = bench.paper.log.iter().filter(|line| line.port == 0);
    let status: Vec<u8> = own.map(|line| line.bytes[0]).collect();
    assert_eq!(status, [0xF1, 0x90, 0xF1, 0xF1, 0xF1, 0xF1, 0xF1, 0x80]);
}
