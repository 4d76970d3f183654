//! Edits of the lists of a song: tracks, sections and layers, at both ends of each list.

use super::*;
use crate::{Layer, Pass, Placed, Stroke};
use chaconne_time::{Metre, Tempo};

fn section(letter: &str) -> Section {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    Section::new(letter.parse().unwrap(), metre, Tempo::DEFAULT)
}

fn pass(id: u32) -> SharedPass {
    let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(3840));
    let (start, length, key) = (Tick(0), Tick(90), U7::CENTRE);
    let played = Stroke { start, length, key, velocity: U7::CENTRE, release: U7::CENTRE };
    let (id, channel, placed) = (NoteId(1), Channel::default(), Placed::UNCHANGED);
    pass.notes_mut().notes.push(Note { id, channel, played, placed });
    Arc::new(pass)
}

/// Tracks 1 and 2; section A with passes 11 and 12 of track 1, and an empty section B.
fn song() -> Song {
    let mut song = Song::new("", section("A"));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Keys")));
    song.tracks.push(Arc::new(Track::drums(TrackId(2), "Kit")));
    song.lay(Letter::A, pass(11));
    song.lay(Letter::A, pass(12));
    song.sections.push(Arc::new(section("B")));
    song
}

fn made(edit: Edit) -> Song {
    let (mut song, before) = (song(), song());
    let inverse = edit.apply(&mut song).unwrap();
    let mut undone = song.clone();
    inverse.apply(&mut undone).unwrap();
    assert_eq!(undone, before);
    song
}

fn refused(edit: Edit) -> EditError {
    let (mut song, before) = (song(), song());
    let error = edit.apply(&mut song).unwrap_err();
    assert_eq!(song, before);
    error
}

fn layers(song: &Song) -> Vec<u32> {
    song.sections[0].layers.iter().map(|layer| layer.pass.0).collect()
}

#[test]
fn a_track_is_added_anywhere_in_the_list_and_removed_unless_it_has_passes() {
    let add = |at| {
        let track = Arc::new(Track::pitched(TrackId(3), "Bass"));
        Edit::AddTrack { at, track }
    };
    let ids = |song: Song| song.tracks.iter().map(|track| track.id.0).collect::<Vec<_>>();
    assert_eq!(ids(made(add(0))), [3, 1, 2]);
    assert_eq!(ids(made(add(2))), [1, 2, 3]);
    assert_eq!(refused(add(3)), EditError::NoPlace(3));
    assert_eq!(ids(made(Edit::RemoveTrack(TrackId(2)))), [1]);
    let error = refused(Edit::RemoveTrack(TrackId(1))).to_string();
    assert_eq!(error, "track 'Keys' still has passes");
    assert_eq!(refused(Edit::RemoveTrack(TrackId(9))), EditError::NoTrack(9));
}

#[test]
fn a_section_is_added_anywhere_in_the_list_and_moved() {
    let add = |at| {
        let section = Arc::new(section("C"));
        Edit::AddSection { at, section, passes: vec![] }
    };
    let letters = |song: Song| -> String {
        song.sections.iter().map(|section| section.letter.to_string()).collect()
    };
    assert_eq!(letters(made(add(0))), "CAB");
    assert_eq!(letters(made(add(2))), "ABC");
    assert_eq!(refused(add(3)), EditError::NoPlace(3));
    assert_eq!(letters(made(Edit::MoveSection("B".parse().unwrap(), 0))), "BA");
    assert_eq!(refused(Edit::MoveSection(Letter::A, 2)), EditError::NoPlace(2));
}

#[test]
fn a_section_in_the_form_or_the_only_one_is_not_removed() {
    let b: Letter = "B".parse().unwrap();
    let mut song = made(Edit::RemoveSection(Letter::A));
    assert!(song.passes.is_empty(), "its passes go with it");
    let error = Edit::RemoveSection(b).apply(&mut song).unwrap_err().to_string();
    assert_eq!(error, "section B is the only one");
    let mut song = self::song();
    Edit::Form("B".parse().unwrap()).apply(&mut song).unwrap();
    let error = Edit::RemoveSection(b).apply(&mut song).unwrap_err().to_string();
    assert_eq!(error, "section B is in the form: remove it from there first");
}

#[test]
fn each_layer_of_a_new_section_has_a_pass_and_each_new_pass_a_layer() {
    let add = |layers: &[u32], passes: &[u32]| {
        let layers = layers.iter().map(|&id| Layer::of(PassId(id))).collect();
        let section = Arc::new(Section { layers, ..section("C") });
        Edit::AddSection { at: 0, section, passes: passes.iter().map(|&id| pass(id)).collect() }
    };
    let c: Letter = "C".parse().unwrap();
    assert_eq!(made(add(&[11, 21], &[21])).passes.len(), 3);
    for (layers, passes, error) in [
        (&[21][..], &[][..], EditError::NoPass(21)),
        (&[], &[21], EditError::NoLayer(c, 21)),
        (&[21], &[21, 21], EditError::Taken("id 21".into())),
        (&[11], &[11], EditError::Taken("id 11".into())),
        (&[11, 11], &[], EditError::InUse("pass 11 is already in section C".into())),
    ] {
        assert_eq!(refused(add(layers, passes)), error);
    }
}

#[test]
fn a_layer_is_laid_and_moved_anywhere_in_the_stack() {
    assert_eq!(layers(&made(Edit::lay(Letter::A, 0, pass(21)))), [21, 11, 12]);
    assert_eq!(layers(&made(Edit::lay(Letter::A, 2, pass(21)))), [11, 12, 21]);
    assert_eq!(refused(Edit::lay(Letter::A, 3, pass(21))), EditError::NoPlace(3));
    let shift = |id, to| Edit::Section(Letter::A, SectionEdit::Move(PassId(id), to));
    assert_eq!(layers(&made(shift(11, 1))), [12, 11]);
    assert_eq!(layers(&made(shift(12, 0))), [12, 11]);
    assert_eq!(refused(shift(11, 2)), EditError::NoPlace(2));
}

#[test]
fn a_note_cannot_be_placed_at_velocity_0() {
    // MIDI 1.0, "Note-Off": a note-on of velocity 0 is a release.
    let place = |velocity| {
        let velocity = Placement::Velocity(U7::new(velocity));
        Edit::Pass(PassId(11), PassEdit::Place(vec![(NoteId(1), velocity)]))
    };
    assert_eq!(refused(place(0)).to_string(), "velocity 0 is outside 1 to 127");
    assert_eq!(made(place(1)).passes[&PassId(11)].notes()[0].stroke().velocity.get(), 1);
}

#[test]
fn a_track_edit_out_of_range_is_refused_with_the_range() {
    let edit = |edit| refused(Edit::Track(TrackId(1), edit)).to_string();
    assert_eq!(edit(TrackEdit::Pull(101)), "pull 101 is outside 0 to 100");
    assert_eq!(edit(TrackEdit::Reach(101)), "reach 101 is outside 0 to 100");
    let length = edit(TrackEdit::PassLength(Some(Tick(0))));
    assert_eq!(length, "pass_length 0 is outside 1 to 245514240");
}
