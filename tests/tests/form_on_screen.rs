//! The form in a real terminal: a part is recorded, its section copied and made longer, the form
//! written and played; then everything is undone, and the file is the same as before.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced};
use std::path::Path;

const SAVE: &str = "\x13";
const CLEAR: &str = "\x15";
const ESCAPE: &str = "\x1b";
const F6: &str = "\x1b[17~";
/// Pulses of MIDI clock in a quarter (MIDI 1.0 Detailed Specification 4.2, "Timing Clock").
const QUARTER: usize = 24;

/// One bar at 120 BPM and an empty track on channel 3.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Two rooms",
    tracks: [(id: 1, name: "Pad", channel: 3)],
    sections: [(letter: "A", bars: 1, metre: "4/4", tempo: 500000)],
)"#;

fn open(song: &Path, folder: &Path) -> (Terminal, Tap) {
    let out = folder.join("out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let terminal = Terminal::start(&["sketch", song.to_str().unwrap(), "--out", &port, "--clock"]);
    terminal.wait_for("STOPPED");
    (terminal, tap)
}

/// Records letters of the piano, each on a beat of the section shown, in a take that ends with it.
fn record(terminal: &Terminal, tap: &Tap, beats: usize, letters: &[(usize, &str)]) {
    terminal.keys("p");
    terminal.wait_for("KEYS PLAY NOTES");
    let starts = |heard: &[Heard]| heard.iter().filter(|&&m| m == Heard::Start).count();
    let before = starts(&tap.wait("what came so far", |_| true));
    terminal.keys("\r");
    tap.wait("bar one", |heard| starts(heard) > before);
    for (beat, letter) in letters {
        tap.wait_for_pulse(beat * QUARTER + 2);
        terminal.keys(letter);
    }
    tap.wait_for_pulse(beats * QUARTER);
    terminal.keys("\r");
    terminal.wait("the end of the take", |screen| screen.contains("not recording"));
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(ESCAPE);
    terminal.wait("the end of piano mode", |screen| !screen.contains("KEYS PLAY NOTES"));
}

/// The keys struck on channel 3 in each bar since the last Start, by bar and pitch, and whether Stop came
/// after. Keys pressed by a test come a little late, but far from the next bar.
fn since_the_start(heard: &[Heard]) -> (Vec<(usize, u8)>, bool) {
    let start = heard.iter().rposition(|&message| message == Heard::Start).unwrap_or(0);
    let (mut pulses, mut struck) = (0, Vec::new());
    for message in &heard[start..] {
        match *message {
            Heard::Pulse => pulses += 1,
            // The pulse of a beat comes before its notes.
            Heard::On(3, key, _) => struck.push(((pulses - 1) / (4 * QUARTER) + 1, key)),
            _ => {}
        }
    }
    struck.sort_unstable();
    (struck, heard[start..].contains(&Heard::Stop))
}

fn save(terminal: &Terminal) {
    terminal.keys(SAVE);
    terminal.wait("the song is saved", |screen| {
        let top = screen.lines().next().unwrap_or_default();
        top.contains("saved") && !top.contains("not saved")
    });
}

#[test]
fn a_form_is_written_played_undone_and_leaves_the_file_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rooms.ron");
    let before = chaconne_song::text::write(&chaconne_song::text::read(SONG).unwrap());
    std::fs::write(&path, &before).unwrap();
    make(folder.path(), "out");
    let (mut terminal, tap) = open(&path, folder.path());
    // C and E from middle C (key 60, common practice).
    record(&terminal, &tap, 4, &[(0, "f"), (2, "h")]);
    terminal.keys(F6);
    terminal.wait_for("No form yet");
    terminal.keys("d");
    terminal.wait_for("2 sections");
    terminal.keys("e");
    terminal.wait_for("Change the section");
    terminal.keys("\t2\r");
    terminal.wait_for("Section B: 2 bars");
    // B gets a note of its own, G in its second bar.
    terminal.keys("\r");
    terminal.wait("B is shown", |screen| {
        screen.lines().any(|line| line.starts_with(" B") && line.contains("shown"))
    });
    record(&terminal, &tap, 8, &[(5, "k")]);
    terminal.keys("F");
    terminal.wait_for("The form: sections in their order");
    terminal.keys(&format!("{CLEAR}a a b a\r"));
    terminal.wait_for("form  A A B A");
    terminal.keys("f");
    terminal.wait_for("1 of 4");
    terminal.wait_for("3 of 4");
    // It stops by itself.
    terminal.wait_for("STOPPED");
    let heard = tap.wait("the end of the form", |heard| since_the_start(heard).1);
    let struck = since_the_start(&heard).0;
    // A, A, two bars of B in which what it shares with A goes round twice, and A.
    let expected = [
        [(1, 60), (1, 64)].as_slice(),
        &[(2, 60), (2, 64)],
        &[(3, 60), (3, 64)],
        &[(4, 60), (4, 64), (4, 67)],
        &[(5, 60), (5, 64)],
    ];
    assert_eq!(struck, expected.concat());
    save(&terminal);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    assert_eq!((song.form.to_string().as_str(), song.sections[1].metre.bars()), ("A A B A", 2));
    assert!(song.is_shared(song.sections[0].layers[0].pass));
    // Two passes, the copy, its bars and the form.
    for step in ["form", "new pass", "bars", "copy section", "new pass"] {
        terminal.keys("u");
        terminal.wait_for(&format!("Undone: {step}"));
    }
    save(&terminal);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
    let (mut terminal, tap) = open(&path, folder.path());
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    drop(tap);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
}

/// Sections A, B and C of one bar, with a key of its own on beat one.
fn three_sections() -> String {
    let section = |(letter, id, key): (&str, u32, u8)| {
        format!(
            "(letter: \"{letter}\", bars: 1, metre: \"4/4\", tempo: 500000, layers: [(id: {id}, track: 1, \
             length: \"1 bar\", channel: 3, notes: [(id: 1, at: \"1.1.0\", length: 240, key: {key}, velocity: 90)])])"
        )
    };
    let sections = [("A", 11, 60), ("B", 12, 62), ("C", 13, 64)].map(section).join(", ");
    format!(
        "(chaconne: 2, title: \"Three rooms\", tracks: [(id: 1, name: \"Pad\", channel: 3)], \
         sections: [{sections}])"
    )
}

/// The keys struck since the last Start, one for each bar.
fn keys_since_the_start(heard: &[Heard]) -> Vec<u8> {
    let start = heard.iter().rposition(|&message| message == Heard::Start).unwrap_or(0);
    let strikes = heard[start..].iter().filter_map(|message| match *message {
        Heard::On(3, key, _) => Some(key),
        _ => None,
    });
    strikes.collect()
}

#[test]
fn a_form_is_typed_led_live_and_kept_as_it_was_played() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rooms.ron");
    std::fs::write(&path, three_sections()).unwrap();
    make(folder.path(), "out");
    let (mut terminal, tap) = open(&path, folder.path());
    terminal.keys(&format!("{F6}F"));
    terminal.wait_for("The form: sections in their order");
    terminal.keys(&format!("{CLEAR}a b c\r"));
    terminal.wait_for("form  A B C");
    // Past the second beat of a bar that began with this key: there, no direction comes late for the bar line.
    let well_into = |key: u8, bars: usize| {
        tap.wait("a beat and a half of a bar", |heard| {
            let last = heard.iter().rposition(|message| matches!(message, Heard::On(3, ..)));
            let since =
                last.map_or(0, |last| heard[last..].iter().filter(|&&m| m == Heard::Pulse).count());
            let keys = keys_since_the_start(heard);
            keys.len() >= bars && keys.last() == Some(&key) && since > 3 * QUARTER / 2
        });
    };
    terminal.keys("f");
    terminal.wait_for("PLAYING");
    terminal.keys("h");
    terminal.wait_for("Staying in section A");
    terminal.wait_for("stays in A");
    well_into(60, 3);
    // To C at the next bar, and from there back to the form, which goes on with B.
    terminal.keys("Wjc");
    well_into(64, 4);
    terminal.keys("B");
    terminal.wait_for("Back to the form: section B comes next");
    well_into(62, 5);
    terminal.keys("z");
    terminal.wait_for("Last time through");
    terminal.wait_for("STOPPED");
    let heard = tap.wait("the end", |heard| heard.last() == Some(&Heard::Stop));
    let played = keys_since_the_start(&heard);
    terminal.keys("K");
    terminal.wait_for("The form is now A");
    save(&terminal);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    // The form that was kept is what was heard, bar by bar.
    let form: Vec<u8> = chaconne_engine::Route::letters(&song)
        .iter()
        .map(|letter| match letter.as_str() {
            "A" => 60,
            "B" => 62,
            _ => 64,
        })
        .collect();
    assert_eq!(form, played, "{}", song.form);
    assert!(played.starts_with(&[60, 60, 60]) && played.contains(&64), "{played:?}");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}
