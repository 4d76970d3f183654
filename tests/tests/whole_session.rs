//! A whole session in a real terminal: four parts are played in over a byte port while the player walks
//! through all views and edits in each; the song is saved and opened again as it was; then everything is
//! undone, and the file is the same as at first.
#![cfg(unix)]

use chaconne_song::{Song, text};
use chaconne_tests::fifo::{Player, Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::assert_balanced;
use std::path::Path;

const SAVE: &str = "\x13";
const ESCAPE: &str = "\x1b";
const DOWN: &str = "\x1b[B";
const UP: &str = "\x1b[A";
const RIGHT: &str = "\x1b[C";
const LOOP: &str = "\x1bOQ";
const LAYERS: &str = "\x1bOR";
const NOTES: &str = "\x1bOS";
const LEVELS: &str = "\x1b[15~";
const FORM: &str = "\x1b[17~";
const PORTS: &str = "\x1b[18~";
/// Pulses of MIDI clock in a quarter (MIDI 1.0 Detailed Specification 4.2, "Timing Clock").
const QUARTER: usize = 24;
/// The beats of a round.
const BEATS: usize = 8;

/// More steps of undo than the session has.
const STEPS: usize = 40;

/// Two bars at 240 BPM and four empty tracks, on channels 1 to 4.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Four corners",
    tracks: [
        (id: 1, name: "Low", channel: 1),
        (id: 2, name: "Middle", channel: 2),
        (id: 3, name: "High", channel: 3),
        (id: 4, name: "Top", channel: 4),
    ],
    sections: [(letter: "A", bars: 2, metre: "4/4", tempo: 250000)],
)"#;

fn open(song: &Path, folder: &Path) -> (Terminal, Tap, Player) {
    let (out, into) = (folder.join("out"), folder.join("in"));
    let (tap, player) = (Tap::open(&out), Player::open(&into));
    let (to, from) = (format!("bytes:{}", out.display()), format!("bytes:{}", into.display()));
    let song = song.to_str().unwrap();
    let terminal = Terminal::start(&["sketch", song, "--out", &to, "--in", &from, "--clock"]);
    terminal.wait_for("STOPPED");
    (terminal, tap, player)
}

fn save(terminal: &Terminal) {
    terminal.keys(SAVE);
    terminal.wait("the song is saved", |screen| {
        let top = screen.lines().next().unwrap_or_default();
        top.contains("saved") && !top.contains("not saved")
    });
}

fn saved(path: &Path) -> Song {
    text::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Goes to a view, and waits until its name is the one in reverse, which its own foot tells.
fn go(terminal: &Terminal, view: &str, sign: &str) {
    terminal.keys(view);
    terminal.wait_for(sign);
}

/// Plays a key over the port at a beat of a round, for about half a beat.
fn strike(tap: &Tap, player: &mut Player, (round, beat): (usize, usize), key: u8) {
    let pulse = (round * BEATS + beat) * QUARTER;
    tap.wait_for_pulse(pulse + 2);
    player.send(&[0x90, key, 90]);
    tap.wait_for_pulse(pulse + QUARTER / 2);
    player.send(&[0x80, key, 64]);
}

/// What the player does in a view while the song plays on.
struct Visit {
    view: &'static str,
    /// What is on the screen then.
    sign: &'static str,
    keys: &'static str,
    /// What is on the screen after the keys.
    after: &'static str,
}

#[test]
fn four_parts_are_played_in_edited_in_every_view_saved_and_undone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("corners.ron");
    let before = text::write(&text::read(SONG).unwrap());
    std::fs::write(&path, &before).unwrap();
    make(folder.path(), "out");
    make(folder.path(), "in");
    let (mut terminal, tap, mut player) = open(&path, folder.path());
    let views = [
        (LAYERS, "b merge"),
        (NOTES, "arrows cursor"),
        (LEVELS, "volume"),
        (FORM, "add entry"),
        (PORTS, "reset figures"),
        (LOOP, "quantise"),
    ];
    // The loop rolls from the first take on; each part gets a round of its own.
    for part in 0..4 {
        terminal.keys("\r");
        terminal.keys("r");
        if part == 0 {
            tap.wait_for_pulse(0);
        }
        terminal.wait_for("RECORDING");
        let pulses = tap.wait("what came so far", |_| true);
        let start = pulses.iter().rposition(|m| *m == chaconne_tests::wire::Heard::Start).unwrap();
        let played = pulses[start..].iter().filter(|m| **m == chaconne_tests::wire::Heard::Pulse);
        let round = played.count() / (BEATS * QUARTER) + usize::from(part > 0);
        for (beat, (view, sign)) in views.into_iter().enumerate() {
            strike(&tap, &mut player, (round, beat + 1), 48 + 12 * part + beat as u8);
            go(&terminal, view, sign);
        }
        tap.wait_for_pulse((round + 1) * BEATS * QUARTER);
        terminal.keys("r");
        terminal.wait_for("not recording");
        terminal.keys(DOWN);
    }
    save(&terminal);
    let song = saved(&path);
    let counts: Vec<usize> = song
        .tracks
        .iter()
        .map(|track| {
            song.passes
                .values()
                .filter(|pass| pass.track == track.id)
                .map(|pass| pass.notes().len())
                .sum()
        })
        .collect();
    assert_eq!(counts, [6; 4], "notes of each part");
    // The fourth part is still chosen: an edit in each view.
    for Visit { view, sign, keys, after } in [
        Visit { view: LOOP, sign: "quantise", keys: "g", after: "1/16" },
        Visit { view: LAYERS, sign: "b merge", keys: "epeak\r", after: "peak, 2 bars" },
        Visit {
            view: NOTES,
            sign: "arrows cursor",
            keys: "sam\x1b[A",
            after: "undo: note pitch on Top",
        },
        Visit { view: NOTES, sign: "MOVE", keys: ESCAPE, after: "arrows cursor" },
        Visit { view: LEVELS, sign: "pan", keys: RIGHT, after: "undo: levels" },
        Visit { view: FORM, sign: "add entry", keys: "d", after: "2 sections" },
        Visit { view: FORM, sign: "add entry", keys: "bb", after: "form  B B" },
    ] {
        go(&terminal, view, sign);
        terminal.keys(keys);
        terminal.wait_for(after);
    }
    go(&terminal, PORTS, "reset figures");
    save(&terminal);
    let edited = std::fs::read_to_string(&path).unwrap();
    // All of it is undone and redone: the same files.
    for (key, nothing, file) in
        [("u", "Nothing to undo", &before), ("U", "Nothing to redo", &edited)]
    {
        terminal.keys(&key.repeat(STEPS));
        terminal.wait_for(nothing);
        save(&terminal);
        assert_eq!(&std::fs::read_to_string(&path).unwrap(), file);
    }
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    assert_balanced(&tap.close());
    drop(player);

    // Opened again, it is the same song; a save writes the same bytes.
    let (mut terminal, tap, player) = open(&path, folder.path());
    terminal.keys(&format!("{LAYERS}{UP}"));
    terminal.wait_for("b merge");
    terminal.keys(SAVE);
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    drop((tap, player));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), edited);
}
