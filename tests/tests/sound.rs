//! The program with its own instrument: it sounds on a JACK server with the dummy driver. Without any
//! audio device, the program says so and plays on silently.
#![cfg(target_os = "linux")]

#[path = "../../crates/ports/tests/common/server.rs"]
mod server;

use chaconne_ports::Rest;
use chaconne_tests::fifo;
use chaconne_tests::program::{PATIENCE, Says, finish, run, signal, spawn};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::Heard;
use jack::{AudioIn, Client, Control, Port, PortFlags, ProcessHandler, ProcessScope};
use rustix::process::Signal;
use server::{Guest, Server, with_own_server};
use std::path::{Path, PathBuf};

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A bar of quarters at 240 BPM.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Heard",
    tracks: [(id: 1, name: "Keys", channel: 2, program: 5)],
    sections: [(
        letter: "A",
        bars: 1,
        metre: "4/4",
        tempo: 250000,
        layers: [(id: 2, track: 1, length: "1 bar", notes: [
            (id: 3, at: "1.1.0", length: 400, key: 60, velocity: 90),
            (id: 4, at: "1.2.0", length: 400, key: 62, velocity: 90),
            (id: 5, at: "1.3.0", length: 400, key: 64, velocity: 90),
        ])],
    )],
)"#;

/// Records the sound of everything that is connected to its port.
struct Recorder {
    port: Port<AudioIn>,
    heard: Arc<Mutex<Vec<f32>>>,
    rest: Rest,
}

impl ProcessHandler for Recorder {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        if !self.rest.is_asked() {
            self.heard.lock().unwrap().extend_from_slice(self.port.as_slice(scope));
        }
        Control::Continue
    }
}

/// A server that does not wait for its clients, like jackd by default: gaps in the sound do not matter
/// here.
fn server(name: &str) -> Server {
    Server::with(name, 256, &["-r"])
}

fn song(folder: &Path) -> PathBuf {
    let path = folder.join("heard.ron");
    std::fs::write(&path, SONG).unwrap();
    path
}

/// A listening client of the server, and what it has heard.
struct Listener {
    guest: Guest<Recorder>,
    heard: Arc<Mutex<Vec<f32>>>,
}

impl Listener {
    fn new() -> Listener {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let guest = Guest::open("listener", |client, rest| {
            let port = client.register_port("in", AudioIn::default()).unwrap();
            Recorder { port, heard: heard.clone(), rest }
        });
        Listener { guest: guest.expect("the server takes clients"), heard }
    }

    /// Waits for the program's first port, its left side, and connects it.
    fn connect(&self) {
        let begin = Instant::now();
        let client = self.guest.client();
        // The port exists for a moment before it can be connected.
        let connect = || {
            let ports = client.ports(None, Some("audio"), PortFlags::IS_OUTPUT);
            let left = ports.into_iter().find(|port| !port.starts_with("system:"));
            left.is_some_and(|left| client.connect_ports_by_name(&left, "listener:in").is_ok())
        };
        while !connect() {
            assert!(begin.elapsed() < PATIENCE, "no port of the program can be connected");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// The highest peak in this many of the last frames, as an amplitude.
    fn loudest(&self, frames: usize) -> f32 {
        let heard = self.heard.lock().unwrap();
        heard.iter().rev().take(frames).fold(0.0f32, |loudest, sample| loudest.max(sample.abs()))
    }
}

#[test]
fn the_instrument_is_heard_on_a_server() {
    with_own_server("the_instrument_is_heard_on_a_server", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let _server = server(&name);
        let listener = Listener::new();
        let words = ["rehearse", song.to_str().unwrap(), "--times", "4", "--level", "-6"];
        let program = spawn(&words);
        listener.connect();
        finish(program, PATIENCE).ends(0);
        let loudest = listener.loudest(usize::MAX);
        let Listener { guest, heard, .. } = listener;
        drop(guest);
        let heard = heard.lock().unwrap();
        // Audible, and below the limiter's ceiling of -1 dBFS.
        assert!(loudest > 0.003 && loudest < 0.892, "{loudest}");
        assert!(heard.iter().all(|sample| sample.is_finite()));
    });
}

#[test]
fn tracks_on_the_instrument_and_on_a_port_play_side_by_side() {
    with_own_server("tracks_on_the_instrument_and_on_a_port_play_side_by_side", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("both.ron");
        let other = "(id: 7, name: \"Wire\", port: \"wire\", channel: 3)]";
        let passes = "layers: [(id: 8, track: 7, length: \"1 bar\", notes: [\
            (id: 9, at: \"1.4.0\", length: 400, key: 48, velocity: 70)]), ";
        let text = SONG.replace("program: 5)]", &format!("program: 5), {other}"));
        std::fs::write(&song, text.replace("layers: [", passes)).unwrap();
        let wire = fifo::make(folder.path(), "wire");
        let tap = fifo::Tap::open(&wire);
        let _server = server(&name);
        let listener = Listener::new();
        let out = format!("wire=bytes:{}", wire.display());
        let words = ["rehearse", song.to_str().unwrap(), "--times", "8", "--level", "-6"];
        let program = spawn(&[&words[..], &["--out", "sound", "--out", &out]].concat());
        listener.connect();
        finish(program, PATIENCE).ends(0);
        assert!(listener.loudest(usize::MAX) > 0.003, "the instrument is heard");
        let notes = |heard: &[Heard]| -> Vec<Heard> {
            heard.iter().copied().filter(|one| matches!(one, Heard::On(..))).collect()
        };
        // Notes for the instrument do not go out on the port.
        assert_eq!(notes(&tap.close()), [Heard::On(3, 48, 70); 8]);
    });
}

/// The recent peak of the left side on the screen, in dBFS.
fn shown_peak(screen: &str) -> Option<f32> {
    let row = screen.lines().find(|line| line.starts_with("─ sound "))?;
    let left = row.split_once(" L ")?.1.split_once(" R ")?.0;
    left.split_whitespace().find_map(|word| word.parse().ok())
}

#[test]
fn the_screen_shows_the_peaks_and_turns_the_sound_down() {
    with_own_server("the_screen_shows_the_peaks_and_turns_the_sound_down", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let _server = server(&name);
        let listener = Listener::new();
        let words = ["sketch", song.to_str().unwrap(), "--play", "--level", "-6"];
        let mut terminal = Terminal::start(&words);
        listener.connect();
        // Decibels below a full scale of 1 (AES17, "full-scale level"; from memory). The screen holds a
        // peak for 1.5 s; the song is a bar of 1 s.
        let as_heard = |screen: &str| {
            let peak = 20.0 * listener.loudest(72_000).log10();
            shown_peak(screen).is_some_and(|shown| (shown - peak).abs() < 0.2)
        };
        terminal.wait("the peak that the listener hears", as_heard);
        terminal.keys("((((((");
        let screen = terminal.wait_for("The sound is 12 dB under full scale.");
        assert!(screen.contains("sound -12 dB"), "{screen}");
        terminal.wait("the lower peak that the listener hears now", as_heard);
        terminal.keys(" ");
        let is_silent = |screen: &str| screen.contains("STOPPED") && shown_peak(screen).is_none();
        terminal.wait("silence", is_silent);
        terminal.keys("q");
        assert_eq!(terminal.end(), 0);
    });
}

#[test]
fn the_instrument_plays_whenever_a_device_is_connected() {
    with_own_server("the_instrument_plays_whenever_a_device_is_connected", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        // Far more rounds than the test needs, which ends the program.
        let words = ["rehearse", song.to_str().unwrap(), "--times", "900", "--level", "-6"];
        let mut program = spawn(&words);
        let mut says = Says::of(&mut program);
        says.wait_for("no audio device");
        for _ in 0..2 {
            let server = server(&name);
            says.wait_for("sound: connected");
            assert!(is_heard(), "no sound");
            drop(server);
            says.wait_for("sound: audio device disconnected");
        }
        signal(program.id(), Signal::TERM);
        let ran = finish(program, PATIENCE);
        assert!(ran.out.contains("all notes released"), "{}", ran.out);
    });
}

#[test]
fn the_program_does_not_wait_for_a_device_that_does_not_answer() {
    with_own_server("the_program_does_not_wait_for_a_device_that_does_not_answer", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let server = self::server(&name);
        server.hang(true);
        let words = ["rehearse", song.to_str().unwrap(), "--times", "900", "--level", "-6"];
        let mut program = spawn(&words);
        let mut says = Says::of(&mut program);
        says.wait_for("no audio device could be opened: it does not answer");
        server.hang(false);
        says.wait_for("sound: connected");
        assert!(is_heard(), "no sound");
        signal(program.id(), Signal::TERM);
        let ran = finish(program, PATIENCE);
        assert!(ran.out.contains("all notes released"), "{}", ran.out);
    });
}

#[test]
fn the_screen_shows_the_meters_while_a_device_is_connected() {
    with_own_server("the_screen_shows_the_meters_while_a_device_is_connected", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let server = self::server(&name);
        let mut terminal = Terminal::start(&["sketch", song.to_str().unwrap(), "--play"]);
        let has_meters = |screen: &str| screen.lines().any(|line| line.starts_with("─ sound -12"));
        terminal.wait("the meters", has_meters);
        drop(server);
        let screen = terminal.wait("no meters", |screen| !has_meters(screen));
        assert!(screen.contains("PLAYING") && screen.contains("out sound"), "{screen}");
        let _server = self::server(&name);
        let has_peak = |screen: &str| has_meters(screen) && shown_peak(screen).is_some();
        terminal.wait("the meters again", has_peak);
        terminal.keys("qq");
        assert_eq!(terminal.end(), 0);
    });
}

/// Whether the program sounds on the running server.
fn is_heard() -> bool {
    let listener = Listener::new();
    listener.connect();
    let begin = Instant::now();
    while begin.elapsed() < PATIENCE {
        if listener.loudest(usize::MAX) > 0.003 {
            return true;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    false
}

#[test]
fn without_a_device_the_program_says_so_and_plays_on() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(folder.path());
    let ran = run(&["rehearse", song.to_str().unwrap(), "--times", "1"]).ends(0);
    // On a machine with a device it plays. Without one, a sentence of our own says so, not ALSA's.
    let sentences: Vec<&str> = ran.err.lines().filter(|line| line.contains("audio")).collect();
    assert!(sentences.iter().all(|line| line.contains("audio device")), "{}", ran.err);
    assert!(!ran.err.contains("ALSA"), "{}", ran.err);
    // Without a device no message counts as dropped.
    assert!(!ran.out.contains("dropped"), "{}", ran.out);
    assert_eq!(ran.out.contains("nothing connected"), !sentences.is_empty(), "{}", ran.out);
}
