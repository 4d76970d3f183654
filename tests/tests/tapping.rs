//! A pedal for tapping the tempo: the program keeps its messages and passes all others on.
#![cfg(unix)]

use chaconne_tests::fifo::{Player, Tap, make};
use chaconne_tests::program::{PATIENCE, finish, run, signal, spawn};
use chaconne_tests::wire::Heard;
use rustix::process::Signal;

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
