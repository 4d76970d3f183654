//! The program with its own instrument: on a JACK server's dummy driver it is heard, and where
//! there is no device at all it says so and plays on silently.
#![cfg(target_os = "linux")]

#[path = "../../crates/ports/tests/common/server.rs"]
mod server;

use chaconne_ports::Rest;
use chaconne_tests::fifo;
use chaconne_tests::program::{PATIENCE, finish, run, signal, spawn};
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::Heard;
use jack::{AudioIn, Client, Control, Port, PortFlags, ProcessHandler, ProcessScope};
use rustix::process::Signal;
use server::{Guest, Server, with_own_server};
use std::path::{Path, PathBuf};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A bar of quarters at 240.
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

/// A client that listens to everything connected to it.
struct PeakListener {
    port: Port<AudioIn>,
    heard: Arc<Mutex<Vec<f32>>>,
    rest: Rest,
}

impl ProcessHandler for PeakListener {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        if !self.rest.is_asked() {
            self.heard.lock().unwrap().extend_from_slice(self.port.as_slice(scope));
        }
        Control::Continue
    }
}

/// A server that does not wait for its clients, which is the default of jackd: gaps in the sound do not
/// matter here.
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
    guest: Guest<PeakListener>,
    heard: Arc<Mutex<Vec<f32>>>,
}

impl Listener {
    fn new() -> Listener {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let guest = Guest::open("listener", |client, rest| {
            let port = client.register_port("ear", AudioIn::default()).unwrap();
            PeakListener { port, heard: heard.clone(), rest }
        });
        Listener { guest: guest.expect("the server takes clients"), heard }
    }

    /// Waits for the program's first port, its left side, and connects it.
    fn join(&self) {
        let begin = Instant::now();
        // Its port exists a moment before it plays and can be connected.
        let client = self.guest.client();
        let join = || {
            let ports = client.ports(None, Some("audio"), PortFlags::IS_OUTPUT);
            let own = ports.into_iter().find(|port| !port.starts_with("system:"));
            own.is_some_and(|own| client.connect_ports_by_name(&own, "listener:ear").is_ok())
        };
        while !join() {
            assert!(begin.elapsed() < PATIENCE, "no port of the program can be joined");
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
        listener.join();
        finish(program, PATIENCE).ends(0);
        let loudest = listener.loudest(usize::MAX);
        let Listener { guest, heard, .. } = listener;
        drop(guest);
        let heard = heard.lock().unwrap();
        // Heard, and below the limiter's ceiling of -1 dBFS.
        assert!(loudest > 0.003 && loudest < 0.892, "{loudest}");
        // After the last note it rings out; no click is left hanging.
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
        listener.join();
        finish(program, PATIENCE).ends(0);
        assert!(listener.loudest(usize::MAX) > 0.003, "the instrument is heard");
        let notes = |heard: &[Heard]| -> Vec<Heard> {
            heard.iter().copied().filter(|one| matches!(one, Heard::On(..))).collect()
        };
        // Each track on its own output: notes for the instrument do not go out on the port.
        assert_eq!(notes(&tap.close()), [Heard::On(3, 48, 70); 8]);
    });
}

/// The recent peak of the left side on the screen, in dBFS.
fn told(screen: &str) -> Option<f32> {
    let row = screen.lines().find(|line| line.starts_with("─ sound "))?;
    let left = row.split_once(" L ")?.1.split_once(" R ")?.0;
    left.split_whitespace().find_map(|word| word.parse().ok())
}

#[test]
fn the_screen_shows_the_peaks_and_turns_them_down() {
    with_own_server("the_screen_shows_the_peaks_and_turns_them_down", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let _server = server(&name);
        let listener = Listener::new();
        let words = ["sketch", song.to_str().unwrap(), "--play", "--level", "-6"];
        let mut terminal = Terminal::start(&words);
        listener.join();
        // Decibels under a full scale of 1 (AES17, "full-scale level"; from memory). A peak is held
        // for 1.5 s; the song is a bar of 1 s.
        let as_heard = |screen: &str| {
            let peak = 20.0 * listener.loudest(72_000).log10();
            told(screen).is_some_and(|told| (told - peak).abs() < 0.2)
        };
        terminal.wait("the peak that is heard", as_heard);
        terminal.keys("((((((");
        let screen = terminal.wait_for("The sound is 12 dB under full scale.");
        assert!(screen.contains("sound -12 dB"), "{screen}");
        terminal.wait("the lower peak that is heard then", as_heard);
        terminal.keys(" ");
        terminal.wait("silence", |screen| screen.contains("STOPPED") && told(screen).is_none());
        terminal.keys("q");
        assert_eq!(terminal.end(), 0);
    });
}

#[test]
fn a_device_that_comes_and_goes_is_played_while_it_is_there() {
    with_own_server("a_device_that_comes_and_goes_is_played_while_it_is_there", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        // Longer than any machine takes for this; the test ends it.
        let words = ["rehearse", song.to_str().unwrap(), "--times", "900", "--level", "-6"];
        let mut program = spawn(&words);
        let told = lines(program.stderr.take().unwrap());
        wait_for(&told, "no audio device");
        for _ in 0..2 {
            let server = server(&name);
            wait_for(&told, "sound: connected");
            assert!(is_heard(), "nothing is heard");
            drop(server);
            wait_for(&told, "sound: audio device disconnected");
        }
        signal(program.id(), Signal::TERM);
        let ran = finish(program, PATIENCE);
        assert!(ran.out.contains("notes left sounding: 0"), "{}", ran.out);
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
        let told = lines(program.stderr.take().unwrap());
        wait_for(&told, "no audio device could be opened: it does not answer");
        server.hang(false);
        wait_for(&told, "sound: connected");
        assert!(is_heard(), "nothing is heard");
        signal(program.id(), Signal::TERM);
        let ran = finish(program, PATIENCE);
        assert!(ran.out.contains("notes left sounding: 0"), "{}", ran.out);
    });
}

#[test]
fn the_meters_are_on_the_screen_while_the_device_is_there() {
    with_own_server("the_meters_are_on_the_screen_while_the_device_is_there", |name| {
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
        terminal.wait("the meters again", |screen| has_meters(screen) && told(screen).is_some());
        terminal.keys("ql");
        assert_eq!(terminal.end(), 0);
    });
}

/// Whether the program is heard on the server that runs.
fn is_heard() -> bool {
    let listener = Listener::new();
    listener.join();
    let begin = Instant::now();
    while begin.elapsed() < PATIENCE {
        if listener.loudest(usize::MAX) > 0.003 {
            return true;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    false
}

/// Waits until one of the lines says so.
fn wait_for(told: &Receiver<String>, what: &str) {
    let begin = Instant::now();
    let says = || told.recv_timeout(PATIENCE).expect(what);
    while !says().contains(what) {
        assert!(begin.elapsed() < PATIENCE, "it does not say '{what}'");
    }
}

/// The lines that come out there, one at a time.
fn lines(from: impl std::io::Read + Send + 'static) -> Receiver<String> {
    use std::io::BufRead;
    let (send, lines) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let all = std::io::BufReader::new(from).lines().map_while(Result::ok);
        all.take_while(|line| send.send(line.clone()).is_ok()).for_each(drop);
    });
    lines
}

#[test]
fn without_a_device_it_says_so_and_plays_on() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(folder.path());
    let ran = run(&["rehearse", song.to_str().unwrap(), "--times", "1"]).ends(0);
    // A machine with a device plays; one without says so, in one sentence of ours.
    let told: Vec<&str> = ran.err.lines().filter(|line| line.contains("audio")).collect();
    assert!(told.iter().all(|line| line.contains("audio device")), "{}", ran.err);
    assert!(!ran.err.contains("ALSA"), "{}", ran.err);
    // Without a device nothing counts as dropped.
    assert!(!ran.out.contains("dropped"), "{}", ran.out);
    assert_eq!(ran.out.contains("nothing connected"), !told.is_empty(), "{}", ran.out);
}
