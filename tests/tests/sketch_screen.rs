//! The sketch screen in a real terminal: a loop recorded with only the computer keyboard, and rescue
//! copies. However the screen ends, the terminal is restored and no note sounds on.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::program::signal;
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced, down, strikes};
use rustix::process::Signal;
use std::path::{Path, PathBuf};

const SAVE: &str = "\x13";
const ESCAPE: &str = "\x1b";
const DOWN: &str = "\x1b[B";
/// Pulses of MIDI clock in a quarter (MIDI 1.0 Detailed Specification 4.2, "Timing Clock").
const QUARTER: usize = 24;

/// The screen on a song, with a FIFO for its output.
fn open(folder: &Path, more: &[&str]) -> (Terminal, Tap, PathBuf) {
    let song = folder.join("first idea.ron");
    let out = make(folder, "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut arguments = vec!["sketch", song.to_str().unwrap(), "--out", &port, "--clock"];
    arguments.extend(more);
    let terminal = Terminal::start(&arguments);
    terminal.wait("the screen", |screen| screen.contains("STOPPED") || screen.contains("PLAYING"));
    (terminal, tap, song)
}

/// The programs heard on a channel, both counted from 1 (MIDI 1.0 Detailed Specification 4.2, "Program
/// Change": status Cn, where n is the channel counted from 0).
fn programs(heard: &[Heard], channel: u8) -> Vec<u8> {
    let program = |message: &Heard| match *message {
        Heard::Other(status, program, _) if status == 0xC0 + channel - 1 => Some(program + 1),
        _ => None,
    };
    heard.iter().filter_map(program).collect()
}

/// Adds a pitched track with that name.
fn add_track(terminal: &Terminal, name: &str) {
    terminal.keys("a");
    terminal.wait_for("New track");
    terminal.keys(name);
    // The second field is the kind of track; a letter chooses it.
    terminal.keys("\tp\r");
    terminal.wait(name, |screen| {
        screen.contains(name) && !screen.contains("New track") && screen.contains(" track")
    });
}

/// Records one round of four bars at 120 BPM in piano mode: a note on every beat, from middle C upwards.
fn record(terminal: &Terminal, tap: &Tap) {
    terminal.keys("p");
    terminal.wait_for("KEYS PLAY NOTES");
    terminal.keys("\r");
    for (beat, letter) in "fghjfghjfghjfghj".chars().enumerate() {
        tap.wait_for_pulse(beat * QUARTER + 2);
        terminal.keys(&letter.to_string());
    }
    tap.wait_for_pulse(16 * QUARTER);
    terminal.keys("\r");
    terminal.keys(ESCAPE);
    terminal.wait("the end of piano mode", |screen| !screen.contains("KEYS PLAY NOTES"));
}

#[test]
fn a_loop_is_recorded_played_stopped_and_saved_with_the_computer_keyboard_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    terminal.wait_for("This song has no tracks yet");
    add_track(&terminal, "Bass");
    record(&terminal, &tap);
    // C D E F from C2 (key 36, two octaves below middle C), where the letters lie on a bass; on channel 1, four
    // times, heard while they are played and again in the round after.
    let bar = [36, 38, 40, 41];
    let keys = |heard: &[Heard]| -> Vec<u8> {
        let melodic = heard.iter().filter_map(|message| match *message {
            Heard::On(channel, key, _) if channel != 10 => Some(key),
            _ => None,
        });
        melodic.collect()
    };
    tap.wait("the round after", |heard| keys(heard).len() >= 20);
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    let heard = tap.close();
    assert_balanced(&heard);
    assert!(!strikes(&heard, 10).is_empty(), "the count-in is heard");
    assert_eq!(keys(&heard)[..20], [bar, bar, bar, bar, bar].concat());
    let song = chaconne_song::text::read(&std::fs::read_to_string(path).unwrap()).unwrap();
    let passes = &song.passes_in(&song.sections[0]);
    assert_eq!((song.tracks.len(), passes.len()), (1, 1));
    assert!(song.tracks[0].pitched && song.tracks[0].name == "Bass");
    let notes: Vec<u8> = passes[0].notes().iter().map(|note| note.played.key.get()).collect();
    assert_eq!(notes, [bar, bar, bar, bar].concat());
}

#[test]
fn a_track_named_bass_gets_the_sound_of_a_bass() {
    // General MIDI System Level 1 (RP-003), "General MIDI Sound Set": 34 is Electric Bass (finger).
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    terminal.wait_for("This song has no tracks yet");
    add_track(&terminal, "bass");
    terminal.wait_for("─ Electric Bass (finger)");
    tap.wait("its program", |heard| programs(heard, 1) == [34]);
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    drop(tap);
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains("program: 34"), "{text}");
}

#[test]
fn sounds_are_heard_while_the_song_plays_and_only_the_confirmed_one_gets_into_the_song() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    terminal.wait_for("This song has no tracks yet");
    add_track(&terminal, "bass");
    record(&terminal, &tap);
    let heard = |programs_of_it: &[u8]| {
        tap.wait(&format!("{programs_of_it:?}"), |heard| {
            // The program is sent again when the loop starts.
            let mut programs = programs(heard, 1);
            programs.dedup();
            programs == programs_of_it
        });
    };
    heard(&[34]);
    terminal.keys("i");
    terminal.wait_for("Sound of bass");
    terminal.keys(DOWN);
    heard(&[34, 35]);
    terminal.keys(DOWN);
    heard(&[34, 35, 36]);
    terminal.keys(ESCAPE);
    heard(&[34, 35, 36, 34]);
    terminal.wait("the choice to close", |screen| !screen.contains("Sound of bass"));
    terminal.keys("icello");
    // As they are typed, the letters find Clavi (8), Celesta (9) and Cello (43).
    heard(&[34, 35, 36, 34, 8, 9, 43]);
    terminal.keys("\r");
    terminal.wait_for("bass: Cello");
    terminal.wait_for("undo: sound");
    // One undo restores the old sound, and that is heard.
    terminal.keys("u");
    terminal.wait_for("─ Electric Bass (finger)");
    heard(&[34, 35, 36, 34, 8, 9, 43, 34]);
    terminal.keys("U");
    heard(&[34, 35, 36, 34, 8, 9, 43, 34, 43]);
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    assert_balanced(&tap.close());
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains("program: 43"), "{text}");
}

#[test]
fn removing_a_pass_undo_and_a_mute_are_saved() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("first idea.ron"), LONG).unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    let text = || std::fs::read_to_string(&path).unwrap();
    let save = || {
        terminal.keys(SAVE);
        terminal.wait("the song is saved", |screen| {
            let top = screen.lines().next().unwrap_or_default();
            top.contains("saved") && !top.contains("not saved")
        });
    };
    terminal.wait_for("Pad");
    let before = chaconne_song::text::read(LONG).unwrap();
    // Arm the track and remove its pass.
    terminal.keys("\r\x1b[3~");
    terminal.wait_for("not saved");
    save();
    assert!(chaconne_song::text::read(&text()).unwrap().passes.is_empty());
    terminal.keys("u");
    terminal.wait_for("not saved");
    save();
    assert_eq!(text(), chaconne_song::text::write(&before), "undo restores the file");
    terminal.keys(&format!("{DOWN}m"));
    terminal.wait_for("not saved");
    save();
    let muted = chaconne_song::text::read(&text()).unwrap();
    let mutes: Vec<bool> = muted.tracks.iter().map(|track| track.mute).collect();
    assert_eq!(mutes, [false, true]);
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}

/// Long notes at 60 BPM on two tracks.
const LONG: &str = r#"(
    chaconne: 2,
    title: "Long tones",
    tracks: [(id: 1, name: "Pad", channel: 3), (id: 9, name: "Bell", channel: 4)],
    sections: [(
        letter: "A",
        bars: 2,
        metre: "4/4",
        tempo: 1000000,
        layers: [(id: 2, track: 1, length: "2 bars", notes: [
            (id: 3, at: "1.1.0", length: 7600, key: 40, velocity: 90),
            (id: 4, at: "1.1.240", length: 6000, key: 52, velocity: 91),
        ])],
    )],
)"#;

/// Opens the screen and waits until two notes of the song sound.
fn sounding(folder: &Path) -> (Terminal, Tap) {
    std::fs::write(folder.join("first idea.ron"), LONG).unwrap();
    let (terminal, tap, _) = open(folder, &["--play"]);
    tap.wait("two notes", |heard| down(heard).iter().filter(|held| held.0 == 3).count() == 2);
    (terminal, tap)
}

#[test]
fn a_signal_releases_the_sounding_notes_and_restores_the_terminal() {
    // 128 plus the number of the signal, as in all common shells.
    for (number, code) in [(Signal::TERM, 143), (Signal::HUP, 129), (Signal::INT, 130)] {
        let folder = tempfile::tempdir().unwrap();
        let (mut terminal, tap) = sounding(folder.path());
        signal(terminal.id(), number);
        tap.wait("the releases", |heard| down(heard).is_empty());
        assert_eq!(terminal.end(), code);
        terminal.assert_restored();
        assert_balanced(&tap.close());
    }
}

/// Opens the screen and adds a track, so that there are unsaved changes.
fn unsaved(folder: &Path) -> (Terminal, Tap, PathBuf) {
    let (terminal, tap, path) = open(folder, &["--play"]);
    add_track(&terminal, "bass");
    terminal.wait_for("not saved");
    (terminal, tap, path)
}

/// Asserts that the song was not written, and that its rescue copy has the track.
fn assert_rescued(path: &Path) {
    assert!(!path.exists(), "the song's own file was written");
    let copy = path.with_file_name("first idea.rescue.ron");
    let song = chaconne_song::text::read(&std::fs::read_to_string(copy).unwrap()).unwrap();
    assert_eq!(song.tracks[0].name, "bass");
}

#[test]
fn a_signal_leaves_a_rescue_copy_of_unsaved_changes() {
    for (number, code) in [(Signal::TERM, 143), (Signal::HUP, 129)] {
        let folder = tempfile::tempdir().unwrap();
        let (mut terminal, tap, path) = unsaved(folder.path());
        signal(terminal.id(), number);
        assert_eq!(terminal.end(), code);
        terminal.wait_for("unsaved changes are in");
        assert_balanced(&tap.close());
        assert_rescued(&path);
    }
}

#[test]
fn closing_the_terminal_leaves_a_rescue_copy_of_unsaved_changes() {
    let folder = tempfile::tempdir().unwrap();
    let (terminal, tap, path) = unsaved(folder.path());
    terminal.close();
    assert_balanced(&tap.close());
    assert_rescued(&path);
}

#[test]
fn the_next_start_restores_unsaved_changes_from_the_rescue_copy() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = unsaved(folder.path());
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    drop(tap);
    let mut terminal = Terminal::start(&["sketch", path.to_str().unwrap(), "--out", "none"]);
    terminal.wait_for("Unsaved changes found");
    terminal.keys("r");
    terminal.wait("the track", |screen| screen.contains("bass") && screen.contains("not saved"));
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    assert_eq!(song.tracks[0].name, "bass");
    assert!(!path.with_file_name("first idea.rescue.ron").exists(), "the song is saved now");
}

#[test]
fn a_rescue_copy_is_offered_before_a_save_but_not_after_somebody_else_saved() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = unsaved(folder.path());
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    drop(tap);
    let start = || Terminal::start(&["sketch", path.to_str().unwrap(), "--out", "none"]);
    let mut terminal = start();
    let offer = terminal.wait_for("Unsaved changes found");
    assert!(offer.contains("written"), "it does not say when: {offer}");
    terminal.keys(ESCAPE);
    terminal.wait("the end of the question", |screen| !screen.contains("Unsaved changes found"));
    // Esc puts the question off until the song is saved.
    terminal.keys(SAVE);
    terminal.wait_for("Unsaved changes found");
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    // Somebody else saves the song.
    let demo = chaconne_tests::program::top().join("assets/demo.ron");
    std::fs::copy(demo, &path).unwrap();
    let mut terminal = start();
    // The question would be on the first screen.
    let screen = terminal.wait_for("STOPPED");
    assert!(!screen.contains("Unsaved changes found"), "{screen}");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    assert!(path.with_file_name("first idea.rescue.ron").exists(), "the copy was deleted");
}

#[test]
fn a_mistyped_name_opens_a_new_song_and_the_screen_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("waltzz.ron");
    std::fs::write(folder.path().join("waltz.ron"), "").unwrap();
    let mut terminal = Terminal::start(&["sketch", path.to_str().unwrap(), "--out", "none"]);
    terminal.wait_for("this is a new song");
    terminal.wait_for("did you mean waltz.ron?");
    // Nothing was done that could be lost.
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    assert!(!path.exists());
}

#[test]
fn saved_changes_leave_no_rescue_copy() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = unsaved(folder.path());
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    drop(tap);
    assert!(path.exists() && !path.with_file_name("first idea.rescue.ron").exists());
}

#[test]
fn leaving_while_the_song_plays_asks_first_and_then_releases_the_sounding_notes() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap) = sounding(folder.path());
    let before = terminal.text();
    terminal.keys("q");
    terminal.wait("the question", |screen| screen != before && screen.contains("Quit?"));
    assert_eq!(down(&tap.wait("anything", |_| true)).len(), 2, "the song does not play on");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}

#[test]
fn the_silence_key_releases_the_sounding_notes_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap) = sounding(folder.path());
    terminal.keys("!");
    tap.wait("silence", |heard| down(heard).is_empty());
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    assert_balanced(&tap.close());
}

#[test]
fn problems_at_the_start_are_shown_on_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let font = folder.path().join("missing.sf2");
    let words = ["sketch", "--font", font.to_str().unwrap()];
    let mut terminal = Terminal::start(&words);
    // The message line above the keys, which may take two rows.
    let has_message = |screen: &str| {
        let foot: Vec<&str> = screen.lines().skip(20).collect();
        foot.iter().any(|line| line.starts_with(" The font '"))
            && foot.join(" ").contains("cannot be read")
    };
    terminal.wait("the message", |screen| screen.contains("STOPPED") && has_message(screen));
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
}

#[test]
fn without_a_terminal_the_screen_is_refused_in_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("a.ron");
    // A new session has no terminal (POSIX, "Session"); setsid is part of util-linux.
    let mut command = std::process::Command::new("setsid");
    command.arg("--wait").arg(chaconne_tests::program::path());
    command.args(["sketch", song.to_str().unwrap(), "--out", "midi:no such port"]);
    let Ok(output) = command.env("TERM", "xterm-256color").output() else {
        chaconne_tests::program::skipped("there is no setsid on this system");
        return;
    };
    let sentence = chaconne_tests::program::Ran::from(output).refused();
    assert!(sentence.contains("needs a terminal"), "{sentence}");
}

#[test]
fn a_terminal_that_cannot_show_a_screen_is_refused_in_one_sentence() {
    for term in ["dumb", ""] {
        let mut command = std::process::Command::new(chaconne_tests::program::path());
        let output = command.arg("sketch").env("TERM", term).output().unwrap();
        let ran = chaconne_tests::program::Ran::from(output).ends(2);
        assert!(
            ran.err.contains("another terminal") && ran.err.lines().count() == 1,
            "{}",
            ran.err
        );
        assert_eq!(ran.out, "");
    }
}

#[test]
fn leaving_asks_before_it_replaces_what_another_program_saved() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, path) = open(folder.path(), &[]);
    terminal.wait_for("This song has no tracks yet");
    add_track(&terminal, "Bass");
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    // Somebody else saves another song there, while this one changes.
    let foreign = LONG.replace("Long tones", "Not ours");
    std::fs::write(&path, &foreign).unwrap();
    add_track(&terminal, "Pad");
    let ask = || {
        terminal.keys("q");
        terminal.wait_for("Quit?");
        terminal.keys("s");
        let text = terminal.wait_for("The file has changed");
        assert!(text.contains("changed by another"), "{text}");
    };
    // Esc leaves the file as it is and the program open, each time.
    for _ in 0..2 {
        ask();
        terminal.keys(ESCAPE);
        terminal.wait("the question to close", |screen| !screen.contains("The file has changed"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), foreign);
    }
    ask();
    terminal.keys("r");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    drop(tap);
    let saved = std::fs::read_to_string(&path).unwrap();
    assert!(saved.contains("\"Pad\"") && !saved.contains("Not ours"), "{saved}");
}

#[test]
fn an_action_is_found_by_words_and_a_file_changes_its_keys() {
    let folder = tempfile::tempdir().unwrap();
    let keys = folder.path().join("stage.ron");
    std::fs::write(&keys, "{ \"views\": { \"find\": [\"F12\", \"/\"], \"quit\": [\"Q\"] } }")
        .unwrap();
    let (mut terminal, tap, _) = open(folder.path(), &["--keys", keys.to_str().unwrap()]);
    terminal.wait_for("This song has no tracks yet");
    terminal.keys("/faster");
    terminal.wait_for("Raise the tempo");
    terminal.keys("\r");
    terminal.wait("the tempo to go up", |screen| {
        screen.contains(" 121") && !screen.contains("Find an action")
    });
    terminal.keys("q");
    terminal.wait_for("The q key does nothing here. Q: quit.");
    terminal.keys("Q");
    terminal.wait_for("Quit?");
    terminal.keys("l");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}

#[test]
fn a_song_on_a_slow_disk_is_opened_late_and_the_screen_goes_on_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, tap, song) = open(folder.path(), &[]);
    add_track(&terminal, "Lead");
    terminal.keys(SAVE);
    terminal.wait_for("Saved to");
    // The other song is a FIFO once it has been chosen: its text comes when the test writes it.
    let text = std::fs::read_to_string(&song).unwrap().replace("Lead", "Reed");
    let other = folder.path().join("slow.ron");
    std::fs::write(&other, "").unwrap();
    terminal.keys("\x0f");
    terminal.wait_for("slow.ron");
    std::fs::remove_file(&other).unwrap();
    make(folder.path(), "slow.ron");
    terminal.keys("slow\r");
    terminal.wait_for("Opening");
    terminal.keys(" ");
    terminal.wait_for("PLAYING");
    tap.wait_for_pulse(4 * QUARTER);
    assert!(terminal.text().contains("Lead"));
    std::fs::write(&other, text).unwrap();
    terminal.wait("the other song", |screen| screen.contains("Reed") && screen.contains("STOPPED"));
    terminal.wait_for("Opened");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
}
