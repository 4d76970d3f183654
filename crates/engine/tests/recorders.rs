//! What recorders get: full frames of MIDI Time Code, and MIDI Machine Control.
//!
//! The bytes are those of MIDI Time Code ("Full Message": F0 7F 7F 01 01 hr mn sc fr F7) and of
//! MIDI Machine Control 1.0, MMA RP-013 (F0 7F 7F 06 and 01 STOP, 02 PLAY, 06 RECORD STROBE,
//! 07 RECORD EXIT, 44 06 01 hr mn sc fr ff LOCATE). Bar one is 01:00:00:00 (common practice; no
//! source). At 120 a bar of 4/4 is 2 s.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Follow, Lead, Mode, OnLoss, PortIx, Route};
use chaconne_song::Letter;
use chaconne_time::{FrameRate, Tick};

const BAR: i64 = 3840;

/// A bench whose port gets time code at 25 and machine control in the same frames.
fn recorded(bars: u32) -> Bench {
    let ports = vec![(PortIx(0), FrameRate::Twenty5)];
    let config =
        Config { lead: 0, mtc_ports: ports.clone(), mmc_ports: ports, ..Config::default() };
    Bench::with(song(bars, 1), config)
}

/// What recorders got from one message on: `full 1:0:0:0`, `locate 1:0:0:0.50`, or a command; each with
/// the tick at which it was due, 0 while stopped.
fn sent(bench: &Bench, from: usize) -> Vec<String> {
    let word = |bytes: &[u8]| match *bytes {
        // Rate 1 is 25 frames.
        [0xF0, 0x7F, 0x7F, 1, 1, h, m, s, f, 0xF7] => format!("full {}:{m}:{s}:{f}", h - 0x20),
        [0xF0, 0x7F, 0x7F, 6, 0x44, 6, 1, h, m, s, f, part, 0xF7] => {
            format!("locate {}:{m}:{s}:{f}.{part}", h - 0x20)
        }
        [0xF0, 0x7F, 0x7F, 6, command, 0xF7] => match command {
            1 => "stop".to_string(),
            2 => "play".to_string(),
            6 => "record".to_string(),
            7 => "record exit".to_string(),
            _ => panic!("command {command}"),
        },
        _ => panic!("{bytes:02X?}"),
    };
    bench.exclusive[from..].iter().map(|(at, bytes)| format!("{} @{}", word(bytes), at.0)).collect()
}

#[test]
fn a_start_is_sent_with_its_position_and_a_stop_at_once() {
    let mut b = recorded(1);
    b.command(Command::Play);
    b.to(100);
    assert_eq!(sent(&b, 0), ["full 1:0:0:0 @0", "locate 1:0:0:0.0 @0", "play @0"]);
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    // It keeps the sixteenth before, from which it would continue: here the top.
    assert_eq!(sent(&b, 3), ["stop @100", "full 1:0:0:0 @0"]);
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    assert_eq!(b.exclusive.len(), 5, "there was nothing to stop");
}

#[test]
fn after_a_stop_time_code_gives_the_position_that_is_kept() {
    let mut b = recorded(2);
    b.command(Command::Play);
    // The second round, bar 2 and a quarter: 3 bars of 2 s and 500 ms.
    b.to(3 * BAR + 960 + 50);
    let from = b.exclusive.len();
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    assert_eq!(sent(&b, from), [&format!("stop @{}", 3 * BAR + 1010), "full 1:0:6:12 @0"]);
    b.command(Command::Continue);
    b.run_to(b.now + 10 * MS);
    assert_eq!(sent(&b, from + 2)[1], "locate 1:0:6:12.50 @0");
}

#[test]
fn a_song_opened_while_another_plays_is_at_its_top() {
    let mut b = recorded(2);
    b.command(Command::Play);
    b.to(BAR + 960);
    let from = b.exclusive.len();
    b.command(Command::Open(Box::new(song(1, 1))));
    b.run_to(b.now + 10 * MS);
    assert_eq!(sent(&b, from), [&format!("stop @{}", BAR + 960), "full 1:0:0:0 @0"]);
}

#[test]
fn a_locate_and_the_start_from_there_are_sent() {
    let mut b = recorded(2);
    // Bar 2 and a quarter and a sixteenth: 2.625 s is frame 65 and 62 hundredths.
    b.command(Command::Locate(Tick(BAR + 960 + 240)));
    b.run_to(b.now + 10 * MS);
    assert_eq!(sent(&b, 0), ["full 1:0:2:15 @0", "locate 1:0:2:15.62 @0"]);
    b.command(Command::Continue);
    b.run_to(b.now + 100 * MS);
    // Time code begins with an even frame: after 65.625 that is 66.
    assert_eq!(sent(&b, 2), ["full 1:0:2:16 @0", "locate 1:0:2:15.62 @0", "play @5040"]);
}

#[test]
fn recording_from_a_stop_begins_with_the_count_in() {
    let mut b = recorded(1);
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.to(100);
    assert_eq!(
        sent(&b, 0),
        ["full 0:59:58:0 @0", "locate 0:59:58:0.0 @0", "play @-3840", "record @-3840"]
    );
    // At the seams nothing is sent.
    b.to(3 * BAR + 2000);
    b.command(Command::Record(false));
    b.to(3 * BAR + 2100);
    assert_eq!(sent(&b, 4), ["record exit @13520"]);
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    // Three bars of 2 s, and 2,100 ticks rounded down to 1,920: a second.
    assert_eq!(sent(&b, 5), ["stop @13620", "full 1:0:7:0 @0"]);
}

#[test]
fn recording_from_another_bar_begins_with_the_time_of_its_count_in() {
    let mut b = recorded(4);
    b.command(Command::CountIn(1));
    // Bar 3 is 4 s after bar one, and its count-in begins 2 s before that.
    b.command(Command::LocateBars(2));
    b.command(Command::Record(true));
    b.to(2 * BAR);
    let start = ["full 1:0:2:0 @0", "locate 1:0:2:0.0 @0", "play @3840", "record @3840"];
    assert_eq!(sent(&b, 0)[..2], ["full 1:0:4:0 @0", "locate 1:0:4:0.0 @0"]);
    assert_eq!(sent(&b, 2), start);
    let from = b.exclusive.len();
    b.command(Command::RecordAgain);
    b.to(BAR + 100);
    assert_eq!(sent(&b, from)[..3], ["record exit @7680", "stop @7680", "full 1:0:4:0 @0"]);
    assert_eq!(sent(&b, from + 3), start);
}

#[test]
fn record_strobe_and_exit_are_sent_when_recording_begins_and_ends_while_rolling() {
    let mut b = recorded(1);
    b.command(Command::Play);
    b.to(2000);
    let from = b.exclusive.len();
    b.command(Command::Record(true));
    b.command(Command::Record(true));
    b.command(Command::Mode(Mode::Replace));
    b.to(2100);
    let at = b.exclusive[from].0.0;
    assert!((2000..=2020).contains(&at), "{at}");
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    let record = format!("record @{at}");
    let end = ["record exit @2100", "stop @2100", "full 1:0:1:0 @0"];
    assert_eq!(sent(&b, from), [&[record.as_str()], &end[..]].concat());
}

#[test]
fn the_end_of_a_route_ends_recording_and_stops() {
    let mut b = recorded(1);
    let once = Route::rounds(b.engine.song(), Letter::A, 1).unwrap();
    b.command(Command::PlayRoute(once));
    b.to(1000);
    b.command(Command::Record(true));
    b.run_to(b.now + 3000 * MS);
    let all = sent(&b, 3);
    assert_eq!(all.len(), 4, "{all:?}");
    assert!(all[0].starts_with("record @"));
    assert_eq!(all[3], "full 1:0:0:0 @0", "it is at the top again");
    // The bench polls about every 10 ticks, so the end is noticed up to 10 ticks later.
    let end: Vec<(&str, i64)> = all[1..3]
        .iter()
        .filter_map(|word| word.split_once(" @"))
        .map(|(word, at)| (word, at.parse::<i64>().unwrap() / 20 * 20))
        .collect();
    assert_eq!(end, [("record exit", BAR), ("stop", BAR)]);
}

#[test]
fn recorders_follow_a_transport_that_follows_a_clock() {
    let ports = vec![(PortIx(0), FrameRate::Twenty5)];
    let follow = Some(Follow { name: "desk".into(), on_loss: OnLoss::Keep });
    let (mtc_ports, mmc_ports) = (ports.clone(), ports);
    let config = Config { lead: 0, mtc_ports, mmc_ports, follow, ..Config::default() };
    let mut b = Bench::with(song(2, 1), config);
    // Its song position is bar 2, 96 pulses in.
    b.engine.lead(b.now, Lead::Locate { pulse: 96 });
    b.run_to(b.now + 10 * MS);
    assert_eq!(sent(&b, 0), ["full 1:0:2:0 @0", "locate 1:0:2:0.0 @0"]);
    b.command(Command::Record(true));
    b.engine.lead(b.now, Lead::Roll { pulse: 96, ns: b.now, quarter: Some(500 * MS) });
    b.run_to(b.now + 100 * MS);
    let start = ["full 1:0:2:0 @0", "locate 1:0:2:0.0 @0", "play @3840", "record @3840"];
    assert_eq!(sent(&b, 2), start);
    b.engine.lead(b.now, Lead::Stop { ns: b.now });
    b.run_to(b.now + 10 * MS);
    let end = sent(&b, 6).join(" ");
    assert!(end.starts_with("record exit @") && end.contains(" stop @"), "{end}");
}

#[test]
fn ports_without_time_code_and_machine_control_get_neither() {
    let mut b = Bench::leading(song(1, 1));
    b.command(Command::Locate(Tick(960)));
    b.command(Command::Continue);
    b.command(Command::Record(true));
    b.to(2000);
    b.command(Command::Stop);
    b.run_to(b.now + 10 * MS);
    assert!(b.exclusive.is_empty());
}
