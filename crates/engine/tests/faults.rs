//! Faults that were found where two rules meet, each as the smallest case that showed it.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Mode, Rounds, When};
use chaconne_song::{
    Channel, Commit, Control, Edit, Feel, Laid, Lane, Letter, Note, NoteId, Pass, PassId, Placed,
    Point, Section, SectionEdit, Shape, Song, Stroke, TrackId, Transpose, U7, U14,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, TempoMap, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// The edit that gives section A `bars` bars of 3/4.
fn three_four(bars: u32) -> Edit {
    let metre = MetreMap::new(bars, Metre::new(3, 4).unwrap()).unwrap();
    Edit::Section(Letter::A, SectionEdit::Metre(metre))
}

/// A song of one bar in which the modulation wheel moves on each beat.
fn with_wheel() -> Song {
    let mut song = song(1, 2);
    let points = (0..4).map(|beat| Point {
        at: Tick(beat * 960),
        value: U14::new(10 + beat as u16).unwrap(),
        shape: Shape::Step,
    });
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    pass.notes_mut().lanes.push(Lane {
        channel: Channel::default(),
        control: Control::Change(U7::low_bits(1)),
        span: Span::new(Tick::ZERO, Tick(BAR)),
        points: points.collect(),
    });
    Edit::lay(Letter::A, 0, Arc::new(pass)).apply(&mut song).unwrap();
    song
}

#[test]
fn changing_the_bars_while_recording_closes_the_unfinished_round_and_keeps_it() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(1500);
    assert!(b.command(Command::Edit(Commit::of(three_four(2)))));
    assert_eq!(b.passes(), [vec![(960, 100, 60)]]);
    // Undo takes back the bars first, then the pass.
    b.command(Command::Undo);
    assert_eq!(b.passes().len(), 1);
    b.command(Command::Undo);
    assert_eq!(b.passes().len(), 0);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_refused_change_of_the_bars_leaves_the_round_open() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(BAR + 100);
    b.press(BAR + 960, 62);
    let metre = MetreMap::new(1, Metre::new(1, 1).unwrap()).unwrap();
    let missing = "Z".parse().unwrap();
    let refused = Edit::Section(missing, SectionEdit::Metre(metre));
    assert!(!b.command(Command::Edit(Commit::of(refused))));
    let status = b.engine.status(b.now);
    assert!(status.recording && status.unfinished.is_some());
}

#[test]
fn muting_within_the_look_ahead_does_not_take_a_controller_from_the_player() {
    let mut b = Bench::new(with_wheel());
    b.command(Command::Play);
    b.change(480, 1, 99);
    // The next round is performed already, and its first move with it.
    b.to(BAR - 100);
    b.command(Command::MuteTrack(TrackId(2), true));
    b.command(Command::MuteTrack(TrackId(1), true));
    b.command(Command::MuteTrack(TrackId(1), false));
    b.to(BAR + 500);
    assert_eq!(b.heard(480, BAR), "");
    assert_eq!(b.heard(BAR, BAR + 500), format!("{BAR}c1=10"));
}

#[test]
fn undo_within_the_look_ahead_does_not_take_a_controller_from_the_player_either() {
    let mut b = Bench::new(with_wheel());
    b.command(Command::MuteTrack(TrackId(1), true));
    b.command(Command::MuteTrack(TrackId(1), false));
    b.command(Command::Play);
    b.change(2000, 1, 99);
    b.to(BAR - 60);
    b.command(Command::Undo);
    b.command(Command::Redo);
    b.to(BAR - 1);
    assert_eq!(b.heard(2001, BAR), "");
}

#[test]
fn soloing_a_missing_track_or_pass_is_refused_and_silences_nothing() {
    let mut b = Bench::new(song(1, 2));
    b.command(Command::Record(true));
    b.press(0, 60);
    b.lift(100, 60);
    b.to(BAR - 200);
    assert!(!b.command(Command::SoloTrack(TrackId(99), true)));
    assert!(!b.command(Command::SoloPass(PassId(99), true)));
    b.to(2 * BAR);
    let status = b.engine.status(b.now);
    assert!(status.solo_tracks.is_empty() && status.solo_passes.is_empty());
    assert_eq!(b.heard(BAR, 2 * BAR), "3840+60 3940-60");
}

#[test]
fn refusing_to_open_a_song_leaves_the_music_playing() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.to(100);
    let mut empty = song(1, 1);
    empty.sections.clear();
    let before = Arc::clone(b.engine.song());
    assert!(!b.command(Command::Open(Box::new(empty))));
    assert!(b.engine.tick_at(b.now).is_some(), "it still rolls");
    assert_eq!(*b.engine.song(), before);
}

#[test]
fn undo_and_redo_cover_the_unfinished_round() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.press(2000, 62);
    b.lift(2100, 62);
    b.to(2500);
    assert!(b.command(Command::Undo));
    assert!(b.engine.status(b.now).unfinished.is_none());
    b.to(3000);
    assert!(b.command(Command::Redo));
    let unfinished = b.engine.status(b.now).unfinished.expect("the round is back");
    assert_eq!(unfinished.notes().len(), 2);
    b.to(2 * BAR + 100);
    assert_eq!(b.passes(), [vec![(960, 100, 60), (2000, 100, 62)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn redo_after_the_seam_restores_an_undone_round_as_a_pass() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(2000);
    assert!(b.command(Command::Undo));
    b.to(BAR + 500);
    assert!(b.passes().is_empty());
    assert!(b.command(Command::Redo));
    assert_eq!(b.passes(), [vec![(960, 100, 60)]]);
    assert!(b.command(Command::Undo));
    assert!(b.passes().is_empty());
}

#[test]
fn keep_makes_a_pass_of_an_undone_round() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(2000);
    b.command(Command::Undo);
    b.command(Command::Record(false));
    b.to(BAR + 100);
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(960, 100, 60)]]);
}

#[test]
fn a_key_struck_again_while_it_is_down_ends_the_note_before_it() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(0, 60);
    b.press(960, 60);
    b.press(1920, 60);
    b.lift(2000, 60);
    b.to(2 * BAR);
    assert_eq!(b.passes(), [vec![(0, 960, 60), (960, 960, 60), (1920, 80, 60)]]);
    b.command(Command::Stop);
    b.check_wire();
    let round = format!("{BAR}+60 4800-60 4800+60 5760-60 5760+60 5840-60");
    assert_eq!(b.heard(BAR, 2 * BAR), round);
}

/// A bench with a lead, so that something can happen between a start and its first tick. Its song has
/// a note on the first beat.
fn about_to_start() -> Bench {
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick::ZERO, length: Tick(100), key, velocity, release };
    let channel = Channel::default();
    pass.notes_mut().notes =
        vec![Note { id: NoteId(1), channel, played, placed: Placed::UNCHANGED }];
    song.lay(Letter::A, pass);
    Bench::with(song, Config { lead: 5 * MS, ..Config::default() })
}

#[test]
fn bars_changed_just_before_the_first_tick_apply_from_the_first_tick() {
    let mut b = about_to_start();
    b.command(Command::Play);
    b.run_to(2 * MS);
    assert!(b.engine.tick_at(b.now) < Some(Tick::ZERO));
    b.command(Command::Edit(Commit::of(three_four(1))));
    b.to(2 * BAR - 1);
    assert_eq!(b.heard(0, 2 * BAR), "0+60 100-60 3840+60 3940-60");
}

#[test]
fn bars_changed_in_the_count_in_apply_from_bar_one() {
    let mut b = about_to_start();
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.to(-1000);
    b.command(Command::Edit(Commit::of(three_four(1))));
    b.to(2 * BAR - 1);
    let heard = b.heard(-BAR, 2 * BAR);
    let keys: Vec<&str> = heard.split(' ').filter(|word| word.ends_with("60")).collect();
    assert_eq!(keys, ["0+60", "100-60", "3840+60", "3940-60"]);
}

#[test]
fn bars_changed_just_before_continuing_apply_from_where_it_continues() {
    let mut b = about_to_start();
    assert!(b.command(Command::Locate(Tick(960))));
    b.command(Command::Continue);
    b.run_to(2 * MS);
    b.command(Command::Edit(Commit::of(three_four(1))));
    b.to(960 + 2880 - 1);
    assert_eq!(b.heard(960, 960 + 2880), "960+60 1060-60");
}

/// A song of two bars that has stopped in its first bar, after a note played without recording.
fn stopped_after_a_note() -> Bench {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Play);
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(3000);
    b.command(Command::Stop);
    b
}

#[test]
fn changing_the_bars_while_stopped_does_not_lose_what_can_be_kept() {
    let mut b = stopped_after_a_note();
    assert!(b.command(Command::Edit(Commit::of(three_four(2)))));
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(960, 100, 60)]]);
}

#[test]
fn renaming_a_section_while_stopped_keeps_the_position_and_what_was_played() {
    let mut b = stopped_after_a_note();
    let letter = Edit::Section(Letter::A, SectionEdit::Letter("K".parse().unwrap()));
    assert!(b.command(Command::Edit(Commit::of(letter))));
    assert_eq!(b.engine.status(b.now).at, Tick(2880));
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(960, 100, 60)]]);
    assert!(b.command(Command::Continue));
    assert_eq!(b.engine.tick_at(b.now), Some(Tick(2880)));
}

/// A finished take of two rounds in *newest*; also the pass of the first round, which is muted.
fn two_rounds_newest(song: Song) -> (Bench, PassId) {
    let mut b = Bench::new(song);
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    for (round, key) in [(0, 60), (1, 62)] {
        b.press(round * BAR + 960, key);
        b.lift(round * BAR + 1060, key);
    }
    b.to(2 * BAR + 100);
    b.command(Command::Record(false));
    let first = b.engine.song().sections[0].layers[0].pass;
    (b, first)
}

#[test]
fn an_older_round_is_heard_again_when_unmuted() {
    let (mut b, first) = two_rounds_newest(song(1, 1));
    b.command(Command::MutePass(Letter::A, first, false));
    b.to(4 * BAR);
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "12480+60 12480+62 12580-60 12580-62");
}

#[test]
fn undoing_the_newest_round_makes_the_one_before_heard_again() {
    let (mut b, _) = two_rounds_newest(song(1, 1));
    b.command(Command::Undo);
    b.to(4 * BAR);
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "12480+60 12580-60");
}

#[test]
fn an_older_round_shared_with_another_section_is_heard_there() {
    let mut two = song(1, 1);
    let section = Section { letter: "B".parse().unwrap(), ..Section::clone(&two.sections[0]) };
    two.sections.push(Arc::new(section));
    let (mut b, first) = two_rounds_newest(two);
    let other: Letter = "B".parse().unwrap();
    let share = SectionEdit::Lay { at: 0, pass: Laid::Shared(first), mute: false };
    assert!(b.command(Command::Edit(Commit::of(Edit::Section(other, share)))));
    b.command(Command::Jump(other, When::Seam));
    b.to(3 * BAR + 1500);
    assert_eq!(b.engine.status(b.now).section, other);
    assert_eq!(b.heard(3 * BAR, 3 * BAR + 1500), "12480+60 12580-60");
}

#[test]
fn a_note_kept_while_it_is_held_and_being_recorded_sounds_once() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.to(2000);
    b.command(Command::Record(true));
    b.press(BAR, 60);
    b.to(BAR + 2000);
    assert!(b.command(Command::Keep));
    b.to(BAR + 3000);
    b.command(Command::Record(false));
    b.to(2 * BAR + 500);
    assert_eq!(b.heard(BAR, 2 * BAR + 500), "7680+60");
}

#[test]
fn a_note_kept_while_its_round_is_being_recorded_sounds_once() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(0, 60);
    b.lift(100, 60);
    b.to(BAR - 300);
    assert!(b.command(Command::Keep));
    b.to(2 * BAR - 1);
    assert_eq!(b.heard(0, 2 * BAR), "3840+60 3940-60");
}

#[test]
fn an_empty_punch_covers_nothing_after_it_ends() {
    let (mut b, _) = two_rounds_newest(song(1, 1));
    b.command(Command::Mode(Mode::Punch));
    b.command(Command::Rounds(Rounds::All));
    b.to(3 * BAR + 100);
    b.command(Command::Record(true));
    b.to(3 * BAR + 3000);
    b.command(Command::Record(false));
    b.to(5 * BAR);
    assert_eq!(b.heard(3 * BAR, 5 * BAR), "16320+62 16420-62");
}

#[test]
fn a_long_note_of_an_older_round_ends_when_the_newest_round_mutes_it() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    b.press(2000, 60);
    b.to(BAR + 1000);
    b.press(BAR + 3000, 62);
    b.lift(BAR + 3100, 62);
    b.to(3 * BAR);
    // The first round's note repeats in the second round, at whose end it is muted.
    let heard = b.heard(BAR, 3 * BAR);
    let until = heard.split(' ').find(|word| word.ends_with("-60")).expect("it ends");
    let until: i64 = until.trim_end_matches("-60").parse().unwrap();
    assert!((2 * BAR..2 * BAR + 20).contains(&until), "{heard}");
}

#[test]
fn changing_the_bars_of_a_section_that_was_left_does_not_disturb_the_one_that_plays() {
    let mut two = song(1, 1);
    let section = Section { letter: "B".parse().unwrap(), ..Section::clone(&two.sections[0]) };
    two.sections.push(Arc::new(section));
    let mut b = Bench::new(two);
    b.command(Command::Play);
    b.command(Command::Jump("B".parse().unwrap(), When::Seam));
    b.to(2 * BAR - 500);
    b.command(Command::Record(true));
    b.press(2 * BAR + 960, 60);
    b.lift(2 * BAR + 1060, 60);
    assert!(b.command(Command::Edit(Commit::of(three_four(2)))));
    let status = b.engine.status(b.now);
    assert_eq!((status.in_section, status.recording), (Tick(1060), true));
    assert_eq!(b.engine.entries().len(), 2);
}

#[test]
fn a_tempo_change_that_splits_a_roll_loses_none_of_its_strokes() {
    // Two strokes 80 ticks apart: 41.7 ms at 120, a roll; 83 ms at 60, two notes of their own.
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    let (velocity, release) = (U7::low_bits(90), U7::CENTRE);
    let channel = Channel::default();
    let note = |(id, start, key, more): (u32, i64, u8, u8)| {
        let (key, velocity) = (U7::low_bits(key), U7::low_bits(velocity.get() + more));
        let played = Stroke { start: Tick(start), length: Tick(50), key, velocity, release };
        Note { id: NoteId(id), channel, played, placed: Placed::UNCHANGED }
    };
    pass.notes_mut().notes = [(1, 1055, 60, 0), (2, 1135, 60, 20)].map(note).to_vec();
    song.lay(Letter::A, pass);
    let feel = Feel { rolls: true, ..Feel::off(true).on(NoteValue::SIXTEENTH) };
    Arc::make_mut(&mut song.tracks[0]).feel = feel;
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(BAR);
    assert_eq!(b.heard(0, BAR), "1120+60 1170-60 1200+60 1250-60", "a roll");
    b.to(BAR + 950);
    // Already performed ahead as part of a roll, the first stroke now comes earlier.
    b.command(Command::Tempo(Tempo::parse_bpm("60").unwrap()));
    b.to(2 * BAR);
    assert_eq!(b.heard(BAR, 2 * BAR), "4800+60 4850-60 5040+60 5090-60");
}

#[test]
fn a_note_held_while_the_bars_change_gets_its_true_length_even_while_its_pass_repeats() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(200, 60);
    b.to(2000);
    b.command(Command::Edit(Commit::of(three_four(2))));
    let from = b.engine.entries().last().unwrap().at.0;
    b.to(from + 300);
    b.lift(from + 300, 60);
    b.to(from + BAR);
    let length = b.passes()[0][0].1;
    let (on, off) = (from + 200, from + 200 + length);
    assert!(length < BAR);
    assert_eq!(b.heard(from, from + BAR), format!("{on}+60 {off}-60"));
}

#[test]
fn a_note_that_feel_moves_past_a_change_of_the_bars_sounds_however_far_ahead_it_is() {
    // At 60 a look-ahead is 96 ticks, less than the 120 by which feel moves the note.
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick(1080), length: Tick(50), key, velocity, release };
    let (id, channel) = (NoteId(1), Channel::default());
    pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    song.lay(Letter::A, pass);
    Arc::make_mut(&mut song.tracks[0]).feel = Feel::off(false).on(NoteValue::SIXTEENTH);
    let slow = TempoMap::new(Tempo::parse_bpm("60").unwrap());
    Edit::Section(Letter::A, SectionEdit::Tempo(slow)).apply(&mut song).unwrap();
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(1085);
    assert!(b.command(Command::Edit(Commit::of(three_four(1)))));
    b.to(2000);
    assert_eq!(b.heard(0, 2000), "1200+60 1250-60");
}

#[test]
fn a_note_is_not_cut_for_one_of_the_same_number_that_another_pass_strikes_next() {
    // Both passes number their only note 1. The second strikes it as the first one ends.
    let mut song = song(1, 1);
    for (id, start) in [(10, 0), (11, 960)] {
        let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(BAR));
        let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
        let played = Stroke { start: Tick(start), length: Tick(960), key, velocity, release };
        let (id, channel) = (NoteId(1), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
        song.lay(Letter::A, pass);
    }
    let mut b = Bench::new(song);
    b.command(Command::Play);
    // Within the look-ahead, 192 ticks.
    b.to(900);
    b.command(Command::SoloTrack(TrackId(1), true));
    b.to(2000);
    assert_eq!(b.heard(0, 2000), "0+60 960-60 960+60 1920-60");
}

#[test]
fn a_copy_with_the_id_of_a_kept_pass_that_was_removed_sounds_at_once() {
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    let (key, velocity, release) = (U7::low_bits(72), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick(3000), length: Tick(100), key, velocity, release };
    let (id, channel) = (NoteId(1), Channel::default());
    pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.press(100, 60);
    b.lift(200, 60);
    b.to(1000);
    b.command(Command::Keep);
    let kept = b.engine.song().sections[0].layers[1].pass;
    b.command(Command::RemoveTop);
    let copy = Laid::Copy { of: PassId(10), id: kept };
    let edit = Edit::Section(Letter::A, SectionEdit::Replace(PassId(10), copy));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    b.to(BAR - 1);
    assert_eq!(b.heard(0, BAR), "3000+72 3100-72");
}

#[test]
fn an_unfinished_round_sounds_as_it_was_played_after_a_transposition_just_before_its_seam() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(20, 60);
    b.lift(100, 60);
    // By now the first notes of the next round are performed.
    b.to(BAR - 50);
    b.command(Command::Edit(Commit::of(Edit::Transpose(Transpose::new(2).unwrap()))));
    b.to(BAR + 1000);
    assert_eq!(b.heard(0, BAR + 1000), "3860+60 3940-60");
}

#[test]
fn a_note_about_to_end_is_not_cut_when_the_section_gets_its_own_copy_of_its_pass() {
    let mut song = song(1, 2);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(BAR));
    let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick(0), length: Tick(960), key, velocity, release };
    let (id, channel) = (NoteId(1), Channel::default());
    pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    // Its release is performed by now, but not sent.
    b.to(900);
    // A change of another track makes no difference to it.
    b.command(Command::MuteTrack(TrackId(2), true));
    let copy = Laid::Copy { of: PassId(10), id: PassId(11) };
    let edit = Edit::Section(Letter::A, SectionEdit::Replace(PassId(10), copy));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    b.to(2000);
    assert_eq!(b.heard(0, 2000), "0+60 960-60");
}
