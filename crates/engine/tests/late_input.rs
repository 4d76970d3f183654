//! Input that was played before a seam and arrives after it, with commands in between.
//!
//! A round stays open for a while after its seam (here 80 ms), so that the slowest input can still
//! deliver what was played in it. A command closes it sooner; what arrives later joins its pass.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Click, Command, Input, Message, Mode, Rounds, Route, When, Wire};
use chaconne_song::{
    Channel, Commit, Edit, Feel, KeySignature, Letter, SectionEdit, TrackEdit, TrackId, U7,
};
use chaconne_time::{NoteValue, Tempo, TempoMap, TempoPoint, Tick};

const BAR: i64 = 3840;

fn tempo(bpm: u32) -> Tempo {
    Tempo::from_milli_bpm(bpm * 1000).unwrap()
}

/// A loop of one bar, recorded, with a note in its first round; 20 ms after the seam.
fn just_after_the_seam() -> Bench {
    let mut b = Bench::with_grace(song(1, 2), 80 * MS);
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR);
    b.run_to(b.now + 20 * MS);
    assert_eq!(b.passes().len(), 0, "the round is still open");
    b
}

/// What is recorded if a command comes 20 ms after the seam, a note from before the seam arrives 40 ms
/// after it, and another note is played in the next round.
fn recorded(command: Option<Command>) -> Vec<Vec<(i64, i64, u8)>> {
    let mut b = just_after_the_seam();
    if let Some(command) = command {
        b.command(command);
    }
    b.run_to(b.now + 20 * MS);
    b.late_note(BAR - 300, 40, 64);
    b.press(BAR + 1000, 67);
    b.lift(BAR + 1100, 67);
    b.to(3 * BAR);
    let passes = b.passes();
    b.command(Command::Stop);
    b.check_wire();
    passes
}

#[test]
fn late_input_finds_its_round_whatever_command_comes_in_between() {
    let both = vec![vec![(100, 100, 60), (3540, 40, 64)], vec![(1000, 100, 67)]];
    assert_eq!(recorded(None), both);
    let track = TrackId(2);
    let map = TempoMap::new(tempo(90));
    for command in [
        Command::Tempo(tempo(90)),
        Command::Click(Click::Always),
        Command::CountIn(2),
        Command::MuteTrack(track, true),
        Command::MuteTrack(TrackId(1), true),
        Command::SoloTrack(track, true),
        Command::Feel(TrackId(1), Feel { pull: 40, ..Feel::off(false) }),
        Command::Panic,
        Command::Mode(Mode::Replace),
        Command::Arm(TrackId(1)),
        Command::Redo,
        Command::Jump(Letter::A, When::Seam),
        Command::Edit(Commit::of(Edit::Track(TrackId(2), TrackEdit::Name("Other".into())))),
        Command::Edit(Commit::of(Edit::Section(Letter::A, SectionEdit::Tempo(map)))),
        Command::Edit(Commit::of(Edit::Key(None::<KeySignature>))),
    ] {
        assert_eq!(recorded(Some(command.clone())), both, "{command:?}");
    }
}

#[test]
fn it_finds_its_round_after_taps_too() {
    let mut b = just_after_the_seam();
    let now = b.now;
    for at in [now - 510 * MS, now - 10 * MS] {
        b.tap(at);
    }
    assert_eq!(b.engine.song().sections[0].tempo.first(), tempo(120));
    b.late_note(BAR - 300, 40, 64);
    b.to(2 * BAR);
    assert_eq!(b.passes(), [vec![(100, 100, 60), (3540, 40, 64)]]);
}

#[test]
fn a_command_closes_the_round_at_once() {
    let once = Route::rounds(&song(1, 2), Letter::A, 1).unwrap();
    let other = "B".parse().unwrap();
    for command in [
        Command::Stop,
        Command::Record(false),
        Command::Mode(Mode::Replace),
        Command::Arm(TrackId(2)),
        Command::Redo,
        Command::Keep,
        Command::Jump(Letter::A, When::Seam),
        Command::PlayRoute(once),
        Command::Edit(Commit::of(Edit::Section(Letter::A, SectionEdit::Letter(other)))),
    ] {
        let mut b = just_after_the_seam();
        b.command(command.clone());
        assert_eq!(b.passes(), [vec![(100, 100, 60)]], "{command:?}");
    }
    for command in [Command::Undo, Command::RemoveTop] {
        let mut b = just_after_the_seam();
        assert!(b.command(command.clone()));
        b.to(2 * BAR);
        assert_eq!(b.passes().len(), 0, "{command:?}");
    }
}

#[test]
fn rule_4_a_change_made_after_the_seam_is_undone_before_the_pass() {
    let mut b = just_after_the_seam();
    b.command(Command::MuteTrack(TrackId(2), true));
    b.run_to(b.now + 200 * MS);
    assert_eq!(b.passes().len(), 1);
    b.command(Command::Record(false));
    let state = |b: &Bench| (b.engine.song().tracks[1].mute, b.passes().len());
    for expected in [(false, 1), (false, 0)] {
        assert!(b.command(Command::Undo));
        assert_eq!(state(&b), expected);
    }
    assert!(!b.command(Command::Undo));
    for expected in [(false, 1), (true, 1)] {
        assert!(b.command(Command::Redo));
        assert_eq!(state(&b), expected);
    }
}

#[test]
fn tempo_changes_across_a_seam_are_undone_back_to_the_seam_and_then_the_pass() {
    let mut b = Bench::with_grace(song(1, 1), 80 * MS);
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR - 50);
    b.command(Command::Tempo(tempo(110)));
    b.to(BAR);
    for bpm in [100, 90] {
        b.run_to(b.now + 10 * MS);
        b.command(Command::Tempo(tempo(bpm)));
    }
    b.run_to(b.now + 200 * MS);
    b.command(Command::Record(false));
    let state = |b: &Bench| (b.engine.song().sections[0].tempo.first(), b.passes().len());
    assert_eq!(state(&b), (tempo(90), 1));
    for expected in [(tempo(110), 1), (tempo(110), 0), (tempo(120), 0)] {
        assert!(b.command(Command::Undo));
        assert_eq!(state(&b), expected);
    }
}

#[test]
fn the_last_round_of_a_route_waits_for_late_input_too() {
    let feel = Command::Feel(TrackId(1), Feel::off(false).on(NoteValue::SIXTEENTH));
    for command in [None, Some(feel)] {
        let mut b = Bench::with_grace(song(1, 1), 80 * MS);
        let once = Route::rounds(b.engine.song(), Letter::A, 1).unwrap();
        b.command(Command::PlayRoute(once));
        b.command(Command::Record(true));
        b.to(BAR - 20);
        let stamps = [-300, -260].map(|at| b.engine.ns_at(Tick(BAR + at)).unwrap());
        b.run_to(b.now + 30 * MS);
        command.clone().map(|command| b.command(command));
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(64), U7::low_bits(99));
        b.late_input(stamps[0], Message::NoteOn { channel, key, velocity });
        b.late_input(stamps[1], Message::NoteOff { channel, key, velocity });
        b.run_to(b.now + 200 * MS);
        assert_eq!(b.passes(), [vec![(3540, 40, 64)]], "{command:?}");
        assert_eq!(b.engine.tick_at(b.now), None, "it has stopped");
        b.check_wire();
    }
}

#[test]
fn late_input_that_makes_a_pass_of_an_empty_round_makes_it_the_newest_one() {
    let mut b = Bench::with_grace(song(1, 1), 20 * MS);
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    // The second round is empty until this arrives in the third.
    b.to(2 * BAR + 300);
    b.late_note(2 * BAR - 500, 40, 62);
    b.press(2 * BAR + 1000, 64);
    b.lift(2 * BAR + 1100, 64);
    b.to(3 * BAR + 300);
    let mutes: Vec<bool> =
        b.engine.song().sections[0].layers.iter().map(|layer| layer.mute).collect();
    assert_eq!(mutes, [true, true, false]);
}

#[test]
fn late_system_exclusive_messages_go_after_those_of_the_same_tick() {
    let mut b = Bench::with_grace(song(1, 1), 20 * MS);
    b.command(Command::Record(true));
    b.to(50);
    let stamps = [50, 2000].map(|tick| b.engine.ns_at(Tick(tick)).unwrap());
    let message = |byte| Input::Heard(Wire::SysEx(vec![0xF0, 0x7D, byte, 0xF7]));
    b.engine.input(stamps[0], 0, message(1));
    b.engine.input(stamps[1], 0, message(2));
    b.to(BAR + 300);
    for byte in [3, 4] {
        b.engine.input(stamps[1], 0, message(byte));
    }
    b.to(BAR + 400);
    let song = b.engine.song();
    let passes = song.passes_in(&song.sections[0]);
    let sent = passes[0].sysex().iter().map(|message| (message.at.0, message.bytes[2]));
    assert_eq!(sent.collect::<Vec<_>>(), [(50, 1), (2000, 2), (2000, 3), (2000, 4)]);
}

#[test]
fn a_key_that_arrives_after_a_stop_and_never_comes_up_is_released_at_the_stop() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    let stamp = b.engine.ns_at(Tick(1500)).unwrap();
    b.to(2000);
    b.command(Command::Stop);
    let (channel, key, velocity) = (Channel::default(), U7::low_bits(64), U7::low_bits(90));
    b.late_input(stamp, Message::NoteOn { channel, key, velocity });
    assert_eq!(b.passes(), [vec![(100, 100, 60), (1500, BAR, 64)]], "it is still down");
    b.command(Command::Play);
    assert_eq!(b.passes(), [vec![(100, 100, 60), (1500, 500, 64)]]);
}

#[test]
fn a_note_played_before_a_change_of_tempo_and_delivered_after_it_keeps_its_place() {
    let mut song = song(2, 1);
    let slower =
        [(0, 120), (BAR, 60)].map(|(at, bpm)| TempoPoint { at: Tick(at), tempi: vec![tempo(bpm)] });
    let map = TempoMap::with_points(slower.to_vec()).unwrap();
    std::sync::Arc::make_mut(&mut song.sections[0]).tempo = map;
    let mut b = Bench::with_grace(song, 120 * MS);
    b.command(Command::Record(true));
    b.to(BAR + 60);
    b.late_note(BAR - 60, 40, 60);
    b.to(2 * BAR + 500);
    assert_eq!(b.passes(), [[(BAR - 60, 40, 60)]]);
    b.command(Command::Stop);
    b.check_wire();
}
