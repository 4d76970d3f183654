//! Two layers that were merged play what they played as two: the same bytes at the same ticks.

#[path = "../../song/tests/common/mod.rs"]
mod common;

use chaconne_engine::{Route, View, Wire, perform};
use chaconne_song::{
    Channel, Edit, Feel, Layer, Letter, Note, NoteId, Pass, PassId, Placed, Section, Song, Stroke,
    Track, TrackId, U7, merge_layers, text,
};
use chaconne_time::{Metre, MetreMap, NoteKind, NoteValue, Span, Tempo, Tick};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// What a section plays in its first rounds: ticks, ports and bytes; those of one tick in order of their
/// bytes, since two layers of one tick have no order of their own.
fn wire(song: &Song, letter: Letter) -> Vec<(Tick, String, Vec<u8>)> {
    const PLAYED: Tick = Tick(40_000);
    let performance =
        perform(song, &Route::open(letter), Span::new(Tick::ZERO, PLAYED), View::Corrected);
    let lines = performance.events.iter().map(|event| {
        let bytes = match &event.wire {
            Wire::Message(message) => message.bytes().to_vec(),
            Wire::SysEx(bytes) => bytes.to_vec(),
        };
        (event.at, performance.ports[usize::from(event.port.0)].clone(), bytes)
    });
    let mut lines: Vec<_> = lines.collect();
    lines.sort();
    lines
}

/// A song with more layers than usual, most of them without a feel of their own.
fn song(tape: Vec<u64>) -> Song {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    for pass in song.passes.values_mut() {
        Arc::make_mut(pass).feel = None;
    }
    let tracks: Vec<TrackId> = song.tracks.iter().map(|track| track.id).collect();
    for section in &mut song.sections {
        let section = Arc::make_mut(section);
        for &track in tracks.iter().flat_map(|track| [track; 4]) {
            let mut pass = chooser.pass(&section.metre, track);
            pass.feel = None;
            if chooser.once_in(2) {
                pass.covers.clear();
            }
            section.layers.push(Layer { pass: pass.id, mute: false });
            song.passes.insert(pass.id, Arc::new(pass));
        }
    }
    song
}

/// Merges whatever can be merged, from the top down; returns how many pairs could, and the reasons why
/// others could not.
fn merge_all(mut song: Song) -> (usize, BTreeSet<String>) {
    let (mut merged, mut refused) = (0, BTreeSet::new());
    let layers: Vec<(Letter, PassId)> = song
        .sections
        .iter()
        .flat_map(|section| section.layers.iter().rev().map(|layer| (section.letter, layer.pass)))
        .collect();
    for (letter, upper) in layers {
        if song.section(letter).is_none_or(|section| section.layer(upper).is_none()) {
            continue;
        }
        let new = song.ids().pass();
        let commit = match merge_layers(&song, letter, upper, new) {
            Ok(commit) => commit,
            Err(reason) => {
                refused.insert(reason.to_string());
                continue;
            }
        };
        let before: Vec<_> = song.sections.iter().map(|section| section.letter).collect();
        let before: Vec<_> = before.into_iter().map(|of| (of, wire(&song, of))).collect();
        let was = song.clone();
        let undo = commit.apply(&mut song).unwrap();
        for (of, lines) in &before {
            assert_eq!(&wire(&song, *of), lines, "section {of}");
        }
        assert_eq!(text::read(&text::write(&song)).unwrap(), song);
        let mut undone = song.clone();
        Edit::apply_all(undo, &mut undone).unwrap();
        assert_eq!(undone, was);
        merged += 1;
    }
    (merged, refused)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        max_shrink_iters: 400,
        ..ProptestConfig::default()
    })]

    #[test]
    fn merged_layers_play_what_they_played(tape in tape(600)) {
        merge_all(song(tape));
    }
}

#[test]
fn songs_have_layers_to_merge_and_others_that_cannot_be() {
    let (mut merged, mut refused) = (0, BTreeSet::new());
    for seed in 0..60 {
        let (more, reasons) = merge_all(song(steady_tape(seed, 4000)));
        merged += more;
        refused.extend(reasons);
    }
    assert!(merged > 5 && refused.len() > 3, "{merged} {refused:?}");
}

/// A bar of 4/4.
const BAR: Tick = Tick(3840);

/// Two layers of one drum: one of a beat, one of a bar, each with strokes at these ticks.
fn drum(short: &[i64], long: &[i64], feel: Feel) -> Song {
    let mut track = Track::drums(TrackId(1), "Drums");
    track.feel = feel;
    let section =
        Section::new(Letter::A, MetreMap::new(1, Metre::common()).unwrap(), Tempo::DEFAULT);
    let mut song = Song::new("drum", section);
    song.tracks = vec![Arc::new(track)];
    for (id, length, starts) in [(1, Tick(960), short), (2, BAR, long)] {
        let mut pass = Pass::empty(PassId(id), TrackId(1), length);
        for (&start, id) in std::iter::zip(starts, 1..) {
            let played = Stroke {
                start: Tick(start),
                length: Tick(60),
                key: U7::low_bits(38),
                velocity: U7::low_bits(90),
                release: U7::CENTRE,
            };
            let channel = Channel::from_number(10).unwrap();
            let note = Note { id: NoteId(id), channel, played, placed: Placed::UNCHANGED };
            pass.notes_mut().notes.push(note);
        }
        song.lay(Letter::A, pass);
    }
    song
}

/// Merges both layers; they must play what they played, or be refused with a reason.
fn merge(mut song: Song) -> Result<(), String> {
    let before = wire(&song, Letter::A);
    let commit = merge_layers(&song, Letter::A, PassId(2), PassId(9)).map_err(|e| e.to_string())?;
    commit.apply(&mut song).unwrap();
    assert_eq!(wire(&song, Letter::A), before);
    Ok(())
}

#[test]
fn a_beat_is_merged_with_a_bar_only_if_the_grid_fits_both() {
    let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
    let late = |grid: NoteValue| drum(&[900], &[480], Feel::off(false).on(grid));
    let refused = merge(late(dotted)).unwrap_err();
    let sentence = "the layers differ in length, and their grid does not fit the shorter one: \
                    turn the grid off first";
    assert_eq!(refused, sentence);
    merge(late(NoteValue::SIXTEENTH)).unwrap();
    merge(late(NoteValue::QUARTER)).unwrap();
    // Swung quarters are pairs of two beats.
    let swing = "58".parse().unwrap();
    let swung = Feel { swing, ..Feel::off(false).on(NoteValue::QUARTER) };
    assert_eq!(merge(drum(&[900], &[480], swung)).unwrap_err(), sentence);
    merge(drum(&[900], &[480], Feel { grid: Some(NoteValue::SIXTEENTH), ..swung })).unwrap();
}

/// At 120 a tick lasts 521 microseconds: 96 of them are a hair over 50 ms, 95 under it.
#[test]
fn strokes_that_would_become_a_flam_are_not_merged() {
    let rolls = Feel::off(true).on(NoteValue::SIXTEENTH);
    let refused = merge(drum(&[10], &[105], rolls)).unwrap_err();
    let sentence =
        "strokes of the two layers would become a flam: turn rolls off in their feel first";
    assert_eq!(refused, sentence);
    merge(drum(&[10], &[107], rolls)).unwrap();
    merge(drum(&[10], &[105], Feel { rolls: false, ..rolls })).unwrap();
    merge(drum(&[10], &[105], Feel::off(true))).unwrap();
    // A cycle's last stroke with the next one's first.
    assert_eq!(merge(drum(&[10, 940], &[480], rolls)).unwrap_err(), sentence);
}
