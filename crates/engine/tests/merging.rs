//! Two layers that were merged play what they played as two: the same bytes at the same ticks.

#[path = "../../song/tests/common/mod.rs"]
mod common;

use chaconne_engine::{Route, View, Wire, perform};
use chaconne_song::{Edit, Layer, Letter, PassId, Song, TrackId, merge_layers, text};
use chaconne_time::{Span, Tick};
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
    // Rolls are taken together within a pass, so strokes of two layers may become one.
    for track in &mut song.tracks {
        Arc::make_mut(track).feel.rolls = false;
    }
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
