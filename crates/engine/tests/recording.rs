//! What recording promises: the work for a message does not grow with the round; a round has a limit,
//! and the status says when it is full; undo and redo include the unfinished round; and nothing that
//! was played is lost.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Click, Command, Config, Input, Message, Mode, Rounds, Turn, When, Wire};
use chaconne_song::{
    Channel, Commit, Control, Edit, Label, Lane, Letter, PassEdit, PassId, Section, SectionEdit,
    Track, TrackId, Transpose, U7,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// A bench that records from bar one on.
fn recording(bars: u32) -> Bench {
    let mut b = Bench::new(song(bars, 1));
    assert!(b.command(Command::Record(true)));
    b
}

/// Presses a key that never comes up. All sixteen channels and 128 keys take turns.
fn strike(b: &mut Bench, index: usize) {
    let channel = Channel::from_number(1 + (index / 128 % 16) as u8).unwrap();
    let (key, velocity) = (U7::low_bits((index % 128) as u8), U7::low_bits(80));
    b.engine.input(b.now, 0, Message::NoteOn { channel, key, velocity }.into());
}

fn said(b: &Bench) -> String {
    b.engine.status(b.now).said.1
}

fn undo(b: &Bench) -> Option<Turn> {
    b.engine.status(b.now).undo
}

/// The work for `count` messages, a thousand a second.
fn work(b: &mut Bench, first: usize, count: usize) -> u64 {
    let before = b.engine.work();
    for index in first..first + count {
        strike(b, index);
        b.run_to(b.now + MS);
    }
    b.engine.work() - before
}

#[test]
fn the_work_for_a_message_does_not_grow_with_the_round() {
    let all = [Mode::Layer, Mode::Replace, Mode::Punch].map(|mode| (mode, Rounds::All));
    for (mode, rounds) in all.into_iter().chain([(Mode::Layer, Rounds::Newest)]) {
        let mut b = Bench::new(song(64, 1));
        b.command(Command::Mode(mode));
        b.command(Command::Rounds(rounds));
        b.command(Command::Record(true));
        // In replace mode the first note of a bar costs more; each of these parts has as many bars.
        let first = work(&mut b, 0, 2000);
        work(&mut b, 2000, 16_000);
        let last = work(&mut b, 18_000, 2000);
        assert!(first >= 2000, "each message is looked at: {first}");
        // A round of n things is redrawn every n × 50 µs, which looks at 20 things per message.
        assert!(last <= first * 2 + 64 * 2000, "{mode:?}: {first} for the first, {last} at last");
    }
}

#[test]
fn a_take_that_nobody_hears_costs_the_same_at_each_message() {
    for mode in [Mode::Layer, Mode::Replace, Mode::Punch] {
        for rounds in [Rounds::All, Rounds::Newest, Rounds::One] {
            let config = Config { lead: 0, silent: true, ..Config::default() };
            let mut b = Bench::with(song(1, 1), config);
            b.command(Command::Mode(mode));
            b.command(Command::Rounds(rounds));
            b.command(Command::Record(true));
            // A bar lasts two seconds at 120: each part closes a round of 2,000 messages. By the
            // sixth, the rounds that are kept for *keep what I played* are full.
            work(&mut b, 0, 10_000);
            let first = work(&mut b, 10_000, 2000);
            work(&mut b, 12_000, 6000);
            let last = work(&mut b, 18_000, 2000);
            assert!(last <= first + 100, "{mode:?} {rounds:?}: {first} at first, {last} at last");
        }
    }
}

/// Key pressure on one key, a thousand moves a second, for so many milliseconds.
fn lean(b: &mut Bench, count: usize) {
    for index in 0..count {
        let (channel, key) = (Channel::default(), U7::low_bits(60));
        let value = U7::low_bits(1 + (index % 120) as u8);
        b.engine.input(b.now, 0, Message::KeyPressure { channel, key, value }.into());
        b.run_to(b.now + MS);
    }
}

#[test]
fn key_pressure_costs_the_same_however_long_the_round_is() {
    let mut b = recording(64);
    let mut work = |count| {
        let before = b.engine.work();
        lean(&mut b, count);
        b.engine.work() - before
    };
    let first = work(1000);
    work(6000);
    let last = work(1000);
    // The picture, as in the test above: 20 visits a message.
    assert!(last <= first * 2 + 64 * 1000, "{first} for the first, {last} at last");
}

#[test]
fn a_pass_is_not_written_again_for_each_move_that_goes_on_after_its_seam() {
    let mut b = recording(1);
    b.to(3000);
    lean(&mut b, 500);
    assert!(b.engine.tick_at(b.now) > Some(Tick(BAR)));
    let revision = b.engine.revision();
    lean(&mut b, 1000);
    // Every 200 ms.
    let written = b.engine.revision() - revision;
    assert!((4..=6).contains(&written), "{written} times in a second");
}

#[test]
fn undo_discards_a_note_played_early_for_the_unfinished_round_in_silence_too() {
    for silent in [false, true] {
        let config = Config { lead: 0, silent, ..Config::default() };
        let mut b = Bench::with(song(1, 1), config);
        b.command(Command::Record(true));
        b.press(BAR - 50, 60);
        b.lift(BAR - 20, 60);
        // A command brings the round before up to date.
        b.command(Command::Click(Click::Always));
        b.to(BAR + 300);
        assert!(b.command(Command::Undo), "silent: {silent}, {}", said(&b));
        b.to(2 * BAR + 300);
        assert!(b.passes().is_empty(), "silent: {silent}");
    }
}

#[test]
fn all_notes_still_held_at_a_stop_are_completed_in_one_edit() {
    let mut b = recording(4);
    for index in 0..2000 {
        strike(&mut b, index);
    }
    b.to(4 * BAR);
    let revision = b.engine.revision();
    b.command(Command::Stop);
    // The pass was added at the seam; stopping completes all its notes at once.
    assert_eq!(b.engine.revision() - revision, 1);
    let song = b.engine.song();
    let pass = song.passes.values().next().unwrap();
    assert_eq!(pass.notes().len(), 2000);
    b.check_wire();
}

#[test]
fn of_a_key_struck_twice_the_second_release_is_ignored() {
    let mut b = recording(2);
    b.press(0, 60);
    b.press(480, 60);
    b.lift(960, 60);
    b.lift(1200, 60);
    b.to(2 * BAR + 10);
    assert_eq!(b.passes(), [vec![(0, 480, 60), (480, 480, 60)]]);
}

#[test]
fn a_full_round_says_so_once_and_the_next_one_has_room_again() {
    let mut b = recording(16);
    b.to(100);
    for index in 0..50_010 {
        strike(&mut b, index);
    }
    b.run_to(b.now + 5 * MS);
    assert!(said(&b).contains("this round is full"), "{}", said(&b));
    assert_eq!(b.engine.status(b.now).lost, 10);
    let told = b.engine.status(b.now).said.0;
    strike(&mut b, 1);
    assert_eq!(b.engine.status(b.now).said.0, told, "said once per round");
    b.to(16 * BAR + 100);
    strike(&mut b, 1);
    assert_eq!(b.engine.status(b.now).lost, 11);
    // Within a beat after the seam, the stop would count for the seam.
    b.to(16 * BAR + 2000);
    b.command(Command::Stop);
    let lengths: Vec<usize> =
        b.engine.song().passes.values().map(|pass| pass.notes().len()).collect();
    assert_eq!(lengths, [50_000, 1]);
}

#[test]
fn system_exclusive_messages_count_by_their_bytes() {
    let mut b = recording(4);
    b.to(100);
    let mut bytes = vec![0x10; 1 << 16];
    (bytes[0], *bytes.last_mut().unwrap()) = (0xf0, 0xf7);
    for _ in 0..17 {
        b.engine.input(b.now, 0, Input::Heard(Wire::SysEx(bytes.clone())));
    }
    assert_eq!(b.engine.status(b.now).lost, 1);
    assert!(said(&b).contains("this round is full"));
}

#[test]
fn a_system_exclusive_message_stays_in_its_round_at_its_tick() {
    let mut b = recording(1);
    for (tick, byte) in [(100, 1), (BAR - 10, 2), (BAR, 3), (BAR + 1000, 4)] {
        b.to(tick);
        b.engine.input(b.now, 0, Input::Heard(Wire::SysEx(vec![0xf0, 0x7d, byte, 0xf7])));
    }
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    let song = b.engine.song();
    let rounds = song.passes_in(&song.sections[0]);
    let kept = rounds.iter().map(|pass| {
        pass.sysex().iter().map(|message| (message.at.0, message.bytes[2])).collect::<Vec<_>>()
    });
    // Unlike a note it has no early start: it sets something from when it comes.
    assert_eq!(kept.collect::<Vec<_>>(), [[(100, 1), (BAR - 10, 2)], [(0, 3), (1000, 4)]]);
}

/// The covers of the newest pass.
fn covers(b: &Bench) -> Vec<(i64, i64)> {
    let song = b.engine.song();
    let pass = song.passes.values().next_back().unwrap();
    pass.covers.iter().map(|span| (span.from.0, span.to.0)).collect()
}

#[test]
fn replace_covers_each_bar_from_its_first_note_to_its_end() {
    // A note within half a sixteenth (120 ticks) before a bar is meant for that bar.
    for (notes, expected) in [
        (vec![1000, BAR + 500], vec![(1000, BAR), (BAR + 500, 2 * BAR)]),
        (vec![1000, 2000, BAR - 60], vec![(1000, 2 * BAR)]),
        (vec![BAR - 120], vec![(BAR - 120, 2 * BAR)]),
        (vec![BAR - 121], vec![(BAR - 121, BAR)]),
    ] {
        let mut b = Bench::new(song(2, 1));
        b.command(Command::Mode(Mode::Replace));
        b.command(Command::Record(true));
        for &at in &notes {
            b.press(at, 60);
            b.lift(at + 20, 60);
        }
        b.to(2 * BAR + 1000);
        b.command(Command::Stop);
        assert_eq!(covers(&b), expected, "{notes:?}");
    }
}

#[test]
fn a_roll_over_the_seam_makes_no_empty_cover() {
    let mut song = song(1, 0);
    let metre = song.sections[0].metre.clone();
    let tempo = Tempo::parse_bpm("200").unwrap();
    song.sections = vec![Arc::new(Section::new(Letter::A, metre, tempo))];
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
    let mut b = Bench::with_grace(song, 20 * MS);
    b.command(Command::Mode(Mode::Replace));
    b.command(Command::Record(true));
    // 150 ticks at 200 are 47 ms: a roll, whose first stroke is more than half a sixteenth early.
    for (at, velocity) in [(BAR - 130, 50), (BAR + 20, 100)] {
        b.to(at);
        let (channel, key) = (Channel::default(), U7::low_bits(38));
        b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
        b.lift(at + 10, 38);
    }
    b.to(2 * BAR + 1000);
    b.command(Command::Stop);
    assert_eq!(b.passes(), [[(-130, 10, 38), (20, 10, 38)]]);
    assert_eq!(covers(&b), [(20, BAR)]);
}

#[test]
fn redo_restores_an_unfinished_round() {
    let mut b = recording(2);
    b.press(100, 60);
    b.lift(400, 60);
    assert_eq!(undo(&b), Some(Turn::UnfinishedRound));
    assert!(b.command(Command::Undo));
    assert_eq!(said(&b), "undone: unfinished round");
    assert!(b.engine.status(b.now).unfinished.is_none());
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::UnfinishedRound));
    b.to(1000);
    assert!(b.command(Command::Redo));
    assert_eq!(said(&b), "redone: unfinished round");
    assert!(b.engine.status(b.now).unfinished.is_some());
    b.to(2 * BAR + 10);
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
}

#[test]
fn redo_restores_a_round_that_is_over_as_a_pass() {
    let mut b = recording(2);
    b.press(100, 60);
    b.lift(400, 60);
    b.command(Command::Undo);
    b.to(2 * BAR + 500);
    assert_eq!(b.passes(), Vec::<Vec<_>>::new());
    assert!(b.command(Command::Redo));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
}

#[test]
fn rounds_and_steps_are_redone_in_the_order_in_which_they_were_undone() {
    let mut b = recording(2);
    b.command(Command::MuteTrack(TrackId(1), false));
    b.command(Command::Edit(Commit::of(Edit::Title("Evening".into()))));
    b.press(100, 60);
    b.lift(200, 60);
    for _ in 0..2 {
        b.command(Command::Undo);
    }
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::Step(Label::Title, None, None)));
    b.command(Command::Redo);
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::UnfinishedRound));
    b.command(Command::Redo);
    assert_eq!(b.engine.status(b.now).redo, None);
    assert!(b.engine.status(b.now).unfinished.is_some());
    assert!(!b.command(Command::Redo));
    assert_eq!(said(&b), "nothing to redo");
}

#[test]
fn keep_makes_a_pass_of_what_undo_discarded() {
    let mut b = recording(2);
    b.press(100, 60);
    b.lift(400, 60);
    b.command(Command::Undo);
    b.command(Command::Record(false));
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
    assert_eq!(undo(&b), Some(Turn::Step(Label::KeepPlayed, Some(TrackId(1)), None)));
    // It can be kept only once.
    assert!(!b.command(Command::Keep));
}

#[test]
fn changing_the_bars_under_a_take_makes_a_pass_of_what_was_played() {
    let mut b = recording(4);
    b.press(100, 60);
    b.lift(400, 60);
    b.to(BAR);
    let bars = MetreMap::new(2, Metre::new(3, 4).unwrap()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(bars));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
    assert_eq!(undo(&b), Some(Turn::Step(Label::Bars, None, None)));
    b.command(Command::Undo);
    assert_eq!(undo(&b), Some(Turn::Step(Label::NewPass, Some(TrackId(1)), None)));
}

#[test]
fn what_was_played_before_an_undo_of_the_bars_can_still_be_kept() {
    let mut b = Bench::new(song(4, 1));
    let bars = MetreMap::new(4, Metre::new(3, 4).unwrap()).unwrap();
    b.command(Command::Edit(Commit::of(Edit::Section(Letter::A, SectionEdit::Metre(bars)))));
    b.command(Command::Play);
    b.press(100, 60);
    b.lift(400, 60);
    b.to(BAR);
    b.command(Command::Undo);
    b.to(BAR + 500);
    assert!(b.command(Command::Keep), "{}", said(&b));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
}

/// A one-bar loop whose pass moves controller 1: to 10 at the top, to 20 just before the end.
fn moving() -> Bench {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(0, 60);
    b.lift(100, 60);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    let id = *b.engine.song().passes.keys().next().unwrap();
    let control = Control::Change(U7::low_bits(1));
    let point = |at, value: u8| chaconne_song::Point::step(Tick(at), U7::low_bits(value).into());
    let lane = Lane {
        channel: Channel::default(),
        control,
        span: Span::new(Tick(0), Tick(BAR)),
        points: vec![point(0, 10), point(3800, 20)],
    };
    assert!(b.command(Command::Edit(Commit::of(Edit::Pass(id, PassEdit::AddLane(lane))))));
    b
}

#[test]
fn a_controller_that_the_player_moved_stays_until_the_seam_despite_a_mute_just_before() {
    let mut b = moving();
    b.change(3 * BAR - 600, 1, 77);
    // The seam is within the look-ahead now, so the move at the seam was performed already.
    b.to(3 * BAR - 80);
    b.command(Command::MuteTrack(TrackId(1), true));
    b.command(Command::Undo);
    b.to(3 * BAR + 20);
    let moves = b.heard(3 * BAR - 601, 3 * BAR + 10);
    let moves: Vec<&str> = moves.split(' ').filter(|word| word.contains("c1=")).collect();
    // The player's own move is through-played, not on this wire. From the seam on the lane moves it.
    assert_eq!(moves, [format!("{}c1=10", 3 * BAR)]);
}

#[test]
fn a_refusal_changes_nothing() {
    let mut b = Bench::new(song(2, 2));
    b.command(Command::Click(Click::Always));
    b.command(Command::Record(true));
    b.press(100, 60);
    let state = |b: &Bench| {
        let mut status = b.engine.status(b.now);
        status.said = (0, String::new());
        format!("{status:?}")
    };
    let empty = {
        let mut song = song(1, 1);
        song.sections.clear();
        song
    };
    let unknown = TrackId(99);
    let commands = [
        Command::SoloTrack(unknown, true),
        Command::SoloPass(PassId(99), true),
        Command::MuteTrack(unknown, true),
        Command::MutePass(Letter::A, PassId(99), true),
        Command::Arm(unknown),
        Command::Program(unknown, None),
        Command::Audition(unknown, None),
        Command::Jump("Q".parse().unwrap(), When::Seam),
        Command::Locate(Tick(0)),
        Command::CountIn(9),
        Command::Rounds(Rounds::One),
        Command::RemoveTop,
        Command::Redo,
        Command::AddTrack { name: " ".into(), drums: false, program: None },
        Command::Edit(Commit::of(Edit::RemoveTrack(unknown))),
        Command::EditOn(Commit::of(Edit::RemoveSection(Letter::A))),
        Command::Open(Box::new(empty)),
    ];
    for command in commands {
        let (before, words) = (state(&b), format!("{command:?}"));
        assert!(b.engine.command(b.now, command).is_err(), "{words}");
        assert_eq!(b.engine.take_orders().count(), 0, "{words}");
        assert_eq!(state(&b), before, "{words}");
    }
}

#[test]
fn another_song_starts_with_the_settings_of_the_start() {
    let mut b = Bench::new(song(1, 1));
    let settings = |b: &Bench| {
        let status = b.engine.status(b.now);
        (status.mode, status.rounds, status.click, status.count_in)
    };
    let at_start = (Mode::Layer, Rounds::All, Click::Recording, 1);
    b.command(Command::Mode(Mode::Punch));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Click(Click::Always));
    b.command(Command::CountIn(4));
    assert_eq!(settings(&b), (Mode::Punch, Rounds::Newest, Click::Always, 4));
    b.command(Command::Open(Box::new(song(2, 2))));
    assert_eq!(settings(&b), at_start);
}

#[test]
fn steps_of_a_run_are_undone_as_one() {
    let mut b = Bench::new(song(1, 1));
    for name in ["B", "Ba", "Bass"] {
        let edit = Edit::Track(TrackId(1), chaconne_song::TrackEdit::Name(name.into()));
        assert!(b.command(Command::EditOn(Commit::of(edit))));
    }
    assert_eq!(b.engine.song().tracks[0].name, "Bass");
    b.command(Command::Undo);
    assert_eq!(b.engine.song().tracks[0].name, "Track 1");
    assert!(!b.command(Command::Undo));
    assert_eq!(said(&b), "nothing to undo");
}

#[test]
fn a_renamed_section_plays_on_and_its_round_is_recorded() {
    let mut b = recording(2);
    b.press(100, 60);
    b.lift(400, 60);
    let letter: Letter = "C".parse().unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Letter(letter));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    assert_eq!(b.engine.status(b.now).section, letter);
    b.to(2 * BAR + 500);
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
    assert!(b.heard(2 * BAR, 2 * BAR + 450).starts_with(&format!("{}+60", 2 * BAR + 100)));
    b.command(Command::Undo);
    b.command(Command::Undo);
    assert_eq!(b.engine.status(b.now).section, Letter::A);
    b.command(Command::Stop);
    b.check_wire();
}

/// A bench that records one bar under a transposition by three semitones down.
fn recording_transposed(pitched: bool) -> Bench {
    let mut song = song(1, 1);
    song.transpose = Transpose::new(-3).unwrap();
    Arc::make_mut(&mut song.tracks[0]).pitched = pitched;
    let mut b = Bench::new(song);
    b.command(Command::Record(true));
    b
}

#[test]
fn a_note_recorded_under_a_transposition_sounds_as_it_was_played() {
    for pitched in [true, false] {
        let mut b = recording_transposed(pitched);
        b.press(0, 60);
        b.lift(100, 60);
        b.to(2 * BAR);
        assert_eq!(b.passes(), [[(0, 100, if pitched { 63 } else { 60 })]]);
        assert_eq!(b.heard(BAR, 2 * BAR), "3840+60 3940-60");
    }
}

#[test]
fn key_pressure_recorded_under_a_transposition_stays_with_its_key() {
    for pitched in [true, false] {
        let mut b = recording_transposed(pitched);
        b.press(0, 60);
        for (tick, value) in [(50, 40), (90, 0)] {
            b.to(tick);
            let (key, value) = (U7::low_bits(60), U7::low_bits(value));
            b.input(Message::KeyPressure { channel: Channel::default(), key, value });
        }
        b.lift(100, 60);
        b.to(2 * BAR);
        let song = b.engine.song();
        let lanes = song.passes.values().flat_map(|pass| pass.lanes()).map(|lane| lane.control);
        let key = U7::low_bits(if pitched { 63 } else { 60 });
        assert_eq!(lanes.collect::<Vec<_>>(), [Control::KeyPressure(key)]);
        let pressed = b.wire.iter().filter_map(|(at, message)| match message {
            Message::KeyPressure { key, value, .. } => Some((at.0, key.get(), value.get())),
            _ => None,
        });
        assert_eq!(pressed.collect::<Vec<_>>(), [(BAR + 50, 60, 40), (BAR + 90, 60, 0)]);
    }
}

#[test]
fn a_take_of_one_pass_begins_another_when_a_further_round_would_make_it_too_long() {
    // Bars as short as they can be: a pass of 999 bars, the longest there is, then lasts 7.5 s.
    for (bars, rounds) in [(333, 3), (400, 2)] {
        let metre = MetreMap::new(bars, Metre::new(1, 32).unwrap()).unwrap();
        let (length, tempo) = (120 * i64::from(bars), Tempo::parse_bpm("1000").unwrap());
        let mut song = song(1, 1);
        song.sections = vec![Arc::new(Section::new(Letter::A, metre, tempo))];
        let mut b = Bench::new(song);
        b.command(Command::Rounds(Rounds::One));
        b.command(Command::Play);
        b.to(length + 1000);
        b.command(Command::Record(true));
        for at in [length + 2000, (rounds + 1) * length + 3000] {
            b.press(at, 60);
            b.lift(at + 100, 60);
        }
        b.to((rounds + 1) * length + 5000);
        b.command(Command::Record(false));
        assert_eq!(b.passes(), [[(2000, 100, 60)], [(3000, 100, 60)]], "{bars} bars");
        let song = b.engine.song();
        let lengths = song.passes.values().map(|pass| pass.length.0);
        assert_eq!(lengths.collect::<Vec<_>>(), [rounds * length, length], "{bars} bars");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_note_on_bar_one_that_arrives_late_was_not_played_during_the_count_in() {
    let mut song = song(1, 1);
    let metre = song.sections[0].metre.clone();
    let tempo = Tempo::parse_bpm("600").unwrap();
    song.sections = vec![Arc::new(Section::new(Letter::A, metre, tempo))];
    for (tick, early) in [(-1, true), (0, false)] {
        let mut b = Bench::with_grace(song.clone(), 120 * MS);
        b.command(Command::CountIn(1));
        b.command(Command::Record(true));
        b.command(Command::Record(false));
        // A beat, within which record would count for bar one, lasts 100 ms.
        b.to(970);
        b.command(Command::Record(true));
        b.late_note(tick, 20, 60);
        assert_eq!(said(&b).contains("during the count-in"), early, "{tick}: {}", said(&b));
    }
}
