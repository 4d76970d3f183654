//! Somebody who does not play keys lays down a pass of chords with one finger over drums, in a real terminal; puts
//! chords of their own on keys, and stays in key. What goes out, byte by byte, and what the song's file holds.
#![cfg(unix)]

use chaconne_song::KeysPlay;
use chaconne_tests::fifo::{Player, Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced, strikes};
use std::path::{Path, PathBuf};

const SAVE: &str = "\x13";
const KEYS_PLAY: &str = "\x0b";
const SUGGEST: &str = "\x14";
const FORM: &str = "\x1b[17~";
const ESCAPE: &str = "\x1b";
const DOWN: &str = "\x1b[B";
const LEFT: &str = "\x1b[D";
const RIGHT: &str = "\x1b[C";
/// Pulses of MIDI clock in a bar of 4/4 (MIDI 1.0 Detailed Specification 4.2, "Timing Clock": 24 to the quarter).
const BAR: usize = 96;

/// A song of four bars in G major at 200 BPM: a bass drum on every beat, and a track for chords on channel 2.
fn song(folder: &Path) -> PathBuf {
    let note = |beat: u32| {
        let at = format!("{}.{}.0", beat / 4 + 1, beat % 4 + 1);
        format!("(id: {}, at: \"{at}\", length: 100, key: 36, velocity: 90),", beat + 1)
    };
    let notes: String = (0..16).map(note).collect();
    let text = format!(
        "(chaconne: 2, title: \"One finger\", key: \"G major\", tracks: [(id: 1, name: \"Drums\", channel: 10, \
         pitched: false), (id: 2, name: \"Chords\", channel: 2)], sections: [(letter: \"A\", bars: 4, \
         metre: \"4/4\", tempo: 300000, layers: [(id: 3, track: 1, length: \"4 bars\", channel: 10, \
         notes: [{notes}])])])"
    );
    let path = folder.join("one finger.ron");
    std::fs::write(&path, text).unwrap();
    path
}

/// The screen on that song with the track of chords armed.
fn open(folder: &Path, more: &[&str]) -> (Terminal, Tap, PathBuf) {
    let (path, out) = (song(folder), make(folder, "out"));
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut arguments = vec!["sketch", path.to_str().unwrap(), "--out", &port, "--clock"];
    arguments.extend(more);
    let terminal = Terminal::start(&arguments);
    terminal.wait_for("STOPPED");
    terminal.keys(DOWN);
    terminal.wait("the track of chords is armed", |screen| {
        screen.lines().any(|line| line.contains("2 Chords") && line.contains(" a "))
    });
    (terminal, tap, path)
}

/// The keys struck on the channel of the chords.
fn chords(heard: &[Heard]) -> Vec<u8> {
    strikes(heard, 2).iter().map(|strike| strike.0).collect()
}

/// Waits for keys that are struck after so many others, and returns how many there are then.
#[track_caller]
fn wait_for_keys(tap: &Tap, before: usize, keys: &[u8]) -> usize {
    tap.wait(&format!("{keys:?}"), |heard| chords(heard)[before..] == *keys);
    before + keys.len()
}

/// The chord that the head names, at the end of its row of values.
fn named(screen: &str) -> &str {
    let last = screen.lines().nth(2).and_then(|line| line.split_whitespace().last());
    last.unwrap_or_default().trim_matches(['(', ')'])
}

fn read(path: &Path) -> chaconne_song::Song {
    chaconne_song::text::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn four_chords_are_laid_with_one_finger_over_drums_and_offered_as_the_chart() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    terminal.keys(KEYS_PLAY);
    terminal.wait_for("What keys play on Chords");
    terminal.keys(&RIGHT.repeat(3));
    terminal.wait_for("White keys play the chords of G major, C the first.");
    terminal.keys(ESCAPE);
    terminal.wait("the box is closed", |screen| !screen.contains("What keys play"));
    terminal.keys("p");
    let screen = terminal.wait_for("CHORD KEYS");
    assert!(screen.contains("G     Am    Bm    C     D     Em    F#dim"), "{screen}");
    // The first degree, the sixth, the fourth and the second, one letter in each bar.
    terminal.keys("\r");
    for (bar, (letter, name)) in
        [("f", "G"), ("l", "Em/G"), ("j", "C/G"), ("g", "Am")].into_iter().enumerate()
    {
        tap.wait_for_pulse(bar * BAR + 2);
        terminal.keys(letter);
        terminal.wait(name, |screen| named(screen) == name);
    }
    // The rule of the handbooks (Kostka and Payne, "Tonal Harmony", on root-position triads a third or a fifth apart):
    // keep the common tones, and move the other voices by step. From memory.
    let led = [55, 59, 62, 55, 59, 64, 55, 60, 64, 57, 60, 64];
    tap.wait("the chords as they are played", |heard| chords(heard).len() >= 12);
    tap.wait_for_pulse(4 * BAR);
    terminal.keys("\r");
    tap.wait("the round after", |heard| chords(heard).len() >= 24);
    terminal.keys(ESCAPE);
    terminal.wait("the end of piano mode", |screen| !screen.contains("CHORD KEYS"));
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(&format!("{FORM}H"));
    terminal.wait_for("The chords of A");
    terminal.keys(SUGGEST);
    terminal.wait_for("G | Em | C | Am");
    terminal.keys("\r");
    terminal.wait("the box is closed", |screen| !screen.contains("The chords of A"));
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    let heard = tap.close();
    assert_balanced(&heard);
    assert_eq!(chords(&heard)[..24], [led, led].concat());
    assert!(strikes(&heard, 10).len() > 32, "the drums go on");
    let song = read(&path);
    assert_eq!(song.tracks[1].keys_play, KeysPlay::Chords);
    let pass = song.passes.values().find(|pass| pass.track == song.tracks[1].id).unwrap();
    let notes: Vec<u8> = pass.notes().iter().map(|note| note.played.key.get()).collect();
    assert_eq!(notes, led);
    let chart: Vec<String> =
        song.sections[0].chords.iter().map(|chord| chord.symbol.to_string()).collect();
    assert_eq!(chart, ["G", "Em", "C", "Am"]);
}

#[test]
fn chords_are_picked_up_and_put_on_keys_of_an_input_and_notes_stay_in_key() {
    let folder = tempfile::tempdir().unwrap();
    let port = make(folder.path(), "in");
    let (mut terminal, tap, path) =
        open(folder.path(), &["--in", &format!("bytes:{}", port.display())]);
    let mut input = Player::open(&port);
    let mut heard = 0;
    terminal.keys(KEYS_PLAY);
    terminal.wait_for("What keys play on Chords");
    // A chord played by hand on the letters: C, E and G.
    terminal.keys("fhk");
    heard = wait_for_keys(&tap, heard, &[60, 64, 67]);
    // In brackets: the letters are let go.
    terminal.wait_for("(C)");
    terminal.keys("c");
    terminal.wait_for("C is picked up: strike the key");
    input.send(&[0x90, 61, 80, 0x80, 61, 0]);
    heard = wait_for_keys(&tap, heard, &[61]);
    terminal.wait_for("C#4 =C");
    terminal.keys(&format!("{DOWN}{RIGHT}{RIGHT}{RIGHT}"));
    terminal.wait_for("keys play chords");
    input.send(&[0x90, 61, 80, 0x80, 61, 0]);
    heard = wait_for_keys(&tap, heard, &[60, 64, 67]);
    // A chord of a chord key: A minor keeps C and E, and moves G by step.
    input.send(&[0x90, 62, 80, 0x80, 62, 0]);
    heard = wait_for_keys(&tap, heard, &[60, 64, 69]);
    terminal.wait("Am/C", |screen| named(screen) == "Am/C");
    terminal.keys("c");
    // Meanwhile keys play their own notes, so that a key can be told.
    terminal.wait("keys play notes", |screen| {
        screen.contains("Am/C is picked up") && !screen.contains("keys play chords")
    });
    input.send(&[0x90, 84, 80, 0x80, 84, 0]);
    heard = wait_for_keys(&tap, heard, &[84]);
    terminal.wait_for("C6 =Am/C");
    terminal.wait_for("keys play chords");
    terminal.keys(&format!("{DOWN}{LEFT}{LEFT}"));
    terminal.wait_for("Every key plays the nearest note of G major.");
    terminal.wait_for("keys play scale");
    // D sharp lies between D and E, both of them in the key: the lower one.
    input.send(&[0x90, 63, 80, 0x80, 63, 0]);
    wait_for_keys(&tap, heard, &[62]);
    terminal.keys(ESCAPE);
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    drop(input);
    assert_balanced(&tap.close());
    let song = read(&path);
    let track = &song.tracks[1];
    let own: Vec<(u8, String)> =
        track.chord_keys.own.iter().map(|(key, chord)| (key.get(), chord.to_string())).collect();
    assert_eq!(own, [(61, "C".to_string()), (84, "Am/C".to_string())]);
    assert_eq!(track.keys_play, KeysPlay::Scale);
}
