//! What recording promises: its work does not grow with the round, a round holds so much and says
//! when it is full, undo and redo cover what is in no pass yet, and nothing that was played is
//! dropped.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Click, Command, Input, Message, Mode, Rounds, Turn, Wire};
use chaconne_song::{
    Channel, Commit, Control, Edit, Label, Lane, Letter, PassEdit, PassId, SectionEdit, TrackId,
    Transpose, U7,
};
use chaconne_time::{Metre, MetreMap, Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// A bench that records from bar one on.
fn recording(bars: u32) -> Bench {
    let mut b = Bench::new(song(bars, 1));
    assert!(b.command(Command::Record(true)));
    b
}

/// A key goes down without ever coming up; all sixteen channels and 128 keys take turns.
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

/// The work of so many messages, a thousand a second.
fn work(b: &mut Bench, first: usize, count: usize) -> u64 {
    let before = b.engine.work();
    for index in first..first + count {
        strike(b, index);
        b.run_to(b.now + MS);
    }
    b.engine.work() - before
}

#[test]
fn a_message_costs_the_same_however_long_the_round_is() {
    for mode in [Mode::Layer, Mode::Replace, Mode::Punch] {
        let mut b = Bench::new(song(64, 1));
        b.command(Command::Mode(mode));
        b.command(Command::Record(true));
        // The first of a bar may cost more in replace mode: as many bars begin in each part.
        let first = work(&mut b, 0, 2000);
        work(&mut b, 2000, 16_000);
        let last = work(&mut b, 18_000, 2000);
        // The picture of a round of n things is renewed every n × 50 µs: 20 visits a message.
        assert!(last <= first * 2 + 64 * 2000, "{mode:?}: {first} for the first, {last} at last");
    }
}

#[test]
fn what_is_still_held_at_the_close_is_completed_in_one_edit() {
    let mut b = recording(4);
    for index in 0..2000 {
        strike(&mut b, index);
    }
    b.to(4 * BAR);
    let revision = b.engine.revision();
    b.command(Command::Stop);
    // The pass was laid at the seam; stopping completes its notes, all at once.
    assert_eq!(b.engine.revision() - revision, 1);
    let song = b.engine.song();
    let pass = song.passes.values().next().unwrap();
    assert_eq!(pass.notes().len(), 2000);
    b.check_wire();
}

#[test]
fn a_key_struck_again_while_it_sounds_ends_the_note_before_it() {
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
    assert_eq!(b.engine.status(b.now).said.0, told, "said once in a round");
    b.to(16 * BAR + 100);
    strike(&mut b, 1);
    assert_eq!(b.engine.status(b.now).lost, 11);
    // Not within a beat after the seam, which would count for it.
    b.to(16 * BAR + 2000);
    b.command(Command::Stop);
    let lengths: Vec<usize> =
        b.engine.song().passes.values().map(|pass| pass.notes().len()).collect();
    assert_eq!(lengths, [50_000, 1]);
}

#[test]
fn exclusive_messages_fill_a_round_by_their_bytes() {
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
fn redo_brings_an_unfinished_round_back() {
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
fn a_round_that_is_over_comes_back_as_its_pass() {
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
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::Step(Label::Title)));
    b.command(Command::Redo);
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::UnfinishedRound));
    b.command(Command::Redo);
    assert_eq!(b.engine.status(b.now).redo, None);
    assert!(b.engine.status(b.now).unfinished.is_some());
    assert!(!b.command(Command::Redo));
    assert_eq!(said(&b), "nothing to redo");
}

#[test]
fn keep_finds_what_undo_threw_away() {
    let mut b = recording(2);
    b.press(100, 60);
    b.lift(400, 60);
    b.command(Command::Undo);
    b.command(Command::Record(false));
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
    assert_eq!(undo(&b), Some(Turn::Step(Label::KeepPlayed)));
    // It is kept once.
    assert!(!b.command(Command::Keep));
}

#[test]
fn new_bars_under_a_take_leave_what_was_played_as_a_pass() {
    let mut b = recording(4);
    b.press(100, 60);
    b.lift(400, 60);
    b.to(BAR);
    let bars = MetreMap::new(2, Metre::new(3, 4).unwrap()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(bars));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    assert_eq!(b.passes(), [vec![(100, 300, 60)]]);
    assert_eq!(undo(&b), Some(Turn::Step(Label::Bars)));
    b.command(Command::Undo);
    assert_eq!(undo(&b), Some(Turn::Step(Label::NewPass)));
}

#[test]
fn what_was_played_before_undo_changed_the_bars_can_still_be_kept() {
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

/// A one-bar loop whose pass moves controller 1: 10 at the top, 20 from the third beat on.
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
fn a_controller_touched_live_stays_so_until_the_seam_though_something_is_muted_just_before() {
    let mut b = moving();
    b.change(3 * BAR - 600, 1, 77);
    // The seam is within the look-ahead now; what is muted is another track's affair or this one's.
    b.to(3 * BAR - 80);
    b.command(Command::MuteTrack(TrackId(1), true));
    b.command(Command::Undo);
    b.to(3 * BAR + 20);
    let moves = b.heard(3 * BAR - 601, 3 * BAR + 10);
    let moves: Vec<&str> = moves.split(' ').filter(|word| word.contains("c1=")).collect();
    // What the player sent is passed through by others; from the seam on the lane has it again.
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
        Command::Jump("Q".parse().unwrap()),
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
fn a_section_that_gets_another_letter_plays_on_and_its_round_is_recorded() {
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

#[test]
fn what_is_recorded_under_a_transposition_sounds_as_it_was_played() {
    for pitched in [true, false] {
        let mut song = song(1, 1);
        song.transpose = Transpose::new(-3).unwrap();
        Arc::make_mut(&mut song.tracks[0]).pitched = pitched;
        let mut b = Bench::new(song);
        b.command(Command::Record(true));
        b.press(0, 60);
        b.lift(100, 60);
        b.to(2 * BAR);
        assert_eq!(b.passes(), [[(0, 100, if pitched { 63 } else { 60 })]]);
        assert_eq!(b.heard(BAR, 2 * BAR), "3840+60 3940-60");
    }
}
