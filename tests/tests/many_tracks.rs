//! A song of 1,600 tracks, 64 of which have notes on all 16 channels: the program checks it, lists it,
//! plays it and exports it, and no note is lost.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::program::run;
use chaconne_tests::wire::{assert_balanced, strikes};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

const TRACKS: u32 = 1600;
const SOUNDING: u32 = 64;
const CHANNELS: u32 = 16;

/// Every 25th track has a pass with one note on each channel. Each of these tracks has a key of its own,
/// so no two notes share a channel and a key.
fn song() -> String {
    let mut text = String::from("(\n    chaconne: 2,\n    title: \"Everybody\",\n    tracks: [\n");
    for id in 1..=TRACKS {
        // A track without a channel plays each note on the note's own channel.
        writeln!(text, "        (id: {id}, name: \"Part {id}\"),").unwrap();
    }
    text.push_str("    ],\n    sections: [(letter: \"A\", bars: 4, metre: \"4/4\", ");
    text.push_str("tempo: 250000, layers: [\n");
    for part in 0..SOUNDING {
        let (track, id) = (1 + part * 25, 10_000 + part * 100);
        writeln!(text, "(id: {id}, track: {track}, length: \"4 bars\", notes: [").unwrap();
        for channel in 1..=CHANNELS {
            // One note per beat, each on the next channel, shifted a little from part to part.
            let tick = (channel - 1) * 960 + part * 10;
            let (bar, beat, rest) = (1 + tick / 3840, 1 + tick % 3840 / 960, tick % 960);
            let (note, key, velocity) = (id + channel, 20 + part, 30 + part);
            writeln!(
                text,
                "(id: {note}, at: \"{bar}.{beat}.{rest}\", length: 900, key: {key}, \
                 velocity: {velocity}, channel: {channel}),"
            )
            .unwrap();
        }
        text.push_str("]),\n");
    }
    text + "])])\n"
}

fn saved(folder: &Path) -> PathBuf {
    let path = folder.join("everybody.ron");
    std::fs::write(&path, song()).unwrap();
    path
}

#[test]
fn the_song_is_clean_and_every_note_is_listed_once() {
    let folder = tempfile::tempdir().unwrap();
    let song = saved(folder.path());
    let song = song.to_str().unwrap();
    run(&["check", song]).ends(0);
    let listing = run(&["list", song]).ends(0).out;
    let mut listed: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    for line in listing.lines().filter(|line| line.contains(" note ")) {
        let after = |name: &str| -> u32 {
            let mut words = line.split_whitespace().skip_while(|word| *word != name);
            words.find_map(|word| word.parse().ok()).unwrap()
        };
        *listed.entry((after("Part"), after("channel"))).or_default() += 1;
    }
    let parts = (0..SOUNDING).map(|part| 1 + part * 25);
    let all = parts.flat_map(|part| (1..=CHANNELS).map(move |channel| ((part, channel), 1)));
    assert_eq!(listed, all.collect());
    // Besides the notes, there are only a section, a metre and a tempo.
    assert_eq!(listing.lines().count() as u32, SOUNDING * CHANNELS + 3);
}

#[test]
fn every_note_is_played_and_released() {
    let folder = tempfile::tempdir().unwrap();
    let song = saved(folder.path());
    let out = make(folder.path(), "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let arguments = ["rehearse", song.to_str().unwrap(), "--rounds", "2", "--out", &port];
    let ran = run(&arguments).ends(0);
    assert!(ran.out.contains("all notes released"), "{}", ran.out);
    let heard = tap.close();
    assert_balanced(&heard);
    for channel in 1..=CHANNELS as u8 {
        let round = (0..SOUNDING as u8).map(|part| (20 + part, 30 + part));
        let twice: Vec<(u8, u8)> = round.clone().chain(round).collect();
        assert_eq!(strikes(&heard, channel), twice, "channel {channel}");
    }
}

#[test]
fn the_exported_file_has_every_note() {
    let folder = tempfile::tempdir().unwrap();
    let song = saved(folder.path());
    let midi = folder.path().join("everybody.mid");
    run(&["export", song.to_str().unwrap(), "--midi", midi.to_str().unwrap()]).ends(0);
    // midly, a general library, counts what is in the file.
    let bytes = std::fs::read(&midi).unwrap();
    let file = midly::Smf::parse(&bytes).unwrap();
    let mut struck: BTreeMap<(u8, u8), usize> = BTreeMap::new();
    for event in file.tracks.iter().flatten() {
        if let midly::TrackEventKind::Midi { channel, message } = event.kind
            && let midly::MidiMessage::NoteOn { key, vel } = message
            && vel > 0
        {
            *struck.entry((channel.as_int(), key.as_int())).or_default() += 1;
        }
    }
    assert_eq!(struck.len() as u32, SOUNDING * CHANNELS);
    assert!(struck.values().all(|&count| count == 1));
}
