//! A pedal for tapping the tempo: the program keeps its messages and passes all others on.
#![cfg(unix)]

use chaconne_tests::fifo::{Player, Tap, make};
use chaconne_tests::program::{PATIENCE, finish, run, signal, spawn};
use chaconne_tests::wire::Heard;
use rustix::process::Signal;
use std::time::Duration;

const SONG: &str = r#"(
    chaconne: 2,
    title: "taps",
    tracks: [(id: 1, name: "Lead", channel: 1)],
    sections: [(letter: "A", bars: 1, metre: "4/4", tempo: 500000)],
)"#;

#[test]
fn the_tap_pedal_is_not_passed_on_and_every_other_message_is() {
    let folder = tempfile::tempdir().unwrap();
    let (into, out) = (make(folder.path(), "in"), make(folder.path(), "out"));
    let song = folder.path().join("song.ron");
    std::fs::write(&song, SONG).unwrap();
    let (mut player, tap) = (Player::open(&into), Tap::open(&out));
    let ports = [&into, &out].map(|path| format!("bytes:{}", path.display()));
    let song = song.to_str().unwrap();
    let arguments = ["--in", &ports[0], "--out", &ports[1], "--tap", "cc:64@2"];
    let child = spawn(&[&["rehearse", song][..], &arguments[..]].concat());
    // Once the volume comes through, the program is listening. Then come the pedal on the tapped channel
    // and on another one, and a last note.
    player.send(&[0xB1, 7, 80]);
    tap.wait("the volume", |heard| heard.contains(&Heard::Other(0xB0, 7, 80)));
    for value in [127, 0, 127, 0] {
        player.send(&[0xB1, 64, value]);
    }
    player.send(&[0xB2, 64, 127, 64, 0, 0x92, 72, 9, 72, 0]);
    tap.wait("the note", |heard| heard.contains(&Heard::Off(1, 72)));
    signal(child.id(), Signal::TERM);
    finish(child, PATIENCE).ends(0);
    let pedal = |message: &&Heard| matches!(message, Heard::Other(_, 64, 127));
    let heard = tap.close();
    assert_eq!(heard.iter().filter(pedal).collect::<Vec<_>>(), [&Heard::Other(0xB0, 64, 127)]);
}

#[test]
fn a_wrong_tap_control_is_refused_in_one_sentence() {
    let ran = run(&["rehearse", "any.ron", "--in", "none", "--tap", "cc:128"]).ends(2);
    let sentence = "'cc:128' for '--tap <WHAT>': write note:KEY or cc:NUMBER (0 to 127)";
    assert!(ran.err.contains(sentence), "{}", ran.err);
}

/// Four quarters: the song plays one for each stroke of the pad, as loud as it is struck.
const QUARTERS: &str = r#"(
    chaconne: 2,
    title: "pad",
    tracks: [(id: 1, name: "Keys", channel: 1)],
    sections: [(letter: "A", bars: 1, metre: "4/4", tempo: 500000, layers: [
        (id: 2, track: 1, length: "1 bar", channel: 1, notes: [
            (id: 1, at: "1.1.0", length: 900, key: 60, velocity: 64),
            (id: 2, at: "1.2.0", length: 900, key: 62, velocity: 64),
            (id: 3, at: "1.3.0", length: 900, key: 64, velocity: 64),
        ]),
    ])],
)"#;

#[test]
fn each_stroke_of_a_pad_gives_the_next_beat_as_loud_as_it_is_struck() {
    let folder = tempfile::tempdir().unwrap();
    let (into, out) = (make(folder.path(), "in"), make(folder.path(), "out"));
    let song = folder.path().join("song.ron");
    std::fs::write(&song, QUARTERS).unwrap();
    let (mut player, tap) = (Player::open(&into), Tap::open(&out));
    let ports = [&into, &out].map(|path| format!("bytes:{}", path.display()));
    let song = song.to_str().unwrap();
    let lead = ["--tap", "note:36@10", "--by-hand", "beat", "--as-struck"];
    let arguments = ["rehearse", song, "--in", &ports[0], "--out", &ports[1]];
    let child = spawn(&[&arguments[..], &lead[..]].concat());
    player.send(&[0xB1, 7, 80]);
    tap.wait("the volume", |heard| heard.contains(&Heard::Other(0xB0, 7, 80)));
    for (struck, key) in [(80, 60), (40, 62), (120, 64)] {
        // Two strokes at once are one, as when a pad bounces.
        std::thread::sleep(Duration::from_millis(200));
        player.send(&[0x99, 36, struck, 36, 0]);
        tap.wait("the next note", |heard| {
            heard.iter().any(|one| matches!(one, Heard::On(_, on, _) if *on == key))
        });
    }
    signal(child.id(), Signal::TERM);
    finish(child, PATIENCE).ends(0);
    let notes: Vec<Heard> =
        tap.close().into_iter().filter(|one| matches!(one, Heard::On(..))).collect();
    assert_eq!(notes, [Heard::On(1, 60, 64), Heard::On(1, 62, 32), Heard::On(1, 64, 96)]);
}
