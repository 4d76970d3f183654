//! A swell drawn with the keys of a real terminal while the loop plays: what goes out, byte by byte, and
//! what the song's file holds.
#![cfg(unix)]

use chaconne_song::{Control, Shape, U7};
use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced, strikes};

const SAVE: &str = "\x13";
const NOTES: &str = "\x1bOS";
const ESCAPE: &str = "\x1b";
const UP: &str = "\x1b[A";
const DOWN: &str = "\x1b[B";
const HOME: &str = "\x1b[H";
const RIGHT: &str = "\x1b[C";

/// Two bars of quarters at 240 BPM, all with the same velocity.
fn song() -> String {
    let note = |quarter: u32| {
        let (bar, beat) = (quarter / 4 + 1, quarter % 4 + 1);
        let id = quarter + 2;
        format!("(id: {id}, at: \"{bar}.{beat}.0\", length: 400, key: 60, velocity: 90),")
    };
    let notes: Vec<String> = (0..8).map(note).collect();
    format!(
        "(chaconne: 2, title: \"Swell\", tracks: [(id: 1, name: \"Pad\", channel: 3)], sections: [(\
         letter: \"A\", bars: 2, metre: \"4/4\", tempo: 250000, layers: [(id: 2, track: 1, \
         length: \"2 bars\", notes: [{}])])])",
        notes.concat()
    )
}

/// The values of a controller heard on channel 3 (MIDI 1.0 Detailed Specification 4.2, "Control Change":
/// status Bn, where n is the channel counted from 0).
fn moves(heard: &[Heard], controller: u8) -> Vec<u8> {
    let value = |message: &Heard| match *message {
        Heard::Other(0xB2, number, value) if number == controller => Some(value),
        _ => None,
    };
    heard.iter().filter_map(value).collect()
}

/// Whether values come one after the other somewhere in a list.
fn has_run(all: &[u8], run: &[u8]) -> bool {
    all.windows(run.len()).any(|window| window == run)
}

#[test]
fn a_swell_and_a_crescendo_are_drawn_heard_and_saved_while_the_loop_plays() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("swell.ron");
    std::fs::write(&path, song()).unwrap();
    let out = make(folder.path(), "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut terminal =
        Terminal::start(&["sketch", path.to_str().unwrap(), "--out", &port, "--clock", "--play"]);
    terminal.wait_for("PLAYING");
    terminal.keys(NOTES);
    terminal.wait_for("velocity");
    // The expression, from the top to the last sixteenth but one of bar one.
    terminal.keys("B11\r");
    terminal.wait_for("expression");
    terminal.keys("bx");
    terminal.wait_for("ramp 1.1.0");
    terminal.keys(&RIGHT.repeat(15));
    terminal.keys("x");
    terminal.wait_for("Ramp of expression");
    terminal.keys(&format!("20{DOWN}100"));
    // Linear interpolation, 20 + 80 t / 3600 every 20 ticks, rounded: every value from 20 to 100.
    let swell: Vec<u8> = (20..=100).collect();
    tap.wait("the swell that is tried", |heard| has_run(&moves(heard, 11), &swell));
    terminal.keys("\r");
    terminal.wait("the box is closed", |screen| !screen.contains("Ramp of"));
    // A crescendo over the velocities, from the top to the last quarter.
    terminal.keys(&format!("B{UP}\r"));
    terminal.wait("the list is closed", |screen| !screen.contains("The lane shows"));
    terminal.keys(&format!("{HOME}x{}x", RIGHT.repeat(28)));
    terminal.wait_for("Velocity ramp over 8 notes");
    terminal.keys(&format!("30{DOWN}100"));
    // 30 + 70 t / 6720 at every quarter of 960 ticks.
    let crescendo = [30, 40, 50, 60, 70, 80, 90, 100];
    let velocities =
        |heard: &[Heard]| -> Vec<u8> { strikes(heard, 3).iter().map(|strike| strike.1).collect() };
    tap.wait("the crescendo that is tried", |heard| has_run(&velocities(heard), &crescendo));
    // Taken back, it leaves nothing.
    terminal.keys(ESCAPE);
    terminal.wait("the box is closed", |screen| !screen.contains("Velocity ramp"));
    let count = tap.wait("anything", |_| true).len();
    tap.wait("the velocities as they were", |heard| {
        has_run(&velocities(&heard[count..]), &[90; 8])
    });
    let save = || {
        terminal.keys(SAVE);
        terminal.wait("the song is saved", |screen| {
            let top = screen.lines().next().unwrap_or_default();
            top.contains("saved") && !top.contains("not saved")
        });
        chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap()
    };
    let saved = save();
    let pass = saved.passes.values().next().unwrap();
    let [lane] = pass.lanes() else { panic!("{:?}", pass.lanes()) };
    assert_eq!(lane.control, Control::Change(U7::low_bits(11)));
    let points: Vec<_> =
        lane.points.iter().map(|point| (point.at.0, point.value.get(), point.shape)).collect();
    assert_eq!(points, [(0, 20, Shape::Straight), (3600, 100, Shape::Step)]);
    assert!(pass.notes().iter().all(|note| note.placed.is_unchanged()));
    // One step, whatever was tried.
    terminal.keys("u");
    terminal.wait_for("not saved");
    assert_eq!(save(), chaconne_song::text::read(&song()).unwrap());
    terminal.keys("q");
    terminal.wait_for("Quit?");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    let heard = tap.close();
    assert_balanced(&heard);
}
