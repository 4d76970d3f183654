//! The rig on memory ports and the real clock. The tests wait for states, never for a time.

use super::*;
use crate::HowOften;
use crate::testing::song_of;
use chaconne_engine::{Rounds, Route, Transport};
use chaconne_ports::{MemoryPort, PortState};
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
    assert!(rig.compare_with_file().is_err(), "there is no file yet");
    rig.save(Some(path.clone()), Replace::No);
    wait_for("the save", || rig.disk().attempts == 1);
    assert_eq!(rig.compare_with_file(), Ok(Vec::new()));
    let mut theirs = load(&path).unwrap();
    theirs.title = "Ebb".into();
    std::fs::write(&path, chaconne_song::text::write(&theirs)).unwrap();
    let found = rig.compare_with_file().unwrap();
    assert_eq!(found, ["the title is 'test' here and 'Ebb' in the file"]);
    rig.command(Command::Play).unwrap();
    rig.open_file(&path).unwrap();
    assert_eq!(
        (rig.status().song.title.as_str(), rig.status().transport),
        ("Ebb", Transport::Stopped)
    );
    wait_for("the disk", || !rig.snapshot().is_unsaved());
    assert!(rig.open_file(&folder.path().join("none.ron")).is_err());
    assert_eq!(rig.status().song.title, "Ebb");
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

/// An input of the rig without a port: through-play goes elsewhere.
fn hearing(rig: &Rig, latency: Ns, thru: Thru) -> Hearing {
    thru.target().set(Some((chaconne_engine::PortIx(0), None)));
    Hearing {
        follows: false,
        source: 0,
        latency,
        taps: None,
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
fn a_song_that_undo_has_led_back_to_its_file_leaves_no_rescue_copy() {
    let folder = tempfile::tempdir().unwrap();
    let path = Some(folder.path().join("song.ron"));
    let config = RigConfig { path, ..RigConfig::default() };
    let rig = Rig::start(song_of("kept", &[("A", 2)]), config).unwrap();
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    rig.command(Command::Edit(Commit::of(Edit::Title("renamed".into())))).unwrap();
    assert!(rig.snapshot().is_unsaved());
    rig.command(Command::Undo).unwrap();
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn unsaved_changes_and_the_unfinished_round_are_rescued_and_restored_at_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let start = |song| {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song, config).unwrap()
    };
    let mut song = song_of("kept", &[("A", 999)]);
    let id = song.ids().track();
    let track = Arc::new(Track::pitched(id, "Bass"));
    Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap();
    let rig = start(song);
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing, "nothing was changed");

    let rig = start(song_of("kept", &[("A", 999)]));
    rig.command(Command::Edit(Commit::of({
        let mut ids = rig.status().song.ids();
        Edit::AddTrack { at: 0, track: Arc::new(Track::pitched(ids.track(), "Bass")) }
    })))
    .unwrap();
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    rig.press(seven(40), seven(90));
    rig.lift(seven(40));
    wait_for("the note", || {
        rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 1)
    });
    let rescuer = rig.rescuer();
    let copy = folder.path().join("song.rescue.ron");
    let (summary, rescued) = rig.shutdown_and_rescue();
    assert_eq!((summary.sounding, rescued), (0, Rescued::Copied(copy.clone())));
    // The copy is written only once.
    assert_eq!(rescuer.rescue(), Rescued::Copied(copy.clone()));
    assert_eq!(crate::load(&path).unwrap().passes.len(), 0);
    let notes = |song: &Song| -> usize {
        song.passes_in(&song.sections[0]).iter().map(|p| p.notes().len()).sum()
    };
    assert_eq!(notes(&crate::load(&copy).unwrap()), 1);

    let rig = start(crate::load(&path).unwrap());
    assert_eq!(rig.disk().rescue.map(|found| found.path), Some(copy.clone()));
    rig.restore().unwrap();
    wait_for("the copy", || rig.disk().restored.is_some());
    assert_eq!((notes(&rig.status().song), rig.snapshot().is_unsaved()), (1, true));
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    wait_for("the copy to go", || !copy.exists());
    assert_eq!(notes(&crate::load(&path).unwrap()), 1);
    assert!(rig.restore().is_err());
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn a_rig_that_does_not_end_in_time_is_rescued_while_it_runs_and_only_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let config = RigConfig { path: Some(path), ..RigConfig::default() };
    let rig = Rig::start(song_of("kept", &[("A", 1)]), config).unwrap();
    let edit = Edit::Title("changed".into());
    rig.command_and_wait(Command::Edit(Commit::of(edit))).unwrap();
    let copy = folder.path().join("song.rescue.ron");
    let rescued = rig.rescuer().rescue_within(Duration::from_secs(60));
    assert_eq!(rescued, Some(Rescued::Copied(copy.clone())));
    assert_eq!(crate::load(&copy).unwrap().title, "changed");
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Copied(copy));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn an_unwanted_rescue_copy_is_removed_and_a_restored_one_is_not_lost_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let song = song_of("kept", &[("A", 1)]);
    let start = || {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song.clone(), config).unwrap()
    };
    let copy = crate::write_copy(Some(&path), &song_of("rescued", &[("A", 1)]), None).unwrap();
    let rig = start();
    rig.restore().unwrap();
    wait_for("the copy", || rig.status().song.title == "rescued");
    wait_for("the disk", || rig.disk().restored.is_some());
    let second = folder.path().join("song.rescue-2.ron");
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Copied(second.clone()));
    std::fs::remove_file(&second).unwrap();
    let rig = start();
    rig.remove_rescue();
    wait_for("the removal", || !copy.exists());
    assert_eq!(rig.disk().rescue, None);
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn a_rescue_copy_is_no_longer_offered_after_a_save() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let copy = crate::write_copy(Some(&path), &song_of("rescued", &[("A", 1)]), None).unwrap();
    let start = || {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song_of("new", &[("A", 1)]), config).unwrap()
    };
    let rig = start();
    assert_eq!(rig.disk().rescue.map(|found| found.path), Some(copy.clone()));
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    assert_eq!(rig.disk().rescue, None);
    drop(rig);
    assert_eq!(start().disk().rescue, None);
    assert!(copy.exists(), "nothing recorded is deleted without asking");
}

#[test]
fn a_restored_song_does_not_replace_what_another_program_saved_during_the_interrupted_session() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let start = || {
        let song = crate::load(&path).unwrap();
        Rig::start(song, RigConfig { path: Some(path.clone()), ..RigConfig::default() }).unwrap()
    };
    let write = |title: &str| {
        let text = chaconne_song::text::write(&song_of(title, &[("A", 1)]));
        crate::write_whole(&path, text.as_bytes()).unwrap();
    };
    write("first");
    let rig = start();
    let edit = Edit::Title("changed".into());
    rig.command_and_wait(Command::Edit(Commit::of(edit))).unwrap();
    write("another program's");
    assert!(matches!(rig.shutdown_and_rescue().1, Rescued::Copied(_)));

    let rig = start();
    rig.restore().unwrap();
    wait_for("the copy", || rig.disk().restored.is_some());
    assert!(rig.snapshot().is_unsaved());
    rig.save(None, Replace::No);
    wait_for("the refusal", || rig.disk().attempts == 1);
    let changed = WriteError::Refused(crate::Refusal::Changed(path.clone()));
    assert_eq!(rig.disk().error, Some(changed));
    rig.save(None, Replace::Confirmed);
    wait_for("the save", || rig.disk().attempts == 2);
    assert_eq!((rig.disk().error, rig.snapshot().is_unsaved()), (None, false));
    assert_eq!(crate::load(&path).unwrap().title, "changed");
}

#[test]
fn a_rig_that_is_forced_to_end_rescues_the_unfinished_round_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let mut song = song_of("kept", &[("A", 999)]);
    let track = Arc::new(Track::pitched(song.ids().track(), "Bass"));
    Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap();
    crate::write_whole(&path, chaconne_song::text::write(&song).as_bytes()).unwrap();
    let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
    let rig = Rig::start(song, config).unwrap();
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    // One note is over, one is held.
    rig.press(seven(40), seven(90));
    rig.lift(seven(40));
    rig.press(seven(43), seven(90));
    wait_for("the notes", || {
        rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 2)
    });
    // The copy is written without stopping the engine first.
    let Some(Rescued::Copied(copy)) = rig.rescuer().rescue_within(Duration::from_secs(60)) else {
        panic!("the round is not rescued")
    };
    let rescued = crate::load(&copy).unwrap();
    let keys: Vec<u8> = rescued
        .passes_in(&rescued.sections[0])
        .into_iter()
        .flat_map(|pass| pass.notes().iter().map(|note| note.played.key.get()))
        .collect();
    assert_eq!(keys, [40, 43]);
}

#[test]
fn a_refusal_is_answered_and_shown() {
    let (rig, _port) = rig(&[("A", 1)], false);
    let refused = rig.command(Command::Jump("Z".parse().unwrap())).unwrap_err();
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

#[cfg(unix)]
mod with_fifos {
    use super::*;
    use std::fs::{File, OpenOptions};
    use std::io::{Read, Write};

    fn fifo(folder: &Path, name: &str) -> PathBuf {
        let path = folder.join(name);
        let made = std::process::Command::new("mkfifo").arg(&path).status().unwrap();
        assert!(made.success());
        path
    }

    #[test]
    fn bytes_in_are_recorded_and_come_out_of_the_port_and_a_late_reader_gets_the_settings() {
        let folder = tempfile::tempdir().unwrap();
        let (keys, synth) = (fifo(folder.path(), "keys"), fifo(folder.path(), "synth"));
        let mut song = song_of("test", &[("A", 1)]);
        let id = song.ids().track();
        let track = Track { program: Some(seven(33)), ..Track::pitched(id, "Bass") };
        Edit::AddTrack { at: 0, track: Arc::new(track) }.apply(&mut song).unwrap();
        let config = RigConfig {
            outs: vec![format!("bytes:{}", synth.display()).parse().unwrap()],
            ins: vec![format!("bytes:{}", keys.display()).parse().unwrap()],
            ..RigConfig::default()
        };
        let rig = Rig::start(song, config).unwrap();
        assert!(rig.notices().is_empty(), "{:?}", rig.notices());
        let mut reader = File::open(&synth).unwrap();
        let mut start = [0; 2];
        reader.read_exact(&mut start).unwrap();
        while start != [0xC0, 33] {
            // The messages that silence the port come first.
            start[0] = start[1];
            reader.read_exact(&mut start[1..]).unwrap();
        }
        rig.command(Command::CountIn(0)).unwrap();
        rig.command(Command::Rounds(Rounds::One)).unwrap();
        rig.command(Command::Record(true)).unwrap();
        wait_for("bar one", || rig.status().at > Tick::ZERO);
        let mut player = OpenOptions::new().write(true).open(&keys).unwrap();
        // Running status, with a clock byte inside a message (MIDI 1.0, "Running Status").
        player.write_all(&[0x95, 50, 0xF8, 90, 52, 91, 50, 0]).unwrap();
        wait_for("the notes", || {
            rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 2)
        });
        // When the player is unplugged, the key still down is released.
        drop(player);
        wait_for("the release", || rig.snapshot().stats.sounding == 0);
        rig.command(Command::Stop).unwrap();
        let pass = rig.status().song.passes_in(&rig.status().song.sections[0])[0].clone();
        let played: Vec<(u8, u8, u8)> = pass
            .notes()
            .iter()
            .map(|n| (n.channel.number(), n.played.key.get(), n.played.velocity.get()))
            .collect();
        assert_eq!(played, [(6, 50, 90), (6, 52, 91)]);
        assert_eq!(rig.shutdown().sounding, 0);
        let mut rest = Vec::new();
        reader.read_to_end(&mut rest).unwrap();
        let through = |wanted: [u8; 3]| rest.windows(3).any(|bytes| bytes == wanted);
        assert!(through([0x90, 50, 90]) && through([0x90, 52, 91]), "{rest:02X?}");
        assert!(through([0x80, 50, 64]) && through([0x80, 52, 64]), "{rest:02X?}");
    }

    #[test]
    fn playback_continues_after_a_reader_goes_away() {
        let folder = tempfile::tempdir().unwrap();
        let synth = fifo(folder.path(), "synth");
        let config = RigConfig {
            outs: vec![format!("bytes:{}", synth.display()).parse().unwrap()],
            ..RigConfig::default()
        };
        let rig = Rig::start(song_of("test", &[("A", 1)]), config).unwrap();
        let reader = File::open(&synth).unwrap();
        wait_for("the reader", || rig.snapshot().ports[0].state == PortState::Open);
        rig.command(Command::Click(chaconne_engine::Click::Always)).unwrap();
        rig.command(Command::Play).unwrap();
        wait_for("clicks", || rig.snapshot().ports[0].sent > 2);
        drop(reader);
        wait_for("the loss", || rig.snapshot().ports[0].state == PortState::Lost);
        let round = rig.status().round;
        wait_for("another round", || rig.status().round > round);
        assert_eq!(rig.shutdown().sounding, 0);
    }
}
