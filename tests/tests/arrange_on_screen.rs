//! Sections and tempo changed in a real terminal while the song plays: split, lifted, put into half time, slowed
//! down and fitted to a duration; then everything is undone, and the file is the same as before.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::assert_balanced;

const SAVE: &str = "\x13";
const F6: &str = "\x1b[17~";

/// Four bars at 120 BPM with a note at the start of each, played twice by the form: 16 seconds.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Two halves",
    form: "A x2",
    tracks: [(id: 1, name: "Pad", channel: 3)],
    sections: [(letter: "A", bars: 4, metre: "4/4", tempo: 500000, layers: [
        (id: 5, track: 1, length: "4 bars", notes: [
            (id: 6, at: "1.1.0", length: 480, key: 60, velocity: 90),
            (id: 7, at: "2.1.0", length: 480, key: 62, velocity: 90),
            (id: 8, at: "3.1.0", length: 480, key: 64, velocity: 90),
            (id: 9, at: "4.1.0", length: 480, key: 65, velocity: 90),
        ]),
    ])],
)"#;

fn save(terminal: &Terminal) {
    terminal.keys(SAVE);
    terminal.wait("the song is saved", |screen| {
        let top = screen.lines().next().unwrap_or_default();
        top.contains("saved") && !top.contains("not saved")
    });
}

#[test]
fn a_song_is_arranged_while_it_plays_and_undone_to_the_same_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("halves.ron");
    let before = chaconne_song::text::write(&chaconne_song::text::read(SONG).unwrap());
    std::fs::write(&path, &before).unwrap();
    make(folder.path(), "out");
    let out = folder.path().join("out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut terminal = Terminal::start(&["sketch", path.to_str().unwrap(), "--out", &port]);
    terminal.wait_for("STOPPED");
    terminal.keys(F6);
    terminal.wait_for("form  A x2");
    terminal.keys("f");
    terminal.wait_for("PLAYING");
    terminal.keys("As");
    terminal.wait_for("Split section A: 4 bars");
    terminal.keys("3");
    terminal.wait_for("A has 2 bars, the new section B has 2 bars");
    terminal.keys("\r");
    terminal.wait_for("form  (A B) x2");
    terminal.keys("M0:20");
    terminal.wait_for("the form lasts 0:20");
    terminal.keys("\r");
    terminal.wait_for("form: 8 bars, 0:20");
    terminal.keys("Mto 60 over 1 bar\r");
    terminal.wait_for("96 to 60");
    terminal.keys("Ah");
    terminal.wait_for("A is in half time: 4 bars");
    terminal.wait_for("PLAYING");
    save(&terminal);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let bars: Vec<u32> = song.sections.iter().map(|section| section.metre.bars()).collect();
    assert_eq!((song.form.to_string().as_str(), bars.as_slice()), ("(A B) x2", [4, 2].as_slice()));
    for step in ["half time", "tempo ramp", "tempo for a duration", "split section"] {
        terminal.keys("u");
        terminal.wait_for(&format!("Undone: {step}"));
    }
    save(&terminal);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
    // It has played on, and stops at the end of the form by itself.
    terminal.wait_for("STOPPED");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}
