//! Operations by hand, and as properties: what can be done twice leads back, every operation can be
//! undone, and what an operation leaves is a song that can be written and read.

use super::*;
use crate::{Channel, Letter, Pass, Placed, Section, Stroke, TrackId, text};
use chaconne_time::{Metre, MetreMap, Tempo};
use proptest::prelude::*;
use std::sync::Arc;

const BAR: Tick = Tick(3840);

/// A note as start, length, key and velocity.
type Written = (i64, i64, u8, u8);

fn song_of(passes: &[(Tick, &[Written])]) -> Song {
    let metre = MetreMap::new(2, Metre::common()).unwrap();
    let mut song = Song::new("", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(crate::Track::pitched(TrackId(1), "line")));
    for (index, (length, written)) in passes.iter().enumerate() {
        let mut pass = Pass::empty(PassId(10 + index as u32), TrackId(1), *length);
        for (number, &(start, length, key, velocity)) in written.iter().enumerate() {
            let played = Stroke {
                start: Tick(start),
                length: Tick(length),
                key: U7::low_bits(key),
                velocity: U7::low_bits(velocity),
                release: U7::CENTRE,
            };
            let (id, channel) = (NoteId(number as u32 + 1), Channel::default());
            pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
        }
        pass.sort();
        song.lay(Letter::A, Arc::new(pass));
    }
    song
}

fn song(written: &[Written]) -> Song {
    song_of(&[(BAR, written)])
}

/// The notes whose ids are wanted; all if none is.
fn picked(song: &Song, wanted: &[u32]) -> Picked {
    let passes: Vec<&SharedPass> = song.passes.values().collect();
    let names = passes.iter().flat_map(|pass| {
        let ids = pass.notes().iter().map(|note| note.id);
        let wanted = ids.filter(|id| wanted.is_empty() || wanted.contains(&id.0));
        wanted.map(|note| NoteRef { pass: pass.id, note }).collect::<Vec<_>>()
    });
    Picked::new(passes.iter().copied(), &names.collect())
}

/// The notes in order of time.
fn written(song: &Song) -> Vec<Written> {
    let notes = song.passes.values().flat_map(|pass| pass.notes());
    let mut all: Vec<Written> = notes
        .map(|note| {
            let stroke = note.stroke();
            (stroke.start.0, stroke.length.0, stroke.key.get(), stroke.velocity.get())
        })
        .collect();
    all.sort();
    all
}

/// The notes after an operation on all of them.
fn after(
    before: &[Written],
    operation: impl Fn(&Picked) -> Result<Commit, ReviseError>,
) -> Vec<Written> {
    let mut song = song(before);
    operation(&picked(&song, &[])).unwrap().apply(&mut song).unwrap();
    written(&song)
}

const FIGURE: [Written; 3] = [(0, 960, 60, 80), (960, 480, 64, 100), (1440, 480, 67, 90)];

#[test]
fn notes_move_round_their_pass() {
    let by = |by: i64| after(&FIGURE, |notes| notes.shift(Tick(by)));
    assert_eq!(by(240)[0], (240, 960, 60, 80));
    // A little before the top is early; further back is the end of the pass.
    assert_eq!(by(-14)[0], (-14, 960, 60, 80));
    assert_eq!(by(-240), [(720, 480, 64, 100), (1200, 480, 67, 90), (3600, 960, 60, 80)]);
    assert_eq!(by(3000), [(120, 480, 64, 100), (600, 480, 67, 90), (3000, 960, 60, 80)]);
}

#[test]
fn a_start_leaves_its_pass_at_neither_end() {
    let moved = |from, by, pass| round(Tick(from), Tick(by), Tick(pass)).0;
    assert_eq!((moved(3800, 10, 3840), moved(3800, 40, 3840)), (3810, 0));
    assert_eq!(moved(3839, -10, 3840), 3829);
    // At most half a sixteenth early, and half of a pass that is shorter than a sixteenth.
    assert_eq!((moved(0, -120, 3840), moved(0, -121, 3840)), (-120, 3719));
    assert_eq!((moved(0, -50, 100), moved(0, -51, 100)), (-50, 49));
    // One that was played earlier still may come nearer to the start.
    assert_eq!((moved(-400, 10, 3840), moved(-400, -10, 3840)), (-390, 3430));
    assert_eq!(moved(-3840, 0, 3840), 0);
}

#[test]
fn notes_are_transposed_by_semitones() {
    let keys = |by| -> Vec<u8> {
        after(&FIGURE, |notes| notes.transpose(by)).iter().map(|note| note.2).collect()
    };
    assert_eq!((keys(5), keys(-12)), (vec![65, 69, 72], vec![48, 52, 55]));
}

#[test]
fn only_notes_that_were_edited_are_put_where_they_were_played() {
    let mut song = song_of(&[(BAR, &FIGURE), (BAR, &FIGURE)]);
    let before = song.clone();
    let first = NoteRef { pass: PassId(10), note: NoteId(1) };
    let passes = song.passes.values().collect::<Vec<_>>();
    let moved = Picked::new(passes, &[first].into()).shift(Tick(240)).unwrap();
    moved.apply(&mut song).unwrap();
    let back = picked(&song, &[]).as_played().unwrap();
    let named = back.edits.iter().all(
        |edit| matches!(edit, Edit::Pass(PassId(10), PassEdit::Place(places)) if places.len() == 1),
    );
    assert!(named, "{:?}", back.edits);
    back.apply(&mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn a_note_moved_back_is_as_it_was_played() {
    let mut song = song(&FIGURE);
    let before = song.clone();
    for by in [14, -14] {
        picked(&song, &[]).shift(Tick(by)).unwrap().apply(&mut song).unwrap();
        picked(&song, &[]).transpose(by as i32).unwrap().apply(&mut song).unwrap();
        picked(&song, &[]).louder(by as i32).unwrap().apply(&mut song).unwrap();
        picked(&song, &[]).lengthen(Tick(by)).unwrap().apply(&mut song).unwrap();
    }
    assert_eq!(song, before);
}

#[test]
fn a_transposition_that_leaves_the_keys_is_refused_in_one_sentence() {
    let song = song(&FIGURE);
    let refusal = |by: i32| picked(&song, &[]).transpose(by).unwrap_err().to_string();
    assert_eq!(refusal(61), "a note would be above G9, the highest key");
    assert_eq!(refusal(-61), "a note would be below C-1, the lowest key");
    assert!(picked(&song, &[]).transpose(60).is_ok() && picked(&song, &[]).transpose(-60).is_ok());
    assert_eq!(picked(&song, &[9]).transpose(1), Err(ReviseError::Nothing));
}

#[test]
fn louder_and_softer_keep_the_shading() {
    let velocities =
        |by| -> Vec<u8> { after(&FIGURE, |notes| notes.louder(by)).iter().map(|n| n.3).collect() };
    assert_eq!(velocities(20), [100, 120, 110]);
    assert_eq!(velocities(100), [107, 127, 117]);
    assert_eq!(velocities(-100), [1, 21, 11]);
    let song = song(&[(0, 10, 60, 1), (10, 10, 60, 127)]);
    assert_eq!(picked(&song, &[]).louder(1), Err(ReviseError::Loudest));
    assert_eq!(picked(&song, &[1]).louder(-1), Err(ReviseError::Softest));
}

#[test]
fn a_velocity_ramp_goes_by_where_the_notes_start_and_keeps_what_was_played() {
    use crate::{Ramp, Shape, U14};
    let value = |value| U14::new(value).unwrap();
    let mut song =
        song(&[(0, 10, 60, 90), (480, 10, 60, 90), (960, 10, 60, 90), (1920, 10, 60, 90)]);
    let before = song.clone();
    let ramp =
        |shape| Ramp { from: Tick(0), to: Tick(1920), first: value(20), last: value(120), shape };
    let mut velocities = |shape| -> Vec<u8> {
        let picked = picked(&song, &[]);
        let starts: std::collections::BTreeMap<NoteRef, Tick> = picked
            .in_time()
            .iter()
            .map(|(pass, note)| (NoteRef { pass: pass.id, note: note.id }, note.stroke().start))
            .collect();
        let commit = picked.ramp(&ramp(shape), |name| starts.get(&name).copied()).unwrap();
        commit.apply(&mut song).unwrap();
        written(&song).iter().map(|note| note.3).collect()
    };
    // 100 velocities over 1920 ticks, by hand: at a quarter, a half and all of the way.
    assert_eq!(velocities(Shape::Straight), [20, 45, 70, 120]);
    // (1/4)^2 of 100 is 6.25, (1/2)^2 is 25.
    assert_eq!(velocities(Shape::SlowStart), [20, 26, 45, 120]);
    // 1 - (3/4)^2 is 43.75 hundredths, 1 - (1/2)^2 is 75.
    assert_eq!(velocities(Shape::SlowEnd), [20, 64, 95, 120]);
    assert_eq!(velocities(Shape::Step), [20, 20, 20, 120]);
    picked(&song, &[]).as_played().unwrap().apply(&mut song).unwrap();
    assert_eq!(song, before);
    // A note that the ramp knows nothing of keeps its velocity; none becomes a release.
    let down = Ramp { first: value(50), last: value(0), ..ramp(Shape::Straight) };
    let at = |name: NoteRef| (name.note != NoteId(1)).then_some(Tick(1920));
    picked(&song, &[]).ramp(&down, at).unwrap().apply(&mut song).unwrap();
    assert_eq!(written(&song).iter().map(|note| note.3).collect::<Vec<_>>(), [90, 1, 1, 1]);
    assert_eq!(picked(&song, &[9]).ramp(&down, |_| None), Err(ReviseError::Nothing));
}

#[test]
fn lengths_stay_between_a_tick_and_the_pass() {
    let song = song(&FIGURE);
    assert_eq!(picked(&song, &[]).lengthen(Tick(-480)), Err(ReviseError::TooShort));
    assert!(picked(&song, &[]).lengthen(Tick(-479)).is_ok());
    assert_eq!(picked(&song, &[]).lengthen(Tick(2881)), Err(ReviseError::TooLong));
    assert!(picked(&song, &[]).lengthen(Tick(2880)).is_ok());
}

#[test]
fn a_line_is_reversed_with_its_lengths_and_drums_by_their_strokes() {
    let line = after(&FIGURE, |notes| notes.reverse(Mirror::Notes));
    assert_eq!(line, [(0, 480, 67, 90), (480, 480, 64, 100), (960, 960, 60, 80)]);
    let drums = after(&FIGURE, |notes| notes.reverse(Mirror::Strokes));
    assert_eq!(drums, [(0, 480, 67, 90), (480, 480, 64, 100), (1440, 960, 60, 80)]);
    // Held past the end, so that a mirrored note would begin there.
    let song = song(&[(0, 10, 60, 80), (3830, 100, 60, 80)]);
    assert_eq!(picked(&song, &[]).reverse(Mirror::Notes), Err(ReviseError::Outside));
}

#[test]
fn a_line_is_inverted_around_its_middle_or_its_first_note() {
    let keys = |around| -> Vec<u8> {
        after(&FIGURE, |notes| notes.invert(around)).iter().map(|note| note.2).collect()
    };
    assert_eq!(keys(Around::Middle), [67, 63, 60]);
    assert_eq!(keys(Around::First), [60, 56, 53]);
    let widest = after(&[(0, 10, 0, 80), (10, 10, 127, 80)], |notes| notes.invert(Around::Middle));
    assert_eq!(widest, [(0, 10, 127, 80), (10, 10, 0, 80)]);
    let wide = song(&[(0, 10, 100, 80), (10, 10, 10, 80)]);
    assert_eq!(picked(&wide, &[]).invert(Around::First), Err(ReviseError::TooHigh));
    let wide = song(&[(0, 10, 10, 80), (10, 10, 100, 80)]);
    assert_eq!(picked(&wide, &[]).invert(Around::First), Err(ReviseError::TooLow));
}

#[test]
fn every_nth_note_is_removed_in_order_of_time() {
    let hats: Vec<Written> = (0..8).map(|eighth| (eighth * 480, 60, 42, 80)).collect();
    let starts = |nth| -> Vec<i64> {
        after(&hats, |notes| notes.thin(nth)).iter().map(|note| note.0 / 480).collect()
    };
    assert_eq!(starts(2), [0, 2, 4, 6]);
    assert_eq!(starts(3), [0, 1, 3, 4, 6, 7]);
    assert_eq!(picked(&song(&hats), &[1]).thin(2), Err(ReviseError::Same));
    assert_eq!(Picked::default().thin(2), Err(ReviseError::Nothing));
}

#[test]
fn a_note_is_split_where_it_is_cut_and_joined_again() {
    let mut song = song(&FIGURE);
    let cut =
        |note, into| Cut { of: NoteRef { pass: PassId(10), note: NoteId(note) }, into: Tick(into) };
    let cuts = [cut(1, 240), cut(2, 480), cut(3, 0)];
    picked(&song, &[]).split(&cuts).unwrap().apply(&mut song).unwrap();
    assert_eq!(written(&song)[..2], [(0, 240, 60, 80), (240, 720, 60, 80)]);
    assert_eq!(written(&song).len(), 4);
    assert_eq!(picked(&song, &[2]).split(&cuts), Err(ReviseError::NoCut));
    assert_eq!(picked(&song, &[2]).join(), Err(ReviseError::NoNext));
    picked(&song, &[1]).join().unwrap().apply(&mut song).unwrap();
    assert_eq!(written(&song), FIGURE);
}

#[test]
fn several_notes_of_a_pitch_become_one() {
    let notes = [(0, 100, 60, 80), (480, 100, 60, 90), (960, 100, 60, 90), (0, 100, 64, 80)];
    let joined = after(&notes, |notes| match notes.len() {
        4 => notes.join(),
        _ => Err(ReviseError::Nothing),
    });
    assert_eq!(joined, [(0, 100, 64, 80), (0, 1060, 60, 80)]);
    let later = after(&[(480, 100, 60, 80), (960, 100, 60, 90)], Picked::join);
    assert_eq!(later, [(480, 580, 60, 80)]);
}

#[test]
fn copies_are_pasted_where_the_cursor_is_and_round_the_end() {
    let mut song = song(&FIGURE);
    let pass = song.passes[&PassId(10)].clone();
    let clip = picked(&song, &[2, 3]).copy();
    assert_eq!(clip.len(), 2);
    let pasted = clip.paste(&pass, Tick(3600), Label::PasteNotes).unwrap();
    pasted.commit.apply(&mut song).unwrap();
    let new: Vec<Written> = written(&song).into_iter().filter(|n| !FIGURE.contains(n)).collect();
    assert_eq!(new, [(240, 480, 67, 90), (3600, 480, 64, 100)]);
    assert_eq!(picked(&song, &[4, 5]).len(), pasted.notes.len());
    assert_eq!(
        Clip::default().paste(&pass, Tick::ZERO, Label::PasteNotes),
        Err(ReviseError::Nothing)
    );
}

#[test]
fn a_drawn_note_is_a_clip_of_one_and_is_cut_to_the_pass() {
    let mut song = song(&[]);
    let pass = song.passes[&PassId(10)].clone();
    let (start, length) = (Tick(77), BAR + Tick(1));
    let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(80), U7::CENTRE);
    let clip = Clip::note(Channel::default(), Stroke { start, length, key, velocity, release });
    assert_eq!((clip.len(), clip.is_empty(), Clip::default().is_empty()), (1, false, true));
    let pasted = clip.paste(&pass, Tick(960), Label::AddNotes).unwrap();
    assert_eq!(pasted.commit.label, Label::AddNotes);
    pasted.commit.apply(&mut song).unwrap();
    assert_eq!(written(&song), [(960, BAR.0, 60, 80)]);
}

#[test]
fn a_repeat_begins_at_the_next_unit() {
    let beat = Tick(960);
    let song = song(&FIGURE);
    assert_eq!(picked(&song, &[]).span(beat), Tick(1920));
    assert_eq!(picked(&song, &[1]).span(Tick(240)), beat);
    assert_eq!(picked(&song, &[2, 3]).span(beat), beat);
    // Held into the next unit by at most a quarter of it.
    for (length, expected) in [(1, 960), (1200, 960), (1201, 1920), (2160, 1920)] {
        let held = self::song(&[(480, length, 60, 80)]);
        assert_eq!(picked(&held, &[]).span(beat), Tick(expected), "{length}");
    }
    // Played a little early and held a little long.
    let loose = self::song(&[(-20, 970, 60, 80), (970, 990, 60, 80)]);
    assert_eq!(picked(&loose, &[]).span(beat), Tick(1920));
    let repeated = after(&FIGURE, |notes| Ok(notes.repeat(Tick(1920)).unwrap().commit));
    assert_eq!(repeated[3..], FIGURE.map(|(start, l, k, v)| (start + 1920, l, k, v)));
}

#[test]
fn ids_are_taken_from_gaps_if_the_highest_is_taken() {
    let mut song = song(&FIGURE);
    let pass = Arc::make_mut(song.passes.get_mut(&PassId(10)).unwrap());
    pass.notes_mut().notes[1].id = NoteId(Song::LAST_ID);
    let repeated = picked(&song, &[]).repeat(Tick(1920)).unwrap();
    let ids: Vec<u32> = repeated.notes.iter().map(|name| name.note.0).collect();
    assert_eq!(ids, [2, 4, 5]);
    repeated.commit.apply(&mut song).unwrap();
}

#[test]
fn when_the_ids_above_run_out_the_gaps_below_are_used() {
    let mut song = song(&FIGURE);
    let pass = Arc::make_mut(song.passes.get_mut(&PassId(10)).unwrap());
    pass.notes_mut().notes[2].id = NoteId(Song::LAST_ID - 1);
    let repeated = picked(&song, &[]).repeat(Tick(1920)).unwrap();
    let ids: Vec<u32> = repeated.notes.iter().map(|name| name.note.0).collect();
    assert_eq!(ids, [3, 4, Song::LAST_ID]);
    repeated.commit.apply(&mut song).unwrap();
}

fn any_notes(length: i64) -> impl Strategy<Value = Vec<Written>> {
    let note = (-length + 1..length, 1..=length, 0u8..128, 1u8..128);
    prop::collection::vec(note, 1..12)
}

/// A song of two passes, one a beat long.
fn any_song() -> impl Strategy<Value = Song> {
    (any_notes(BAR.0), any_notes(960))
        .prop_map(|(one, other)| song_of(&[(BAR, &one), (Tick(960), &other)]))
}

#[test]
fn notes_get_a_layer_of_their_own_wherever_theirs_lies() {
    let mut song = song_of(&[(BAR, &[(0, 100, 36, 90), (480, 100, 42, 60), (960, 100, 42, 70)])]);
    let mut copy = Section::clone(&song.sections[0]);
    copy.letter = "B".parse().unwrap();
    copy.layers[0].mute = true;
    song.sections.push(Arc::new(copy));
    let feel = crate::Feel::off(true).on(chaconne_time::NoteValue::SIXTEENTH);
    Arc::make_mut(song.passes.get_mut(&PassId(10)).unwrap()).feel = Some(feel);
    let before = song.clone();
    let split = picked(&song, &[2, 3]).split_off(&song).unwrap();
    let inverse = split.commit.apply(&mut song).unwrap();
    let own = split.passes[0];
    assert_eq!(split.notes.iter().map(|note| note.pass).collect::<Vec<_>>(), [own, own]);
    let (rest, new) = (&song.passes[&PassId(10)], &song.passes[&own]);
    let keys = |pass: &Pass| pass.notes().iter().map(|n| n.played.key.get()).collect::<Vec<_>>();
    assert_eq!((keys(rest), keys(new)), (vec![36], vec![42, 42]));
    assert_eq!((new.length, new.feel, new.track), (BAR, Some(feel), TrackId(1)));
    // Right above its own layer in both sections, muted where that is.
    let stacks = song.sections.iter().map(|section| {
        section.layers.iter().map(|layer| (layer.pass, layer.mute)).collect::<Vec<_>>()
    });
    let wanted = [false, true].map(|mute| vec![(PassId(10), mute), (own, mute)]);
    assert_eq!(stacks.collect::<Vec<_>>(), wanted);
    Edit::apply_all(inverse, &mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn a_whole_layer_is_not_split_off() {
    let song = song(&[(0, 100, 36, 90), (480, 100, 42, 60)]);
    let refused = |notes: Picked| notes.split_off(&song).unwrap_err();
    assert_eq!(refused(picked(&song, &[])), ReviseError::OwnLayer);
    assert_eq!(refused(Picked::default()), ReviseError::Nothing);
}

/// Every operation, with amounts; some are refused.
fn operations(
    song: &Song,
    notes: &Picked,
    by: i64,
    nth: usize,
) -> Vec<Result<Commit, ReviseError>> {
    let cuts = notes.passes.iter().flat_map(|(pass, notes)| {
        let cut = |note: &Note| Cut {
            of: NoteRef { pass: pass.id, note: note.id },
            into: Tick(by.abs()),
        };
        notes.iter().map(cut).collect::<Vec<_>>()
    });
    let clip = notes.copy();
    let paste = notes.passes.first().map(|(pass, _)| {
        let at = Tick(by).cycle(pass.length).1;
        clip.paste(pass, at, Label::PasteNotes).map(|pasted| pasted.commit)
    });
    let mut all = vec![
        notes.shift(Tick(by)),
        notes.transpose((by % 13) as i32),
        notes.louder((by % 13) as i32),
        notes.lengthen(Tick(by % 200)),
        notes.reverse(Mirror::Notes),
        notes.reverse(Mirror::Strokes),
        notes.invert(Around::Middle),
        notes.invert(Around::First),
        notes.thin(nth),
        notes.split(&cuts.collect::<Vec<_>>()),
        notes.join(),
        notes.repeat(Tick(by.abs())).map(|pasted| pasted.commit),
        notes.as_played(),
        notes.remove(),
        notes.split_off(song).map(|split| split.commit),
    ];
    all.extend(paste);
    all
}

proptest! {
    #[test]
    fn every_operation_can_be_applied_and_undone(
        song in any_song(), by in -5000i64..5000, nth in 2usize..5, wanted in prop::collection::vec(1u32..12, 0..6),
    ) {
        for made in operations(&song, &picked(&song, &wanted), by, nth) {
            let Ok(commit) = made else { continue };
            let mut changed = song.clone();
            let label = commit.label;
            let inverse = commit.apply(&mut changed);
            prop_assert!(inverse.is_ok(), "{}: {:?}", label, inverse);
            let read = text::read(&text::write(&changed));
            prop_assert_eq!(read.as_ref().map_err(|e| format!("{e:?}")), Ok(&changed));
            Edit::apply_all(inverse.unwrap(), &mut changed).unwrap();
            prop_assert_eq!(&changed, &song, "{}", label);
        }
    }

    #[test]
    fn mirrors_done_twice_give_the_same_song(song in any_song()) {
        let mirrors = |notes: &Picked| {
            let (notes_and_strokes, around) =
                ([Mirror::Notes, Mirror::Strokes], [Around::Middle, Around::First]);
            let reversed = notes_and_strokes.map(|mirror| notes.reverse(mirror));
            reversed.into_iter().chain(around.map(|around| notes.invert(around))).collect::<Vec<_>>()
        };
        for (which, once) in mirrors(&picked(&song, &[])).into_iter().enumerate() {
            let mut changed = song.clone();
            let Ok(commit) = once else { continue };
            commit.apply(&mut changed).unwrap();
            let again = mirrors(&picked(&changed, &[])).swap_remove(which);
            prop_assert!(again.is_ok(), "{:?}", again);
            again.unwrap().apply(&mut changed).unwrap();
            prop_assert_eq!(&changed, &song);
        }
    }

    #[test]
    fn what_was_played_stays_whatever_is_done(
        song in any_song(), steps in prop::collection::vec((0usize..8, -500i64..500), 1..8),
    ) {
        let mut changed = song.clone();
        for (which, by) in steps {
            if let Ok(commit) = operations(&changed, &picked(&changed, &[]), by, 2).swap_remove(which) {
                commit.apply(&mut changed).unwrap();
            }
        }
        for (id, pass) in &song.passes {
            for (before, after) in std::iter::zip(pass.notes(), changed.passes[id].notes()) {
                prop_assert_eq!(before.played, after.played);
            }
        }
        if let Ok(back) = picked(&changed, &[]).as_played() {
            back.apply(&mut changed).unwrap();
        }
        prop_assert_eq!(changed, song);
    }
}
