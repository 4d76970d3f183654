//! What sounds over a jump and over a change of the section's bars, on the virtual-time bench.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Route, When};
use chaconne_song::{
    Channel, Commit, Edit, Feel, Letter, Note, NoteId, Pass, PassId, Section, SectionEdit, Song,
    Stroke, TrackId, U7,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// One bar with a pass of one note.
fn with_note(start: i64, length: i64) -> Song {
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(9), TrackId(1), Tick(BAR));
    let played = Stroke {
        start: Tick(start),
        length: Tick(length),
        key: U7::low_bits(60),
        velocity: U7::low_bits(80),
        release: U7::CENTRE,
    };
    let (id, channel) = (NoteId(1), Channel::default());
    pass.notes_mut().notes.push(Note { id, channel, played, placed: Default::default() });
    song.lay(Letter::A, pass);
    song
}

/// Adds an empty section of one bar.
fn add_section(song: &mut Song, letter: &str) -> Letter {
    let letter = letter.parse().unwrap();
    let empty = Section { letter, layers: Vec::new(), ..(*song.sections[0]).clone() };
    song.sections.push(Arc::new(empty));
    letter
}

#[test]
fn an_early_note_keeps_its_length_when_new_bars_strike_it_again() {
    // Early by 121: it sounds at the top, at its full length (docs/time.md, "Rounds and the seam").
    let mut b = Bench::new(with_note(-121, 764));
    b.command(Command::Play);
    b.to(60);
    let metre = MetreMap::new(2, Metre::common()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(metre));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    b.to(2000);
    // The section begins anew where its bars change: what sounds is released and struck again there.
    assert_eq!(b.heard(0, 2000), "0+60 61-60 61+60 825-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_second_jump_releases_a_note_that_feel_moved_into_the_first() {
    // Quantised to sixteenths, tick 3720 goes to the seam at 3840, whatever section follows.
    let mut song = with_note(3720, 2881);
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.feel = Feel::off(false).on(NoteValue::SIXTEENTH);
    let (second, third) = (add_section(&mut song, "B"), add_section(&mut song, "C"));
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(1000);
    assert!(b.command(Command::Jump(second, When::Seam)));
    b.to(BAR + 500);
    assert_eq!(b.heard(0, BAR + 500), "3840+60");
    // By itself it would end at 6721.
    b.to(BAR + 1000);
    let metre = MetreMap::new(1, "2/4".parse().unwrap()).unwrap();
    let edit = Edit::Section(second, SectionEdit::Metre(metre));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    assert!(b.command(Command::Jump(third, When::Seam)));
    b.to(2 * BAR);
    let released = b.heard(BAR + 500, 2 * BAR);
    assert!(released.ends_with("-60") && !released.contains("6721"), "{released}");
    b.command(Command::Stop);
    b.check_wire();
}

/// "When the form moves to another section, held notes ring out" (docs/time.md, "Rounds and the seam").
#[test]
fn to_stay_in_the_section_that_the_form_just_entered_lets_held_notes_of_the_one_before_ring_out() {
    let mut song = with_note(3000, 2000);
    let second = add_section(&mut song, "B");
    let route = Route::of(&song, &[Letter::A, second]).unwrap();
    let mut b = Bench::new(song);
    assert!(b.command(Command::PlayRoute(route)));
    b.to(BAR + 300);
    assert!(b.command(Command::Jump(second, When::Seam)));
    b.to(3 * BAR);
    assert_eq!(b.heard(0, 3 * BAR), "3000+60 5000-60");
    assert_eq!(b.engine.status(b.now).section, second);
    b.command(Command::Stop);
    b.check_wire();
}

/// A note with an early start sounds before its section is entered (docs/time.md, "Rounds and the seam").
#[test]
fn an_early_note_of_the_next_section_is_struck_at_once_if_the_jump_comes_too_late_for_it() {
    for early in [60, 100] {
        let mut song = song(1, 1);
        let second = add_section(&mut song, "B");
        song.lay(second, (*with_note(-early, 300).passes[&PassId(9)]).clone());
        let mut b = Bench::new(song);
        b.command(Command::Play);
        b.to(BAR - 60);
        assert!(b.command(Command::Jump(second, When::Seam)));
        b.to(BAR + 1000);
        // It keeps its length.
        let expected = format!("{}+60 {}-60", BAR - 59, BAR - 59 + 300);
        assert_eq!(b.heard(0, BAR + 1000), expected, "{early}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn new_bars_in_the_count_in_leave_no_empty_stay() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.to(-2000);
    let metre = MetreMap::new(2, Metre::common()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(metre));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    let stays = b.engine.entries().iter().map(|stay| (stay.at, stay.until));
    assert_eq!(stays.collect::<Vec<_>>(), [(Tick::ZERO, Tick::MAX)]);
    b.command(Command::Stop);
}

/// Two tracks share a channel. A level of the one that is set while neither plays goes out at once; where the other
/// plays, its own level is sent again.
#[test]
fn a_level_set_where_nothing_plays_does_not_stay_for_a_track_on_the_same_channel() {
    let mut song = with_note(0, 300);
    let second = add_section(&mut song, "B");
    let keys = Arc::make_mut(&mut song.tracks[0]);
    keys.levels.volume = Some(U7::low_bits(90));
    let mut bass = chaconne_song::Track::clone(keys);
    bass.id = TrackId(2);
    bass.levels.volume = None;
    song.tracks.push(Arc::new(bass));
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(100);
    b.command(Command::Jump(second, When::Seam));
    b.to(BAR + 200);
    b.command(Command::StepVolume(TrackId(2), -32));
    b.to(BAR + 2000);
    b.command(Command::Jump(Letter::A, When::Seam));
    b.to(2 * BAR + 100);
    assert_eq!(b.heard(BAR, 2 * BAR + 100), "4040c7=68 7680c7=90 7680+60");
    b.command(Command::Stop);
    b.check_wire();
}

/// A jump leaves the section before the round in which a pass was recorded is over, and comes back before that
/// tick: the pass sounds from the return on.
#[test]
fn a_pass_sounds_where_its_section_is_entered_again_before_its_round_would_have_ended() {
    let mut b = Bench::new(song(4, 1));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(400, 60);
    b.to(2000);
    b.command(Command::Record(false));
    b.to(3000);
    b.command(Command::Jump(Letter::A, When::Bar));
    b.to(BAR + 1000);
    assert_eq!(b.heard(401, BAR + 1000), "3940+60 4240-60");
    b.command(Command::Stop);
    b.check_wire();
}
