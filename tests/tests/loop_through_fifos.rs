//! The main job through FIFOs: bytes in, passes recorded while the loop plays, bytes out.
//!
//! The test plays into one FIFO in time with the program's MIDI clock on the other, as a player follows
//! the click: 24 pulses to the quarter (MIDI 1.0 Detailed Specification 4.2, "Timing Clock"). Recording
//! at 120 BPM takes 44 seconds. The twenty rounds afterwards are eight times as fast, because only the
//! order of their messages matters.
#![cfg(unix)]

use chaconne_tests::fifo::{Player, Tap, make};
use chaconne_tests::program::{PATIENCE, Says, finish, run, signal, spawn};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced, down, strikes};
use rustix::process::Signal;
use std::collections::BTreeSet;
use std::path::Path;

/// Four bars of 4/4, one track on channel 1, no notes yet.
const EMPTY: &str = r#"(
    chaconne: 2,
    title: "Round trip",
    tracks: [(id: 1, name: "Keys", channel: 1)],
    sections: [(letter: "A", bars: 4, metre: "4/4", tempo: 500000)],
)"#;
/// Two bars of long notes that overlap, at 60 BPM.
const LONG: &str = r#"(
    chaconne: 2,
    title: "Long tones",
    tracks: [(id: 1, name: "Pad", channel: 3)],
    sections: [(
        letter: "A",
        bars: 2,
        metre: "4/4",
        tempo: 1000000,
        layers: [(id: 2, track: 1, length: "2 bars", notes: [
            (id: 3, at: "1.1.0", length: 7600, key: 40, velocity: 90),
            (id: 4, at: "1.1.480", length: 3000, key: 52, velocity: 91),
            (id: 5, at: "1.2.0", length: 3000, key: 55, velocity: 92),
            (id: 6, at: "1.3.0", length: 4000, key: 59, velocity: 93),
        ])],
    )],
)"#;
/// The pulses of a round.
const ROUND: usize = 4 * 4 * 24;
const BEATS: usize = 16;
const PASSES: usize = 4;

/// What the player does: messages, each with its pulse, counted from bar one. Each round has a note on
/// every beat; each pass is a little later in the beat than the one before, and has keys of its own. The
/// last note of the second round is held over the seam.
fn script() -> Vec<(usize, [u8; 3])> {
    let mut moves = Vec::new();
    for pass in 0..PASSES {
        for beat in 0..BEATS {
            let start = pass * ROUND + beat * 24 + 2 + 5 * pass;
            let end = start + if (pass, beat) == (1, BEATS - 1) { 30 } else { 4 };
            moves.push((start, [0x90, key(pass, beat), velocity(pass, beat)]));
            // A note-on with velocity 0 is a release, too (the same specification, "Note-On").
            moves.push((
                end,
                if beat % 2 == 0 {
                    [0x80, key(pass, beat), 64]
                } else {
                    [0x90, key(pass, beat), 0]
                },
            ));
        }
    }
    moves.sort_by_key(|&(at, _)| at);
    moves
}

fn key(pass: usize, beat: usize) -> u8 {
    (30 + pass * 20 + beat) as u8
}

fn velocity(pass: usize, beat: usize) -> u8 {
    (40 + pass * 20 + beat) as u8
}

/// The strikes of one round, in order.
fn round() -> Vec<(u8, u8)> {
    let beat = |beat| (0..PASSES).map(move |pass| (key(pass, beat), velocity(pass, beat)));
    (0..BEATS).flat_map(beat).collect()
}

#[test]
fn four_recorded_passes_play_each_round_in_order_with_one_release_per_strike() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("round trip.ron");
    std::fs::write(&song, EMPTY).unwrap();
    record(folder.path(), &song);
    let text = std::fs::read_to_string(&song).unwrap();
    assert_is_recorded(&text);
    let recorded_at = "tempo: 500000, // 120 BPM";
    assert!(text.contains(recorded_at), "{text}");
    std::fs::write(&song, text.replace(recorded_at, "tempo: 62500,")).unwrap();
    twenty_rounds(folder.path(), &song);
}

/// Records four passes on the screen, plays them once more, and stops in the middle of a round.
fn record(folder: &Path, song: &Path) {
    let (into, out) = (make(folder, "in"), make(folder, "out"));
    let (mut player, tap) = (Player::open(&into), Tap::open(&out));
    let ports = [format!("bytes:{}", into.display()), format!("bytes:{}", out.display())];
    let song = song.to_str().unwrap();
    let arguments = ["sketch", song, "--in", &ports[0], "--out", &ports[1], "--clock"];
    let mut terminal = Terminal::start(&arguments);
    terminal.wait_for("Keys");
    terminal.keys("\r");
    terminal.keys("r");
    let mut script = script().into_iter().peekable();
    while let Some((pulse, bytes)) = script.next() {
        tap.wait_for_pulse(pulse);
        player.send(&bytes);
        assert!(script.peek().is_none_or(|next| next.0 >= pulse));
    }
    // The key is pressed late, but within a beat after the seam it counts as on the seam.
    tap.wait_for_pulse(PASSES * ROUND);
    terminal.keys("r");
    // Play a round without recording, then stop while the first note of the next one sounds.
    tap.wait_for_pulse((PASSES + 1) * ROUND - 1);
    let before = strikes(&tap.wait("anything", |_| true), 1).len();
    tap.wait("a note of another round", |heard| {
        strikes(heard, 1).len() > before && down(heard).iter().any(|&(channel, _)| channel == 1)
    });
    terminal.keys(" ");
    tap.wait("the stop", |heard| heard.contains(&Heard::Stop));
    tap.wait("silence", |heard| down(heard).is_empty());
    terminal.keys("\x13");
    let path = Path::new(song);
    // Wait for the screen to notice the stop; before that it would ask whether to leave.
    terminal.wait("the song is saved", |screen| {
        let text = std::fs::read_to_string(path);
        screen.contains("Saved to") && text.is_ok_and(|text| text.contains("layers"))
    });
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    let heard = tap.close();
    assert_balanced(&heard);
    assert_heard_while_recording(&heard);
}

/// Asserts that played notes are passed through at once, and that the round without recording has all
/// of them.
fn assert_heard_while_recording(heard: &[Heard]) {
    let start = heard.iter().position(|&message| message == Heard::Start).unwrap();
    let mut pulses = 0;
    let mut rounds = vec![Vec::new(); PASSES + 2];
    for message in &heard[start..] {
        match *message {
            Heard::Pulse => pulses += 1,
            // The first pulse falls on bar one.
            Heard::On(1, key, velocity) => rounds[(pulses - 1) / ROUND].push((key, velocity)),
            _ => {}
        }
    }
    for (pass, heard) in rounds.iter().enumerate().take(PASSES) {
        // Round n plays the passes before it, and the notes that are being played.
        let expected: Vec<(u8, u8)> =
            round().into_iter().filter(|&(key, _)| usize::from(key) < 50 + pass * 20).collect();
        let (mut struck, mut wanted) = (heard.clone(), expected);
        struck.sort();
        wanted.sort();
        assert_eq!(struck, wanted, "round {}", pass + 1);
    }
    assert_eq!(rounds[PASSES], round(), "the round after the take");
}

/// Asserts that the song has the four passes, each with its sixteen notes in order.
fn assert_is_recorded(text: &str) {
    let song = chaconne_song::text::read(text).unwrap();
    let passes = &song.passes_in(&song.sections[0]);
    assert_eq!(passes.len(), PASSES);
    for (number, pass) in passes.iter().enumerate() {
        let recorded: Vec<(u8, u8)> = pass
            .notes()
            .iter()
            .map(|note| (note.played.key.get(), note.played.velocity.get()))
            .collect();
        let played: Vec<(u8, u8)> =
            (0..BEATS).map(|beat| (key(number, beat), velocity(number, beat))).collect();
        assert_eq!(recorded, played, "pass {}", number + 1);
        assert!(pass.notes().is_sorted_by_key(|note| note.played.start));
    }
    let held = passes[1].notes().last().unwrap().played;
    assert!(held.start + held.length > chaconne_time::Tick(15_360), "cut at the seam: {held:?}");
}

fn twenty_rounds(folder: &Path, song: &Path) {
    let out = make(folder, "twenty");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let rehearse = spawn(&["rehearse", song.to_str().unwrap(), "--rounds", "20", "--out", &port]);
    finish(rehearse, PATIENCE).ends(0);
    let heard = tap.close();
    assert_balanced(&heard);
    let rounds: Vec<Vec<(u8, u8)>> =
        strikes(&heard, 1).chunks(PASSES * BEATS).map(<[_]>::to_vec).collect();
    assert_eq!(rounds, vec![round(); 20]);
}

/// Starts a rehearsal of a song; returns it with the far end of its output and the output's path.
fn rehearsal(folder: &Path, text: &str) -> (std::process::Child, Tap, std::path::PathBuf) {
    let song = folder.join("song.ron");
    std::fs::write(&song, text).unwrap();
    let out = make(folder, "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    (spawn(&["rehearse", song.to_str().unwrap(), "--out", &port]), tap, out)
}

#[test]
fn a_signal_releases_the_sounding_notes() {
    for number in [Signal::TERM, Signal::INT, Signal::HUP] {
        let folder = tempfile::tempdir().unwrap();
        let (child, tap, _) = rehearsal(folder.path(), LONG);
        tap.wait("three notes at once", |heard| down(heard).len() == 3);
        signal(child.id(), number);
        let ran = finish(child, PATIENCE).ends(0);
        assert!(ran.out.contains("all notes released"), "{}", ran.out);
        let heard = tap.close();
        assert!(strikes(&heard, 3).len() >= 3);
        assert_balanced(&heard);
    }
}

#[test]
fn a_reader_that_leaves_and_returns_finds_no_hanging_note() {
    let folder = tempfile::tempdir().unwrap();
    // At 240 BPM a round is two seconds.
    let (mut child, tap, out) = rehearsal(folder.path(), &LONG.replace("1000000", "250000"));
    let mut says = Says::of(&mut child);
    tap.wait("two notes at once", |heard| down(heard).len() >= 2);
    drop(tap.close());
    // Nobody reads. The program plays on, and a new reader hears the music from there.
    says.wait_for("disconnected");
    let tap = Tap::open(&out);
    tap.wait("six strikes", |heard| strikes(heard, 3).len() >= 6 && !down(heard).is_empty());
    signal(child.id(), Signal::TERM);
    let ran = finish(child, PATIENCE).ends(0);
    assert!(ran.out.contains("all notes released"), "{}", ran.out);
    let heard = tap.close();
    // Notes that sounded when the first reader left may be released for the new one, so the strikes and
    // releases need not balance.
    assert_eq!(down(&heard), []);
    let keys: BTreeSet<u8> = strikes(&heard, 3).iter().map(|&(key, _)| key).collect();
    assert!(keys.is_subset(&BTreeSet::from([40, 52, 55, 59])));
}

#[test]
fn the_program_does_not_wait_for_a_reader_that_never_comes() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("song.ron");
    std::fs::write(&song, LONG.replace("1000000", "62500")).unwrap();
    let out = make(folder.path(), "out");
    let port = format!("bytes:{}", out.display());
    let ran = run(&["rehearse", song.to_str().unwrap(), "--rounds", "2", "--out", &port]).ends(0);
    assert!(ran.out.contains("all notes released"), "{}", ran.out);
}

#[test]
fn garbage_on_the_input_does_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let (into, out) = (make(folder.path(), "in"), make(folder.path(), "out"));
    let song = folder.path().join("song.ron");
    std::fs::write(&song, EMPTY).unwrap();
    let (mut player, tap) = (Player::open(&into), Tap::open(&out));
    let ports = [format!("bytes:{}", into.display()), format!("bytes:{}", out.display())];
    let song = song.to_str().unwrap();
    let mut terminal = Terminal::start(&["sketch", song, "--in", &ports[0], "--out", &ports[1]]);
    terminal.wait_for("Keys");
    terminal.keys("\r");
    // Random bytes. Source of the constants: W. H. Press et al., "Numerical Recipes in C", 2nd edition
    // (1992), 7.1, "Quick and dirty generators"; from memory.
    let mut state = 12345_u32;
    for _ in 0..200 {
        let garbage: Vec<u8> = std::iter::repeat_with(|| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        })
        .take(256)
        .collect();
        player.send(&garbage);
    }
    // A status byte ends a system-exclusive message without an end. An ordinary note follows.
    player.send(&[0xF0, 1, 2, 3]);
    player.send(&vec![5; 60_000]);
    player.send(&[0x90, 61, 99, 0xFE, 61, 0]);
    tap.wait("the note after the garbage", |heard| heard.contains(&Heard::On(1, 61, 99)));
    signal(terminal.id(), Signal::TERM);
    assert_eq!(terminal.end(), 143);
    assert_eq!(down(&tap.close()), []);
}
