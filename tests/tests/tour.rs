//! The tour in a real terminal: it opens at the very first start, leads from an empty song to a pass of
//! one's own without any device, and does not open again.
#![cfg(unix)]

use chaconne_tests::terminal::Terminal;
use std::path::Path;

const SAVE: &str = "\x13";
const ESCAPE: &str = "\x1b";
const BACKSPACE: &str = "\x7f";
const REDO: &str = "\x19";
const F8: &str = "\x1b[19~";

/// The screen on a song, without any device and with a state folder of its own.
fn open(folder: &Path, more: &[&str]) -> Terminal {
    let song = folder.join("first idea.ron");
    let mut arguments = vec!["sketch", song.to_str().unwrap(), "--out", "none"];
    arguments.extend(more);
    let terminal = Terminal::start_remembering(&arguments, &folder.join("state"));
    terminal.wait_for("STOPPED");
    terminal
}

fn leave(mut terminal: Terminal) {
    // Nothing was done that could be lost.
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
}

#[test]
fn the_first_start_leads_to_a_pass_of_ones_own_and_the_second_does_not() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = open(folder.path(), &[]);
    terminal.wait_for("waiting for a track");
    terminal.keys("a");
    terminal.wait_for("New track");
    terminal.keys("\r");
    terminal.wait_for("waiting for the loop");
    terminal.keys(" ");
    terminal.wait_for("waiting for the piano");
    terminal.keys("p");
    terminal.wait_for("waiting for recording");
    terminal.keys("\r");
    terminal.wait_for("waiting for a note");
    terminal.keys("f");
    // At 120 BPM the four bars take eight seconds.
    terminal.wait_for("waiting for the seam");
    terminal.wait_for("Your pass plays by itself now");
    terminal.keys("\r");
    terminal.wait_for("waiting for the undo");
    terminal.keys(BACKSPACE);
    terminal.wait_for("waiting for the redo");
    terminal.keys(REDO);
    terminal.wait_for("That is your own pass");
    terminal.keys(ESCAPE);
    terminal.wait_for("You have left the tour");
    terminal.keys(ESCAPE);
    terminal.wait("the end of piano mode", |screen| !screen.contains("KEYS PLAY NOTES"));
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    let text = std::fs::read_to_string(folder.path().join("first idea.ron")).unwrap();
    let song = chaconne_song::text::read(&text).unwrap();
    let notes = |pass: &chaconne_song::SharedPass| -> Vec<u8> {
        pass.notes().iter().map(|note| note.played.key.get()).collect()
    };
    // On a drum track the key with the ridge is the bass drum, 36 (General MIDI System Level 1, RP-003,
    // "Percussion Key Map").
    let passes: Vec<Vec<u8>> = song.passes.values().map(notes).collect();
    assert_eq!(passes, [[36]]);

    let mut terminal = open(folder.path(), &[]);
    assert!(!terminal.text().contains("TOUR"), "{}", terminal.text());
    terminal.keys(F8);
    terminal.wait_for("TOUR 1 of 7");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
}

#[test]
fn the_tour_can_be_declined_or_asked_for_when_the_program_starts() {
    let folder = tempfile::tempdir().unwrap();
    let terminal = open(folder.path(), &["--no-tour"]);
    assert!(!terminal.text().contains("TOUR"), "{}", terminal.text());
    leave(terminal);
    // It was declined, not shown.
    for more in [&[][..], &["--tour"][..]] {
        let terminal = open(folder.path(), more);
        terminal.wait_for("TOUR 1 of 8");
        leave(terminal);
    }
}
