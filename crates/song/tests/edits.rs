//! Edits: each has an exact inverse, a refused one changes nothing, and what edits make can be
//! written and read.

mod common;

use chaconne_song::*;
use chaconne_time::*;
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::sync::Arc;

/// A random edit of any kind; some of them ask for what cannot be.
fn edit(chooser: &mut Chooser, song: &Song, depth: u32) -> Edit {
    let letters: Vec<Letter> = song.sections.iter().map(|section| section.letter).collect();
    let letter = if chooser.once_in(9) { "ZZZ".parse().unwrap() } else { chooser.pick(&letters) };
    let metre = song
        .section(letter)
        .map_or(MetreMap::new(2, Metre::common()).unwrap(), |section| section.metre.clone());
    let track = song.tracks.get(chooser.within(0, 4) as usize).map_or(TrackId(9_999), |t| t.id);
    let passes: Vec<&SharedPass> =
        song.sections.iter().flat_map(|section| &section.passes).collect();
    let nothing = Arc::new(Pass::empty(PassId(9_998), track, Tick(960)));
    let pass = passes.get(chooser.within(0, 5) as usize).copied().unwrap_or(&nothing);
    let note = pass.notes.get(chooser.within(0, 5) as usize).map_or(NoteId(9_997), |note| note.id);
    // Now and then meant for a longer pass than it is.
    let length = pass.length * if chooser.once_in(6) { 3 } else { 1 };
    let at = chooser.within(0, 3) as usize;
    match chooser.within(0, 19) {
        0 => Edit::Title(chooser.words()),
        1 => Edit::Key(KeySignature::new(chooser.within(-7, 7) as i8, chooser.once_in(2))),
        2 => Edit::Form((0..chooser.within(0, 4)).map(|_| chooser.pick(&letters)).collect()),
        3 => Edit::AddTrack { at, track: Arc::new(chooser.track()) },
        4 => Edit::RemoveTrack(track),
        5 => Edit::SetTrack(Arc::new(Track { id: track, ..chooser.track() })),
        6 => {
            let new = Letter::all().nth(chooser.within(0, 60) as usize).unwrap();
            Edit::AddSection { at, section: Arc::new(chooser.section(new, &[track])) }
        }
        7 => Edit::RemoveSection(letter),
        8 => Edit::Metre(letter, chooser.metres()),
        9 => Edit::Tempo(letter, chooser.tempi(&metre)),
        10 => {
            let pass = Arc::new(chooser.pass(&metre, track));
            Edit::AddPass { section: letter, at, pass }
        }
        11 => Edit::RemovePass(pass.id),
        12 => Edit::MutePass(pass.id, chooser.once_in(2)),
        13 => Edit::PassFeel(pass.id, chooser.once_in(2).then(|| chooser.feel())),
        14 => Edit::AddNote(pass.id, chooser.note(length)),
        15 => Edit::RemoveNote(pass.id, note),
        16 => Edit::PlaceNote(pass.id, note, chooser.once_in(2).then(|| chooser.stroke(length))),
        17 => {
            let stroke = chooser.stroke(length);
            let (length, release) = (stroke.length, stroke.release);
            Edit::Held { pass: pass.id, note, length, release }
        }
        18 => {
            let metre = song.pass(pass.id).map_or(metre, |found| found.0.metre.clone());
            let new = chooser.pass(&metre, track);
            Edit::ReplacePass(Arc::new(Pass { id: pass.id, ..new }))
        }
        _ if depth > 1 => Edit::Several(vec![]),
        _ => {
            // The later ones are made for the song as it stands now, so some are refused.
            let count = chooser.within(0, 4);
            Edit::Several((0..count).map(|_| edit(chooser, song, depth + 1)).collect())
        }
    }
}

/// Which kinds of edit were taken and refused.
#[derive(Default)]
struct Tally {
    taken: Vec<String>,
    refused: Vec<EditError>,
}

/// Makes random edits, takes them all back, and makes and takes them back once more.
fn there_and_back(tape: Vec<u64>, tally: &mut Tally) {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let (start, start_text) = (song.clone(), text::write(&song));
    let mut undo: Vec<Edit> = Vec::new();
    for _ in 0..30 {
        let edit = edit(&mut chooser, &song, 0);
        let before = song.clone();
        let kind = format!("{edit:?}");
        match edit.apply(&mut song) {
            Ok(inverse) => {
                undo.push(inverse);
                tally.taken.push(kind.split(['(', ' ']).next().unwrap().into());
                let again = text::read(&text::write(&song)).expect("what edits make can be read");
                assert_eq!(again, song);
            }
            Err(error) => {
                assert_eq!(song, before, "refused with '{error}' and yet changed");
                tally.refused.push(error);
            }
        }
    }
    let (end, end_text) = (song.clone(), text::write(&song));
    for _ in 0..2 {
        let take_back = |edit: Edit| edit.apply(&mut song).expect("an inverse can be applied");
        let redo: Vec<Edit> = undo.drain(..).rev().map(take_back).collect();
        assert_eq!(song, start);
        assert_eq!(text::write(&song), start_text);
        let make_again = |edit: Edit| edit.apply(&mut song).expect("and so can its inverse");
        undo = redo.into_iter().rev().map(make_again).collect();
        assert_eq!(song, end);
        assert_eq!(text::write(&song), end_text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]
    #[test]
    fn undo_of_everything_restores_the_song(tape in tape(3000)) {
        there_and_back(tape, &mut Tally::default());
    }
}

#[test]
fn the_random_edits_are_of_every_kind_and_some_are_refused() {
    let mut tally = Tally::default();
    (1..60).for_each(|seed| there_and_back(steady_tape(seed, 3000), &mut tally));
    tally.taken.sort();
    tally.taken.dedup();
    assert_eq!(tally.taken.len(), 20, "{:?}", tally.taken);
    let refused = |test: fn(&EditError) -> bool| tally.refused.iter().any(test);
    assert!(refused(|error| matches!(error, EditError::NoTrack(_))));
    assert!(refused(|error| matches!(error, EditError::NoSection(_))));
    assert!(refused(|error| matches!(error, EditError::NoPass(_))));
    assert!(refused(|error| matches!(error, EditError::NoNote(..))));
    assert!(refused(|error| matches!(error, EditError::NoPlace(_))));
    assert!(refused(|error| matches!(error, EditError::InUse(_))));
    assert!(refused(|error| matches!(error, EditError::Unfit(_))));
}

fn plain_song() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut song = Song::new("Plain", Section::new(Letter::A, metre, Tempo::DEFAULT));
    let mut make = |edit: Edit| edit.apply(&mut song).unwrap();
    make(Edit::AddTrack { at: 0, track: Arc::new(Track::pitched(TrackId(1), "Bass")) });
    let mut pass = Pass::empty(PassId(2), TrackId(1), Tick(3840));
    pass.notes = [3, 4, 5].map(|id| note(id, i64::from(id) * 100)).to_vec();
    make(Edit::AddPass { section: Letter::A, at: 0, pass: Arc::new(pass) });
    song
}

fn note(id: u32, start: i64) -> Note {
    let played = Stroke {
        start: Tick(start),
        length: Tick(90),
        key: U7::CENTRE,
        velocity: U7::CENTRE,
        release: U7::CENTRE,
    };
    Note { id: NoteId(id), channel: Channel::default(), played, placed: None }
}

fn refusal(edit: Edit) -> EditError {
    let mut song = plain_song();
    let before = song.clone();
    let error = edit.apply(&mut song).unwrap_err();
    assert_eq!(song, before);
    error
}

#[test]
fn a_note_taken_out_goes_back_to_its_place() {
    let mut song = plain_song();
    let before = song.clone();
    let inverse = Edit::RemoveNote(PassId(2), NoteId(4)).apply(&mut song).unwrap();
    assert_eq!(song.pass(PassId(2)).unwrap().1.notes.len(), 2);
    inverse.apply(&mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn a_pass_is_put_in_order_when_it_comes_in() {
    let mut song = plain_song();
    let mut pass = Pass::empty(PassId(6), TrackId(1), Tick(3840));
    pass.notes = vec![note(7, 200), note(8, -100)];
    let edit = Edit::AddPass { section: Letter::A, at: 1, pass: Arc::new(pass) };
    edit.apply(&mut song).unwrap();
    let ids: Vec<u32> = song.pass(PassId(6)).unwrap().1.notes.iter().map(|n| n.id.0).collect();
    assert_eq!(ids, [8, 7]);
}

#[test]
fn several_edits_are_taken_whole_or_not_at_all() {
    let edits = vec![
        Edit::Title("Other".into()),
        Edit::RemovePass(PassId(2)),
        Edit::RemoveTrack(TrackId(1)),
        Edit::Form(vec![Letter::A]),
        Edit::RemovePass(PassId(2)),
    ];
    assert_eq!(refusal(Edit::Several(edits)), EditError::NoPass(2));
}

#[test]
fn an_id_is_used_once_for_whatever_it_names() {
    let taken = |id: u32| EditError::Taken(format!("id {id}"));
    for id in 1..=5 {
        let track = Arc::new(Track::pitched(TrackId(id), "Keys"));
        assert_eq!(refusal(Edit::AddTrack { at: 0, track }), taken(id));
        let pass = Arc::new(Pass::empty(PassId(id), TrackId(1), Tick(960)));
        assert_eq!(refusal(Edit::AddPass { section: Letter::A, at: 0, pass }), taken(id));
        assert_eq!(refusal(Edit::AddNote(PassId(2), note(id, 0))), taken(id));
    }
    let mut pass = Pass::empty(PassId(2), TrackId(1), Tick(960));
    pass.notes = vec![note(1, 0)];
    assert_eq!(refusal(Edit::ReplacePass(Arc::new(pass.clone()))), taken(1));
    pass.notes = vec![note(3, 0), note(3, 10)];
    assert_eq!(refusal(Edit::ReplacePass(Arc::new(pass.clone()))), taken(3));
    // Its own ids a pass may have again.
    pass.notes = vec![note(3, 0)];
    Edit::ReplacePass(Arc::new(pass)).apply(&mut plain_song()).unwrap();
}

#[test]
fn what_the_text_would_refuse_is_refused_with_the_range() {
    let place = |start, length| {
        let placed = Stroke { start: Tick(start), length: Tick(length), ..note(3, 0).played };
        refusal(Edit::PlaceNote(PassId(2), NoteId(3), Some(placed))).to_string()
    };
    let outside = "is outside its pass, which takes 0.1.1 to 1.4.959";
    assert_eq!(place(3840, 1), format!("a note at 2.1.0 {outside}"));
    assert_eq!(place(-3840, 1), format!("a note at 0.1.0 {outside}"));
    assert_eq!(place(i64::MAX, 1), format!("a note at tick {} {outside}", i64::MAX));
    assert_eq!(place(0, 3841), "length 3841 is outside 1 to 3840");
    assert_eq!(place(0, 0), "length 0 is outside 1 to 3840");
    let mut track = Track::pitched(TrackId(1), "Bass");
    track.feel.strength = 101;
    let error = refusal(Edit::SetTrack(Arc::new(track))).to_string();
    assert_eq!(error, "strength 101 is outside 0 to 100");
    let pass = |pass: Pass| {
        refusal(Edit::AddPass { section: Letter::A, at: 0, pass: Arc::new(pass) }).to_string()
    };
    let empty = |length| Pass::empty(PassId(6), TrackId(1), Tick(length));
    assert_eq!(pass(empty(0)), "pass 6: a pass of 0 ticks is outside 1 beat to 999 bars");
    let error = "pass 6: a pass of 1000 ticks is not a whole number of beats in 4/4";
    assert_eq!(pass(empty(1000)), error);
    let error = "pass 6: a pass of 3840960 ticks is outside 1 beat to 999 bars";
    assert_eq!(pass(empty(3840 * 1000 + 960)), error);
    let mut covering = empty(960);
    covering.covers = vec![Span::new(Tick(0), Tick(480)), Span::new(Tick(470), Tick(960))];
    let error =
        "pass 6: a cover at 1.1.470 starts before the one in front of it has ended, at 1.1.480";
    assert_eq!(pass(covering), error);
    let silent = Note { played: Stroke { velocity: U7::MIN, ..note(9, 0).played }, ..note(9, 0) };
    let error = refusal(Edit::AddNote(PassId(2), silent)).to_string();
    assert_eq!(error, "velocity 0 is outside 1 to 127");
}

#[test]
fn a_metre_must_suit_the_passes() {
    let metre =
        |text: &str| Edit::Metre(Letter::A, MetreMap::new(4, text.parse().unwrap()).unwrap());
    // The pass is four quarters long: eight eighths, but no whole number of beats of 5/2.
    let mut song = plain_song();
    metre("6/8").apply(&mut song).unwrap();
    metre("4/4").apply(&mut song).unwrap();
    let mut pass = Pass::clone(song.pass(PassId(2)).unwrap().1);
    pass.length = Tick(2880);
    Edit::ReplacePass(Arc::new(pass)).apply(&mut song).unwrap();
    let before = song.clone();
    let error = metre("5/2").apply(&mut song).unwrap_err().to_string();
    assert_eq!(error, "pass 2: a pass of 2880 ticks is not a whole number of beats in 5/2");
    assert_eq!(song, before);
}

proptest! {
    #[test]
    fn a_new_pass_fits_whatever_length_its_track_asks_for(
        tape in tape(20),
        asked in prop_oneof![-1000i64..100_000, 1i64..245_514_240, any::<i64>()],
    ) {
        let metre = Chooser::new(tape).metres();
        let section = Section::new(Letter::A, metre, Tempo::DEFAULT);
        let track = Track { pass_length: Some(Tick(asked)), ..Track::pitched(TrackId(1), "Keys") };
        let length = section.new_pass_length(&track);
        prop_assert!(length.0 >= asked.min(section.longest_pass().0));
        let mut song = Song::new("Any metre", section);
        song.tracks.push(Arc::new(track));
        let pass = Arc::new(Pass::empty(PassId(2), TrackId(1), length));
        let edit = Edit::AddPass { section: Letter::A, at: 0, pass };
        prop_assert!(edit.apply(&mut song).is_ok());
    }
}

#[test]
fn limits_say_how_many_fit() {
    let mut song = plain_song();
    let error = Edit::Form(vec![Letter::A; Song::MAX_FORM + 1]).apply(&mut song).unwrap_err();
    assert_eq!(error, EditError::Full("a form has at most 10000 entries".into()));
    for id in 10..10 + Song::MAX_TRACKS as u32 - 1 {
        song.tracks.push(Arc::new(Track::pitched(TrackId(id), "Choir")));
    }
    let track = Arc::new(Track::pitched(TrackId(9_000), "One more"));
    let error = Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap_err();
    assert_eq!(error, EditError::Full("a song has at most 4096 tracks".into()));
}

#[test]
fn new_ids_are_free_even_after_the_highest() {
    let mut song = plain_song();
    assert_eq!(song.ids().track(), TrackId(6));
    song.tracks.push(Arc::new(Track::pitched(TrackId(Song::LAST_ID), "Last")));
    assert_eq!(song.ids().track(), TrackId(6));
    song.tracks.push(Arc::new(Track::pitched(TrackId(3_000_000_000), "High")));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1_000_000_000), "Low")));
    assert_eq!(song.ids().track(), TrackId(1_000_000_001));
}
