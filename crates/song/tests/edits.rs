//! Edits: each has an exact inverse, a refused one changes nothing, and every song that edits make
//! can be written and read.

mod common;

use chaconne_song::*;
use chaconne_time::*;
use common::edits::{KINDS, edit, kind};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Which kinds of edit were accepted, and why others were refused.
#[derive(Default)]
struct Tally {
    accepted: BTreeSet<&'static str>,
    refused: Vec<EditError>,
}

/// The passes that are in a section.
fn laid(song: &Song) -> BTreeSet<PassId> {
    song.sections.iter().flat_map(|section| &section.layers).map(|layer| layer.pass).collect()
}

/// Makes random edits, undoes them all and redoes them all, twice.
fn there_and_back(tape: Vec<u64>, tally: &mut Tally) {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let (start, start_text) = (song.clone(), text::write(&song));
    let mut undo: Vec<Edit> = Vec::new();
    for _ in 0..30 {
        let edit = edit(&mut chooser, &song);
        let before = song.clone();
        let kind = kind(&edit);
        match edit.apply(&mut song) {
            Ok(inverse) => {
                undo.push(inverse);
                tally.accepted.insert(kind);
                assert_eq!(song.passes.len(), laid(&song).len(), "every pass is in a section");
                let again = text::read(&text::write(&song)).expect("an edited song can be read");
                assert_eq!(again, song);
            }
            Err(error) => {
                assert_eq!(song, before, "refused with '{error}' but changed the song");
                tally.refused.push(error);
            }
        }
    }
    let (end, end_text) = (song.clone(), text::write(&song));
    for _ in 0..2 {
        let undone = |edit: Edit| edit.apply(&mut song).expect("an inverse can be applied");
        let redo: Vec<Edit> = undo.drain(..).rev().map(undone).collect();
        assert_eq!(song, start);
        assert_eq!(text::write(&song), start_text);
        let redone = |edit: Edit| edit.apply(&mut song).expect("and so can its inverse");
        undo = redo.into_iter().rev().map(redone).collect();
        assert_eq!(song, end);
        assert_eq!(text::write(&song), end_text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn undoing_everything_restores_the_song(tape in tape(3000)) {
        there_and_back(tape, &mut Tally::default());
    }
}

#[test]
fn random_edits_cover_every_kind_and_some_are_refused() {
    let mut tally = Tally::default();
    (1..120).for_each(|seed| there_and_back(steady_tape(seed, 3000), &mut tally));
    let missing: Vec<_> = KINDS.iter().filter(|kind| !tally.accepted.contains(*kind)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    let refused = |test: fn(&EditError) -> bool| tally.refused.iter().any(test);
    assert!(refused(|error| matches!(error, EditError::NoTrack(_))));
    assert!(refused(|error| matches!(error, EditError::NoGroove(_))));
    assert!(refused(|error| matches!(error, EditError::NoSection(_))));
    assert!(refused(|error| matches!(error, EditError::NoPass(_))));
    assert!(refused(|error| matches!(error, EditError::NoLayer(..))));
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
    pass.notes_mut().notes = [3, 4, 5].map(|id| note(id, i64::from(id) * 100)).to_vec();
    make(Edit::lay(Letter::A, 0, pass));
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
    Note { id: NoteId(id), channel: Channel::default(), played, placed: Placed::UNCHANGED }
}

fn refusal(edit: Edit) -> EditError {
    let mut song = plain_song();
    let before = song.clone();
    let error = edit.apply(&mut song).unwrap_err();
    assert_eq!(song, before);
    error
}

fn groove(id: u32) -> Groove {
    let (id, name, grid) = (GrooveId(id), "Laid back".to_string(), NoteValue::SIXTEENTH);
    let late = Lean { timing: Tick(12), ..Lean::default() };
    let steps = [(StepAt { bar: 1, step: 3 }, late)].into();
    Groove { id, name, grid, bars: 1, steps }
}

#[test]
fn a_groove_that_is_given_to_something_cannot_be_removed() {
    let mut song = plain_song();
    let make = |song: &mut Song, edit: Edit| edit.apply(song);
    make(&mut song, Edit::AddGroove { at: 0, groove: Arc::new(groove(9)) }).unwrap();
    let given = Some(GivenGroove::whole(GrooveId(9)));
    let given_to = |song: &Song| {
        let mut song = song.clone();
        make(&mut song, Edit::RemoveGroove(GrooveId(9))).unwrap_err().to_string()
    };
    let feel = Feel { groove: given, ..Feel::off(false) };
    make(&mut song, Edit::Pass(PassId(2), PassEdit::Feel(Some(feel)))).unwrap();
    let sentence =
        "groove 'Laid back' is still given to a layer of track 'Bass': take it off there first";
    assert_eq!(given_to(&song), sentence);
    make(&mut song, Edit::Track(TrackId(1), TrackEdit::Groove(given))).unwrap();
    assert_eq!(
        given_to(&song),
        "groove 'Laid back' is still given to track 'Bass': take it off there first"
    );
    make(&mut song, Edit::Track(TrackId(1), TrackEdit::Groove(None))).unwrap();
    make(&mut song, Edit::Pass(PassId(2), PassEdit::Feel(None))).unwrap();
    make(&mut song, Edit::RemoveGroove(GrooveId(9))).unwrap();
    assert_eq!(song, plain_song());
}

#[test]
fn a_feel_that_names_an_unknown_groove_is_refused_everywhere() {
    let feel = Feel { groove: Some(GivenGroove::whole(GrooveId(9))), ..Feel::off(false) };
    let track = Track { feel, ..Track::pitched(TrackId(7), "Lead") };
    let pass = Pass { feel: Some(feel), ..Pass::empty(PassId(6), TrackId(1), Tick(3840)) };
    for edit in [
        Edit::Track(TrackId(1), TrackEdit::Groove(feel.groove)),
        Edit::AddTrack { at: 0, track: Arc::new(track) },
        Edit::Pass(PassId(2), PassEdit::Feel(Some(feel))),
        Edit::lay(Letter::A, 0, pass),
    ] {
        assert_eq!(refusal(edit), EditError::NoGroove(9));
    }
    assert_eq!(
        refusal(Edit::Groove(GrooveId(9), GrooveEdit::Name("x".into()))),
        EditError::NoGroove(9)
    );
    assert_eq!(
        refusal(Edit::AddGroove { at: 1, groove: Arc::new(groove(9)) }),
        EditError::NoPlace(1)
    );
    let taken = EditError::Taken("id 2".into());
    assert_eq!(refusal(Edit::AddGroove { at: 0, groove: Arc::new(groove(2)) }), taken);
    let far = Lean { timing: Tick(121), ..Lean::default() };
    let at = StepAt { bar: 1, step: 3 };
    let wrong = Groove { steps: [(at, far)].into(), ..groove(9) };
    let unfit = EditError::Unfit("timing 121 is outside -120 to 120".into());
    assert_eq!(refusal(Edit::AddGroove { at: 0, groove: Arc::new(wrong) }), unfit);
}

/// The ids of the notes of pass 2, in order.
fn notes(song: &Song) -> Vec<u32> {
    song.pass(PassId(2)).unwrap().notes().iter().map(|note| note.id.0).collect()
}

#[test]
fn the_inverse_puts_a_removed_note_back_in_its_place() {
    let mut song = plain_song();
    let before = song.clone();
    let edit = Edit::Pass(PassId(2), PassEdit::RemoveNotes(vec![NoteId(4)]));
    let inverse = edit.apply(&mut song).unwrap();
    assert_eq!(notes(&song), [3, 5]);
    inverse.apply(&mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn laying_a_pass_sorts_its_notes() {
    let mut song = plain_song();
    let mut pass = Pass::empty(PassId(6), TrackId(1), Tick(3840));
    pass.notes_mut().notes = vec![note(7, 200), note(8, -100)];
    Edit::lay(Letter::A, 1, pass).apply(&mut song).unwrap();
    let ids: Vec<u32> = song.pass(PassId(6)).unwrap().notes().iter().map(|n| n.id.0).collect();
    assert_eq!(ids, [8, 7]);
}

#[test]
fn several_edits_are_applied_all_or_none() {
    let remove = || Edit::Section(Letter::A, SectionEdit::Remove(PassId(2)));
    let edits = vec![
        Edit::Title("Other".into()),
        remove(),
        Edit::RemoveTrack(TrackId(1)),
        Edit::Form("A".parse().unwrap()),
        remove(),
    ];
    let mut song = plain_song();
    let before = song.clone();
    let error = Edit::apply_all(edits, &mut song).unwrap_err();
    assert_eq!(error, EditError::NoLayer(Letter::A, 2));
    assert_eq!(song, before);
}

#[test]
fn an_id_that_is_in_use_is_refused() {
    let taken = |id: u32| EditError::Taken(format!("id {id}"));
    for id in 1..=2 {
        let track = Arc::new(Track::pitched(TrackId(id), "Keys"));
        assert_eq!(refusal(Edit::AddTrack { at: 0, track }), taken(id));
        let pass = Pass::empty(PassId(id), TrackId(1), Tick(960));
        assert_eq!(refusal(Edit::lay(Letter::A, 0, pass)), taken(id));
        let copy = Laid::Copy { of: PassId(2), id: PassId(id) };
        let edit = SectionEdit::Lay { at: 0, pass: copy, mute: false };
        assert_eq!(refusal(Edit::Section(Letter::A, edit)), taken(id));
    }
    let add = |notes: Vec<Note>| refusal(Edit::Pass(PassId(2), PassEdit::AddNotes(notes)));
    assert_eq!(add(vec![note(3, 0)]), EditError::Taken("note 3".into()));
    assert_eq!(add(vec![note(6, 0), note(6, 10)]), EditError::Taken("note 6".into()));
    let mut pass = Pass::empty(PassId(6), TrackId(1), Tick(3840));
    pass.notes_mut().notes = vec![note(3, 0), note(3, 10)];
    let error = refusal(Edit::lay(Letter::A, 0, pass.clone())).to_string();
    assert_eq!(error, "pass 6: two notes have the id 3; each needs its own");
    // Another pass may use the ids again.
    pass.notes_mut().notes.pop();
    Edit::lay(Letter::A, 0, pass).apply(&mut plain_song()).unwrap();
}

#[test]
fn an_edit_that_the_text_would_refuse_is_refused_with_the_range() {
    let place = |placement| {
        refusal(Edit::Pass(PassId(2), PassEdit::Place(vec![(NoteId(3), placement)]))).to_string()
    };
    let outside = "is outside its pass, which allows 0.1.1 to 1.4.959";
    let start = |start| place(Placement::Start(Some(Tick(start))));
    assert_eq!(start(3840), format!("a note at 2.1.0 {outside}"));
    assert_eq!(start(-3840), format!("a note at 0.1.0 {outside}"));
    assert_eq!(start(i64::MAX), format!("a note at tick {} {outside}", i64::MAX));
    let length = |length| place(Placement::Length(Some(Tick(length))));
    assert_eq!(length(3841), "length 3841 is outside 1 to 3840");
    assert_eq!(length(0), "length 0 is outside 1 to 3840");
    let error = refusal(Edit::Track(TrackId(1), TrackEdit::Pull(101))).to_string();
    assert_eq!(error, "pull 101 is outside 0 to 100");
    let pass = |pass: Pass| refusal(Edit::lay(Letter::A, 0, pass)).to_string();
    let empty = |length| Pass::empty(PassId(6), TrackId(1), Tick(length));
    assert_eq!(pass(empty(0)), "pass 6: a pass of 0 ticks is outside 1 beat to 999 bars");
    let error = "pass 6: a pass of 1000 ticks is not a whole number of beats in 4/4";
    assert_eq!(pass(empty(1000)), error);
    let error = "pass 6: a pass of 3840960 ticks is outside 1 beat to 999 bars";
    assert_eq!(pass(empty(3840 * 1000 + 960)), error);
    let mut covering = empty(960);
    covering.covers = vec![Span::new(Tick(0), Tick(480)), Span::new(Tick(470), Tick(960))];
    let error =
        "pass 6: the cover at 1.1.470 starts before the end of the one before it, at 1.1.480";
    assert_eq!(pass(covering), error);
    let silent = Note { played: Stroke { velocity: U7::MIN, ..note(9, 0).played }, ..note(9, 0) };
    let error = refusal(Edit::Pass(PassId(2), PassEdit::AddNotes(vec![silent]))).to_string();
    assert_eq!(error, "velocity 0 is outside 1 to 127");
}

#[test]
fn a_metre_must_divide_every_pass_into_whole_beats() {
    let metre = |text: &str| {
        let metre = MetreMap::new(4, text.parse().unwrap()).unwrap();
        Edit::Section(Letter::A, SectionEdit::Metre(metre))
    };
    // The pass is four quarter notes long, so 6/8 fits. Three quarter notes are one and a half
    // beats of 5/2.
    let mut song = plain_song();
    metre("6/8").apply(&mut song).unwrap();
    metre("4/4").apply(&mut song).unwrap();
    Edit::Pass(PassId(2), PassEdit::Length(Tick(2880))).apply(&mut song).unwrap();
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
        let pass = Pass::empty(PassId(2), TrackId(1), length);
        prop_assert!(Edit::lay(Letter::A, 0, pass).apply(&mut song).is_ok());
    }
}

#[test]
fn going_over_a_limit_is_refused_with_the_limit() {
    let mut song = plain_song();
    Edit::Form(Form::of(vec![Letter::A; 10_000])).apply(&mut song).unwrap();
    let form = Form::of(vec![Letter::A; 10_001]);
    let error = Edit::Form(form).apply(&mut song).unwrap_err().to_string();
    assert_eq!(error, "the form plays 10001 sections; the most it may play is 10000");
    for id in 10..10 + Song::MAX_TRACKS as u32 - 1 {
        song.tracks.push(Arc::new(Track::pitched(TrackId(id), "Choir")));
    }
    let track = Arc::new(Track::pitched(TrackId(9_000), "One more"));
    let error = Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap_err();
    assert_eq!(error, EditError::Full("a song has at most 4096 tracks".into()));
}

#[test]
fn new_ids_are_free_even_if_the_highest_is_taken() {
    let mut song = plain_song();
    assert_eq!(song.ids().track(), TrackId(3));
    song.tracks.push(Arc::new(Track::pitched(TrackId(Song::LAST_ID), "Last")));
    assert_eq!(song.ids().track(), TrackId(3));
    song.tracks.push(Arc::new(Track::pitched(TrackId(3_000_000_000), "High")));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1_000_000_000), "Low")));
    assert_eq!(song.ids().track(), TrackId(1_000_000_001));
}

/// The plain song with a section B, a copy of A.
fn copied() -> Song {
    let mut song = plain_song();
    let mut section = Section::clone(&song.sections[0]);
    section.letter = "B".parse().unwrap();
    let edit = Edit::AddSection { at: 1, section: Arc::new(section), passes: vec![] };
    edit.apply(&mut song).unwrap();
    song
}

#[test]
fn a_copied_section_shares_its_passes_in_one_line_each() {
    let song = copied();
    assert!(song.is_shared(PassId(2)));
    let text = text::write(&song);
    let (_, copy) = text.split_once("letter: \"B\"").unwrap();
    assert!(
        copy.contains("layers: [\n                (pass: 2), // \"Bass\"\n            ],"),
        "{text}"
    );
    assert_eq!(text::read(&text).unwrap(), song);
}

#[test]
fn a_shared_pass_changes_in_both_sections_until_one_makes_its_own_copy() {
    let (mut song, b) = (copied(), "B".parse().unwrap());
    let before = song.clone();
    let own = Laid::Copy { of: PassId(2), id: PassId(6) };
    let edits = vec![
        Edit::Pass(PassId(2), PassEdit::RemoveNotes(vec![NoteId(3)])),
        Edit::Section(b, SectionEdit::Replace(PassId(2), own)),
        Edit::Pass(PassId(2), PassEdit::RemoveNotes(vec![NoteId(4)])),
    ];
    let inverses = Edit::apply_all(edits, &mut song).unwrap();
    assert!(!song.is_shared(PassId(2)));
    assert_eq!(notes(&song), [5]);
    let own = song.pass(PassId(6)).unwrap();
    assert_eq!((own.id, own.notes().len()), (PassId(6), 2));
    Edit::apply_all(inverses, &mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn removing_the_last_layer_removes_the_pass() {
    let (mut song, b) = (copied(), "B".parse().unwrap());
    let remove = |letter| Edit::Section(letter, SectionEdit::Remove(PassId(2)));
    let first = remove(Letter::A).apply(&mut song).unwrap();
    assert!(song.pass(PassId(2)).is_some());
    let last = remove(b).apply(&mut song).unwrap();
    assert!(song.passes.is_empty());
    Edit::apply_all([last, first], &mut song).unwrap();
    assert_eq!(song, copied());
}

#[test]
fn changing_a_letter_changes_it_in_the_form() {
    let mut song = copied();
    Edit::Form("A (B A) x2".parse().unwrap()).apply(&mut song).unwrap();
    let z = "Z".parse().unwrap();
    Edit::Section(Letter::A, SectionEdit::Letter(z)).apply(&mut song).unwrap();
    assert_eq!(song.form.to_string(), "Z (B Z) x2");
    let taken = Edit::Section(z, SectionEdit::Letter("B".parse().unwrap())).apply(&mut song);
    assert_eq!(taken.unwrap_err(), EditError::Taken("section B".into()));
}

#[test]
fn a_section_moves_in_the_list_and_back() {
    let mut song = copied();
    let letters = |song: &Song| -> String {
        song.sections.iter().map(|section| section.letter.to_string()).collect()
    };
    let back = Edit::MoveSection(Letter::A, 1).apply(&mut song).unwrap();
    assert_eq!(letters(&song), "BA");
    assert_eq!(back, Edit::MoveSection(Letter::A, 0));
    back.apply(&mut song).unwrap();
    assert_eq!(song, copied());
    let too_far = Edit::MoveSection(Letter::A, 2).apply(&mut song);
    assert_eq!(too_far.unwrap_err(), EditError::NoPlace(2));
}

#[test]
fn a_track_moves_in_the_list_and_back() {
    let mut song = copied();
    let names = |song: &Song| -> Vec<String> {
        song.tracks.iter().map(|track| track.name.clone()).collect()
    };
    let (before, id) = (names(&song), song.tracks[0].id);
    let last = song.tracks.len() - 1;
    let back = Edit::MoveTrack(id, last).apply(&mut song).unwrap();
    assert_eq!(names(&song).last(), before.first());
    assert_eq!(back, Edit::MoveTrack(id, 0));
    back.apply(&mut song).unwrap();
    assert_eq!(song, copied());
    let too_far = Edit::MoveTrack(id, last + 1).apply(&mut song);
    assert_eq!(too_far.unwrap_err(), EditError::NoPlace(last + 1));
    let missing = Edit::MoveTrack(TrackId(99), 0).apply(&mut song);
    assert_eq!(missing.unwrap_err(), EditError::NoTrack(99));
}

#[test]
fn one_edit_sets_the_lengths_of_many_notes() {
    let mut song = plain_song();
    let release = |note: u32, length| Release {
        note: NoteId(note),
        length: Tick(length),
        release: U7::CENTRE,
    };
    let edit = PassEdit::Played(vec![release(5, 50), release(3, 30), release(4, 40)]);
    Edit::Pass(PassId(2), edit).apply(&mut song).unwrap();
    let pass = song.pass(PassId(2)).unwrap();
    let lengths: Vec<i64> = pass.notes().iter().map(|note| note.played.length.0).collect();
    assert_eq!(lengths, [30, 40, 50]);
    let twice = PassEdit::Played(vec![release(5, 50), release(5, 30)]);
    let error = refusal(Edit::Pass(PassId(2), twice)).to_string();
    assert_eq!(error, "note 5 is named twice in one edit");
}

#[test]
fn an_edit_names_the_ids_that_it_adds() {
    let track = Edit::AddTrack { at: 0, track: Arc::new(Track::drums(TrackId(50), "Kit")) };
    assert_eq!(track.new_ids(), [50]);
    let pass = Pass::empty(PassId(7), TrackId(50), Tick(960));
    assert_eq!(Edit::lay(Letter::A, 0, pass).new_ids(), [7]);
    let mut song = copied();
    let b: Letter = "B".parse().unwrap();
    let copy = Edit::RemoveSection(b).apply(&mut song).unwrap();
    assert_eq!(copy.new_ids(), [0; 0], "it shares its pass");
    let own = Laid::Copy { of: PassId(2), id: PassId(6) };
    copy.apply(&mut song).unwrap();
    Edit::Section(b, SectionEdit::Replace(PassId(2), own)).apply(&mut song).unwrap();
    assert_eq!(Edit::RemoveSection(b).apply(&mut song).unwrap().new_ids(), [6]);
    let rolls = Edit::Track(TrackId(50), TrackEdit::Rolls(true));
    assert_eq!(rolls.new_ids(), [0; 0]);
}

#[test]
fn each_field_of_a_track_that_differs_is_one_edit() {
    use TrackEdit as T;
    let track = Track::pitched(TrackId(1), "Keys");
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("fields", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(track.clone()));
    song.grooves.push(Arc::new(groove(9)));
    let value = U7::low_bits(3);
    for edit in [
        T::Name("Organ".into()),
        T::Port("synth".into()),
        T::Channel(Channel::from_number(9)),
        T::Bank(Some(U14::MAX)),
        T::Program(Some(value)),
        T::Pitched(!track.pitched),
        T::Grid(Some(NoteValue::SIXTEENTH)),
        T::Pull(41),
        T::Swing(Swing::from_hundredths(6000).unwrap()),
        T::Reach(42),
        T::Rolls(!track.feel.rolls),
        T::Groove(Some(GivenGroove::whole(GrooveId(9)))),
        T::Human(Human { timing: 20, loudness: 10, seed: 3 }),
        T::Volume(Some(value)),
        T::Pan(Some(value)),
        T::Mute(!track.mute),
        T::PassLength(Some(Tick(1920))),
    ] {
        let mut changed = song.clone();
        Edit::Track(TrackId(1), edit.clone()).apply(&mut changed).unwrap();
        assert_eq!(T::between(&track, &changed.tracks[0]), [edit]);
    }
    assert_eq!(T::between(&track, &track), []);
    let none = Edit::Track(TrackId(1), T::PassLength(Some(Tick(0))));
    assert!(none.apply(&mut song).is_err());
}
