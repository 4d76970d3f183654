//! The program with its own instrument: on a JACK server's dummy driver it is heard, and where
//! there is no device at all it says so and plays on silently.
#![cfg(target_os = "linux")]

#[path = "../../crates/clock/tests/common/server.rs"]
mod server;

use chaconne_tests::program::{PATIENCE, finish, run, spawn};
use jack::{
    AudioIn, Client, ClientOptions, Control, Port, PortFlags, ProcessHandler, ProcessScope,
};
use server::{Server, with_own_server};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A bar of quarters at 240.
const SONG: &str = r#"(
    chaconne: 1,
    title: "Heard",
    tracks: [(id: 1, name: "Keys", channel: 2, program: 5)],
    sections: [(
        letter: "A",
        bars: 1,
        metre: "4/4",
        tempo: 250000,
        passes: [(id: 2, track: 1, length: "1 bar", notes: [
            (id: 3, at: "1.1.0", length: 400, key: 60, velocity: 90),
            (id: 4, at: "1.2.0", length: 400, key: 62, velocity: 90),
            (id: 5, at: "1.3.0", length: 400, key: 64, velocity: 90),
        ])],
    )],
)"#;

/// Listens to everything that is joined to it.
struct Ear {
    port: Port<AudioIn>,
    heard: Arc<Mutex<Vec<f32>>>,
}

impl ProcessHandler for Ear {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        self.heard.lock().unwrap().extend_from_slice(self.port.as_slice(scope));
        Control::Continue
    }
}

fn song(folder: &Path) -> PathBuf {
    let path = folder.join("heard.ron");
    std::fs::write(&path, SONG).unwrap();
    path
}

#[test]
fn the_instrument_is_heard_on_a_server() {
    with_own_server("the_instrument_is_heard_on_a_server", |name| {
        let folder = tempfile::tempdir().unwrap();
        let song = song(folder.path());
        let _server = Server::start(&name, 256);
        let (client, _) = Client::new("listener", ClientOptions::NO_START_SERVER).unwrap();
        let port = client.register_port("ear", AudioIn::default()).unwrap();
        let ear = port.name().unwrap();
        let heard = Arc::new(Mutex::new(Vec::new()));
        let client = client.activate_async((), Ear { port, heard: heard.clone() }).unwrap();
        let words = ["rehearse", song.to_str().unwrap(), "--times", "4", "--level", "-6"];
        let program = spawn(&words);
        let begin = Instant::now();
        // Its port is there a moment before it plays and can be joined.
        let join = || {
            let ports = client.as_client().ports(None, Some("audio"), PortFlags::IS_OUTPUT);
            let own = ports.into_iter().find(|port| !port.starts_with("system:"));
            own.is_some_and(|own| client.as_client().connect_ports_by_name(&own, &ear).is_ok())
        };
        while !join() {
            assert!(begin.elapsed() < PATIENCE, "no port of the program can be joined");
            std::thread::sleep(Duration::from_millis(5));
        }
        finish(program, PATIENCE).ends(0);
        drop(client);
        let heard = heard.lock().unwrap();
        let loudest = heard.iter().fold(0.0f32, |loudest, sample| loudest.max(sample.abs()));
        // Heard, and below the limiter's ceiling of -1 dB under full scale.
        assert!(loudest > 0.003 && loudest < 0.892, "{loudest}");
        // After the last note it rings out; no click is left hanging.
        assert!(heard.iter().all(|sample| sample.is_finite()));
    });
}

#[test]
fn without_a_device_it_says_so_and_plays_on() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(folder.path());
    let ran = run(&["rehearse", song.to_str().unwrap(), "--times", "1"]).ends(0);
    // A machine that has a device plays; one that has none says so, in a sentence of ours alone.
    let told: Vec<&str> = ran.err.lines().filter(|line| line.contains("audio")).collect();
    assert!(told.iter().all(|line| line.contains("there is no sound: ")), "{}", ran.err);
    assert!(!ran.err.contains("ALSA"), "{}", ran.err);
}
