//! The rig on memory ports and the real clock. The tests wait for states, never for a time.

#[cfg(unix)]
mod fifos;
mod fingering;
mod inputs;
mod rescue;

use super::*;
use crate::HowOften;
use crate::export::Extent;
use crate::hearing::Hearing;
use crate::tap::TapWatch;
use crate::testing::song_of;
use chaconne_engine::{Rounds, Route, Transport, When};
use chaconne_ports::{MemoryPort, Output, PortState, Setup, Thru};
use chaconne_song::{Commit, Edit, Letter, SectionEdit, Track};
use chaconne_time::Tick;
use std::collections::BTreeMap;
use std::time::Instant;

/// Waits until `is` returns `true`; fails after a minute instead of hanging.
fn wait_for(what: &str, mut is: impl FnMut() -> bool) {
    let start = Instant::now();
    while !is() {
        assert!(start.elapsed() < Duration::from_secs(60), "waited in vain for {what}");
        thread::sleep(Duration::from_millis(1));
    }
}

/// Asks for a song, and waits for the answer.
fn read(rig: &Rig, request: SongRequest) -> Result<SongRead, String> {
    let number = rig.snapshot().read.map_or(1, |answer| answer.number + 1);
    rig.read(number, request);
    let answer = || rig.snapshot().read.filter(|answer| answer.number == number);
    wait_for("the answer", || answer().is_some());
    answer().unwrap().result.clone()
}

fn seven(value: u8) -> U7 {
    U7::new(value).unwrap()
}

/// A rig on one memory port, with one pitched track on channel 1, at the fastest tempo.
fn rig(sections: &[(&str, u32)], clock: bool) -> (Rig, MemoryPort) {
    let mut song = song_of("test", sections);
    let id = song.ids().track();
    Edit::AddTrack { at: 0, track: Arc::new(Track::pitched(id, "Lead")) }.apply(&mut song).unwrap();
    let fast = chaconne_time::TempoMap::new(chaconne_time::Tempo::parse_bpm("1000").unwrap());
    for (letter, _) in sections {
        let letter: Letter = letter.parse().unwrap();
        Edit::Section(letter, SectionEdit::Tempo(fast.clone())).apply(&mut song).unwrap();
    }
    let out = Out { clock: Some(clock), ..Out::plain("", crate::PortSpec::None) };
    let (outs, _) = Outs::open(&[out], None).unwrap();
    let (output, port) = Output::memory("memory");
    let rig = Rig::start_on(song, RigConfig::default(), outs, vec![output]).unwrap();
    (rig, port)
}

/// Each key's presses and releases; a release without a press fails, and so does a second press.
fn strokes(port: &MemoryPort) -> BTreeMap<u8, usize> {
    let mut down = BTreeMap::new();
    let mut strokes = BTreeMap::new();
    for sent in port.sendings() {
        match sent.bytes[..] {
            [0x90, key, velocity] if velocity > 0 => {
                assert!(down.insert(key, ()).is_none(), "key {key} struck while down");
                *strokes.entry(key).or_default() += 1;
            }
            [0x80, key, _] => assert!(down.remove(&key).is_some(), "key {key} released twice"),
            _ => {}
        }
    }
    assert!(down.is_empty(), "still down: {down:?}");
    strokes
}

#[test]
fn playing_is_heard_at_once_recorded_and_repeated() {
    // One bar at 1000 is 240 ms.
    let (rig, port) = rig(&[("A", 1)], false);
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Click(chaconne_engine::Click::CountIn)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    rig.press(seven(60), seven(99));
    rig.lift(seven(60));
    wait_for("a pass", || rig.status().song.passes_in(&rig.status().song.sections[0]).len() == 1);
    rig.command(Command::Record(false)).unwrap();
    let before = rig.status().round;
    wait_for("three rounds", || rig.status().round >= before + 3);
    rig.command(Command::Stop).unwrap();
    assert_eq!(rig.status().transport, Transport::Stopped);
    let snapshot = rig.snapshot();
    assert!(snapshot.is_unsaved());
    assert_eq!((snapshot.waiting, snapshot.unheard), (0, 0));
    let summary = rig.shutdown();
    assert_eq!((summary.sounding, summary.dropped), (0, 0));
    assert!(strokes(&port)[&60] >= 3, "{:?}", strokes(&port));
}

#[test]
fn figures_of_lateness_are_counted_afresh_on_request() {
    let (rig, port) = rig(&[("A", 1)], true);
    rig.command(Command::Play).unwrap();
    wait_for("pulses", || rig.snapshot().stats.pulses.count >= 24);
    rig.command(Command::Stop).unwrap();
    // The scheduler may be sending the last pulse.
    let mut sent = rig.snapshot().stats;
    wait_for("silence", || {
        thread::sleep(Duration::from_millis(20));
        let before = std::mem::replace(&mut sent, rig.snapshot().stats);
        before == sent
    });
    assert_eq!(sent.pulses.bins.iter().sum::<u64>(), sent.pulses.count);
    assert_eq!(rig.take_worst(), sent.worst);
    rig.restart_timing();
    let stats = rig.snapshot().stats;
    assert_eq!((stats.pulses, stats.notes), (crate::Spread::default(), crate::Spread::default()));
    // The summary at the end is about the whole run.
    assert_eq!((stats.sent, stats.worst), (sent.sent, sent.worst));
    assert!(rig.snapshot().counted < Ns::MAX / 2 && !port.sendings().is_empty());
}

#[test]
fn the_song_is_compared_with_its_file_as_it_is_now_and_can_be_loaded_from_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tide.ron");
    let (rig, _port) = rig(&[("A", 1)], false);
    assert!(read(&rig, SongRequest::Compare).is_err(), "there is no file yet");
    rig.save(Some(path.clone()), Replace::No);
    wait_for("the save", || rig.disk().attempts == 1);
    assert_eq!(read(&rig, SongRequest::Compare), Ok(SongRead::Compared(Vec::new())));
    let mut theirs = crate::load(&path).unwrap();
    theirs.title = "Ebb".into();
    std::fs::write(&path, chaconne_song::text::write(&theirs)).unwrap();
    let found = vec!["title: 'test' here, 'Ebb' in the file".to_string()];
    assert_eq!(read(&rig, SongRequest::Compare), Ok(SongRead::Compared(found)));
    rig.command(Command::Play).unwrap();
    assert_eq!(read(&rig, SongRequest::Open(path)), Ok(SongRead::Opened));
    assert_eq!(
        (rig.status().song.title.as_str(), rig.status().transport),
        ("Ebb", Transport::Stopped)
    );
    wait_for("the disk", || !rig.snapshot().is_unsaved());
    let none = SongRequest::Open(folder.path().join("none.ron"));
    assert!(read(&rig, none).unwrap_err().contains("cannot be read"));
    assert_eq!(rig.status().song.title, "Ebb");
}

#[test]
fn a_song_that_comes_late_does_not_replace_what_was_changed_or_played_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tide.ron");
    let (rig, _port) = rig(&[("A", 999)], false);
    let songs = |rig: &Rig| {
        let (requests, shared) = (rig.requests.clone(), rig.shared.clone());
        Songs { requests, shared, disk: rig.disk.clone() }
    };
    rig.save(Some(path.clone()), Replace::No);
    wait_for("the save", || rig.disk().attempts == 1);
    let open = || songs(&rig).load(SongRequest::Open(path.clone())).unwrap();
    let as_of = AsOf::of(&rig.status());
    let song = open();
    rig.command(Command::Edit(Commit::of(Edit::Title("Ebb".into())))).unwrap();
    assert!(songs(&rig).apply(song, as_of).unwrap_err().contains("has changed in the meantime"));
    assert_eq!(rig.status().song.title, "Ebb");

    let (song, as_of) = (open(), AsOf::of(&rig.status()));
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    rig.press(seven(60), seven(99));
    rig.lift(seven(60));
    let has_note = || rig.status().unfinished.as_ref().is_some_and(|pass| !pass.is_empty());
    wait_for("the note", has_note);
    assert!(songs(&rig).apply(song, as_of).is_err(), "what was played is kept");
    assert_eq!(rig.status().transport, Transport::Rolling, "and the music goes on");

    // Who asks while a round is unfinished has been asked about it, and it may grow.
    let (song, as_of) = (open(), AsOf::of(&rig.status()));
    rig.press(seven(62), seven(99));
    rig.lift(seven(62));
    assert_eq!(songs(&rig).apply(song, as_of), Ok(SongRead::Opened));
    assert_eq!(
        (rig.status().song.title.as_str(), rig.status().transport == Transport::Stopped),
        ("test", true)
    );
}

#[test]
fn a_tap_counts_from_when_it_was_made() {
    let (rig, _port) = rig(&[("A", 1)], false);
    let said = |start: &str| rig.status().said.1.starts_with(start);
    rig.tap(Duration::from_secs(2));
    wait_for("the first tap", || said("tap again"));
    // This call comes right after the first, but its tap was made a second later.
    rig.tap(Duration::from_secs(1));
    wait_for("a tempo", || said("tapped tempo: "));
}

#[test]
fn a_route_ends_by_itself_and_a_held_key_is_released_at_shutdown() {
    let (rig, port) = rig(&[("A", 1), ("B", 1)], false);
    let route = Route::of(&rig.status().song, &["B".parse().unwrap(), Letter::A]).unwrap();
    rig.press(seven(64), seven(80));
    wait_for("the key", || !port.sendings().is_empty());
    rig.command(Command::PlayRoute(route)).unwrap();
    wait_for("section B", || rig.status().section.as_str() == "B");
    wait_for("the end", || rig.status().transport == Transport::Stopped);
    let summary = rig.shutdown();
    assert_eq!(summary.sounding, 0);
    assert_eq!(strokes(&port), BTreeMap::from([(64, 1)]));
}

#[test]
fn other_gear_gets_one_stop_even_after_a_silence_from_outside() {
    let (rig, port) = rig(&[("A", 1)], true);
    rig.command(Command::Play).unwrap();
    wait_for("pulses", || port.sendings().iter().any(|sent| sent.bytes == [0xF8]));
    hush(&rig.switch(), Duration::from_secs(10));
    rig.shutdown();
    let realtime = port.sendings().into_iter().filter(|sent| sent.bytes[0] >= 0xF8);
    let bytes: Vec<u8> = realtime.map(|sent| sent.bytes[0]).collect();
    assert_eq!((bytes.first(), bytes.last()), (Some(&0xFA), Some(&0xFC)));
    assert_eq!(bytes.iter().filter(|&&byte| byte == 0xFC).count(), 1);
}

#[test]
fn silence_stops_and_a_later_start_is_heard_again() {
    let (rig, port) = rig(&[("A", 1)], false);
    rig.command(Command::Click(chaconne_engine::Click::Always)).unwrap();
    for _ in 0..2 {
        rig.command(Command::Play).unwrap();
        let count = port.sendings().len();
        wait_for("clicks", || port.sendings().len() > count + 4);
        rig.silence();
        assert_eq!(rig.status().transport, Transport::Stopped);
        assert_eq!(rig.snapshot().stats.sounding, 0);
    }
    assert_eq!(rig.shutdown().sounding, 0);
}

#[test]
fn the_outcomes_of_saving_and_exporting_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let (rig, _port) = rig(&[("A", 2)], false);
    rig.save(None, Replace::No);
    wait_for("the first try", || rig.disk().attempts == 1);
    assert!(rig.disk().error.is_some_and(|error| error.to_string().contains("no file")));
    let rename = |title: &str| rig.command(Command::Edit(Commit::of(Edit::Title(title.into()))));
    rename("renamed").unwrap();
    assert!(rig.snapshot().is_unsaved());
    rig.command(Command::Undo).unwrap();
    assert!(!rig.snapshot().is_unsaved(), "it is what it began as");
    rename("renamed").unwrap();
    let path = folder.path().join("song.ron");
    rig.save(Some(path.clone()), Replace::No);
    wait_for("the save", || rig.disk().attempts == 2);
    assert_eq!(rig.disk().error, None);
    assert!(!rig.snapshot().is_unsaved());
    assert_eq!(crate::load(&path).unwrap(), *rig.status().song);
    // A change that is undone leaves what the file holds.
    rename("again").unwrap();
    assert!(rig.snapshot().is_unsaved());
    rig.command(Command::Undo).unwrap();
    assert!(!rig.snapshot().is_unsaved());

    let midi = folder.path().join("song.mid");
    let answer = rig.export_midi(&midi, Extent::Form, Replace::No).recv().unwrap();
    assert_eq!(answer.unwrap(), std::fs::read(&midi).unwrap().len());
    let missing = Extent::Section("Q".parse().unwrap(), HowOften::ToHearAll);
    let answer = rig.export_midi(&midi, missing, Replace::No).recv().unwrap();
    assert!(answer.unwrap_err().to_string().contains("there is no section Q"));

    rig.open(song_of("another", &[("A", 1)]), None);
    wait_for("the other song", || rig.status().song.title == "another");
    wait_for("the path to be cleared", || rig.disk().path.is_none());
    assert!(!rig.snapshot().is_unsaved());
    // A save requested before the shutdown is still written.
    rig.save(Some(folder.path().join("last.ron")), Replace::No);
    rig.shutdown();
    assert_eq!(crate::load(&folder.path().join("last.ron")).unwrap().title, "another");
}

#[test]
fn a_refusal_is_answered_and_shown() {
    let (rig, _port) = rig(&[("A", 1)], false);
    let refused = rig.command(Command::Jump("Z".parse().unwrap(), When::Seam)).unwrap_err();
    assert_eq!(refused.to_string(), "there is no section Z");
    assert_eq!(rig.status().said.1, "there is no section Z");
}

#[test]
fn a_port_that_cannot_be_opened_gives_a_notice_and_is_reported() {
    let config = RigConfig {
        outs: vec!["x=bytes:no such folder/wire".parse().unwrap()],
        ins: vec!["bytes:no such folder/wire".parse().unwrap()],
        ..RigConfig::default()
    };
    let rig = Rig::start(song_of("test", &[("A", 1)]), config).unwrap();
    assert_eq!(rig.notices().len(), 2);
    let ports = rig.snapshot().ports;
    assert_eq!((ports[0].name.as_str(), ports[0].direction), ("x", Direction::Out));
    assert_eq!((ports[1].direction, ports[1].state), (Direction::In, PortState::Lost));
    assert!(ports.iter().all(|port| port.failure.contains("no such folder/wire")));
    rig.command(Command::Play).unwrap();
    assert_eq!(rig.shutdown().sounding, 0);
}

#[cfg(unix)]
#[test]
fn a_device_that_is_not_plugged_in_gives_a_notice_and_the_port_waits_for_it() {
    let config = RigConfig {
        outs: vec!["x=bytes:/dev/no such device".parse().unwrap()],
        ins: vec!["bytes:/dev/no such device".parse().unwrap()],
        ..RigConfig::default()
    };
    let rig = Rig::start(song_of("test", &[("A", 1)]), config).unwrap();
    let notice = "port bytes:/dev/no such device is not connected yet: nothing has that name; ";
    let expected = [
        format!("{notice}silent until it appears"),
        format!("{notice}it will be used as soon as it appears"),
    ];
    assert!(rig.notices().starts_with(&expected), "{:?}", rig.notices());
    let ports = rig.snapshot().ports;
    let waits = |port: &PortReport| port.state == PortState::Waiting && port.failure.is_empty();
    assert!(ports.iter().all(waits), "{ports:?}");
}
