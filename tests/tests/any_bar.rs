//! Recording from another bar than the first, in a real terminal: the bar is chosen, counted in, recorded, and recorded
//! once more from the same place with one key.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced};

const SAVE: &str = "\x13";
const ESCAPE: &str = "\x1b";
const RIGHT: &str = "\x1b[C";
const CTRL_R: &str = "\x12";
/// Pulses of MIDI clock in a bar of 4/4 (MIDI 1.0 Detailed Specification 4.2, "Timing Clock").
const BAR: usize = 96;
/// Bar 3 of 4/4 in sixteenths (MIDI 1.0 Detailed Specification 4.2, "Song Position Pointer").
const BAR_3: Heard = Heard::Position(32);

/// Four bars at 120 BPM and an empty track on channel 3.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Third bar",
    tracks: [(id: 1, name: "Pad", channel: 3)],
    sections: [(letter: "A", bars: 4, metre: "4/4", tempo: 500000)],
)"#;

/// The pulses since the last Continue; `None` while it has not come.
fn since_continue(heard: &[Heard]) -> Option<usize> {
    let from = heard.iter().rposition(|&message| message == Heard::Continue)?;
    Some(heard[from..].iter().filter(|&&message| message == Heard::Pulse).count())
}

/// The position, Start, Stop and Continue messages.
fn commands(heard: &[Heard]) -> Vec<Heard> {
    let is_one = |message: &Heard| {
        matches!(message, Heard::Start | Heard::Stop | Heard::Continue | Heard::Position(_))
    };
    heard.iter().copied().filter(is_one).collect()
}

#[test]
fn a_part_is_recorded_from_bar_3_and_once_more_from_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("third.ron");
    std::fs::write(&path, SONG).unwrap();
    let out = make(folder.path(), "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut terminal =
        Terminal::start(&["sketch", path.to_str().unwrap(), "--out", &port, "--clock"]);
    terminal.wait_for("STOPPED");
    terminal.keys(RIGHT);
    terminal.wait_for("2.1");
    terminal.keys(RIGHT);
    terminal.wait_for("3.1");
    terminal.keys("p");
    terminal.wait_for("KEYS PLAY NOTES");
    terminal.keys("\r");
    // The screen says where the count-in leads, and the gear is told before it ends.
    terminal.wait("the count-in", |screen| {
        screen.contains("COUNT-IN") && screen.contains("at bar 3") && screen.contains("then bar 3")
    });
    let early = tap
        .wait("the position", |heard| heard.ends_with(&[BAR_3]) || heard.contains(&Heard::Pulse));
    assert_eq!(commands(&early).last(), Some(&BAR_3));
    tap.wait("bar 3", |heard| since_continue(heard).is_some_and(|pulses| pulses > 24));
    // Middle C (key 60, common practice), heard again a round later.
    terminal.keys("f");
    terminal.wait_for("RECORDING");
    let struck =
        |heard: &[Heard]| heard.iter().filter(|m| matches!(m, Heard::On(3, 60, _))).count();
    tap.wait("the note", |heard| struck(heard) == 1);
    tap.wait("it in the next round", |heard| struck(heard) == 2);
    let heard = tap.wait("the next bar", |heard| since_continue(heard) > Some(5 * BAR));
    let second = heard.iter().rposition(|m| matches!(m, Heard::On(3, 60, _))).unwrap();
    let bars = since_continue(&heard[..second]).unwrap() / BAR;
    assert_eq!(bars, 4, "it begins in bar 3 of the next round: four bars after Continue");
    // Once more from the same place, and the round that was unfinished is not lost.
    terminal.keys("h");
    tap.wait("the second note", |heard| heard.iter().any(|m| matches!(m, Heard::On(3, 64, _))));
    terminal.keys(CTRL_R);
    terminal.wait("the count-in again", |screen| {
        screen.contains("COUNT-IN") && screen.contains("then bar 3")
    });
    let continues =
        |heard: &[Heard]| commands(heard).iter().filter(|&&m| m == Heard::Continue).count();
    tap.wait("bar 3 again", |heard| continues(heard) == 2 && since_continue(heard) > Some(30));
    terminal.keys("k");
    tap.wait("the third note", |heard| heard.iter().any(|m| matches!(m, Heard::On(3, 67, _))));
    tap.wait("the end of the round", |heard| since_continue(heard) > Some(2 * BAR + 4));
    terminal.keys(" ");
    terminal.wait_for("STOPPED");
    terminal.keys(ESCAPE);
    terminal.keys(SAVE);
    terminal.wait("the song is saved", |screen| {
        let top = screen.lines().next().unwrap_or_default();
        top.contains("saved") && !top.contains("not saved")
    });
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    let heard = tap.close();
    assert_balanced(&heard);
    use Heard::{Continue, Stop};
    let told = commands(&heard);
    // Two steps to bar 3, the first start, and the second.
    assert_eq!(told, [Heard::Position(16), BAR_3, BAR_3, Continue, Stop, BAR_3, Continue, Stop]);
    let song = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let passes: Vec<(u8, i64)> = song
        .passes
        .values()
        .flat_map(|pass| pass.notes())
        .map(|note| (note.played.key.get(), note.played.start.0 / 3840 + 1))
        .collect();
    assert_eq!(song.passes.len(), 3);
    // The first and the third are in bar 3; the second, half a round later, in bar 4.
    assert_eq!(passes.iter().map(|&(key, _)| key).collect::<Vec<_>>(), [60, 64, 67]);
    assert_eq!((passes[0].1, passes[2].1), (3, 3));
}
