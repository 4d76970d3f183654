//! The program on a JACK server: ports that disconnect and return, a restarted server, the list of
//! ports, and a follower.
#![cfg(target_os = "linux")]

#[path = "../../crates/ports/tests/common/server.rs"]
mod server;

use chaconne_engine::{Message, Wire};
use chaconne_ports::{Input, InputEvent, PortSpec, open_input};
use chaconne_tests::follow::{Cable, along};
use chaconne_tests::program::{PATIENCE, Says, finish, run, signal, spawn};
use rustix::process::Signal;
use server::{Server, with_own_server};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A bar of quarters at 240, with a program of its own.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Plugged in",
    tracks: [(id: 1, name: "Keys", channel: 2, program: 5)],
    sections: [(
        letter: "A",
        bars: 1,
        metre: "4/4",
        tempo: 250000,
        layers: [(id: 2, track: 1, length: "1 bar", notes: [
            (id: 3, at: "1.1.0", length: 400, key: 40, velocity: 90),
            (id: 4, at: "1.2.0", length: 400, key: 41, velocity: 90),
            (id: 5, at: "1.3.0", length: 400, key: 42, velocity: 90),
        ])],
    )],
)"#;

/// A device to plug in and out: an input of this process, which the program sees as the port
/// `chaconne:in` and can play to.
struct Device {
    heard: Arc<Mutex<Vec<InputEvent>>>,
    _input: Input,
}

impl Device {
    fn new() -> Device {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let sink = {
            let heard = heard.clone();
            move |_, event| heard.lock().unwrap().push(event)
        };
        // The input need not be connected to any port itself.
        let source = PortSpec::Jack("no such port".to_string());
        Device { heard, _input: open_input(&source, sink).unwrap() }
    }

    /// Waits until it has heard the program change, a pulse and a whole note.
    fn hears_all(&self) {
        let start = Instant::now();
        while !self.has_heard_all() {
            assert!(start.elapsed() < PATIENCE, "heard: {:?}", self.heard.lock().unwrap());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn has_heard_all(&self) -> bool {
        let heard = self.heard.lock().unwrap();
        let any = |is_it: &dyn Fn(&Message) -> bool| {
            heard
                .iter()
                .any(|event| matches!(event, InputEvent::Heard(Wire::Message(message)) if is_it(message)))
        };
        // Programs are counted from 1 in the song, from 0 on the wire (MIDI 1.0 Detailed
        // Specification, "Program Change").
        any(&|message| matches!(message, Message::Program { program, .. } if program.get() == 4))
            && any(&|message| *message == Message::Clock)
            && any(&|message| matches!(message, Message::NoteOff { .. }))
    }
}

#[test]
fn a_port_that_returns_gets_program_and_clock_again() {
    with_own_server("a_port_that_returns_gets_program_and_clock_again", |name| {
        let _server = Server::start(&name, 256);
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("plugged.ron");
        std::fs::write(&song, SONG).unwrap();
        let device = Device::new();
        let song = song.to_str().unwrap();
        let mut child = spawn(&["rehearse", song, "--out", "jack:chaconne:in", "--clock"]);
        let mut says = Says::of(&mut child);
        device.hears_all();
        drop(device);
        says.wait_for("jack:chaconne:in: disconnected");
        let device = Device::new();
        device.hears_all();
        says.wait_for("jack:chaconne:in: connected");
        signal(child.id(), Signal::INT);
        let ran = finish(child, PATIENCE).ends(0);
        assert!(ran.out.contains("all notes released"), "{}", ran.out);
    });
}

#[test]
fn the_port_and_the_instrument_reconnect_to_a_restarted_server() {
    with_own_server("the_port_and_the_instrument_reconnect_to_a_restarted_server", |name| {
        // Like jackd by default, it does not wait for its clients. A server that waits would take ten
        // times as long to drop a client that leaves while another is late.
        let start = || Server::with(&name, 256, &["-r"]);
        let mut server = start();
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("plugged.ron");
        std::fs::write(&song, SONG).unwrap();
        let device = Device::new();
        let outs = ["--out", "jack:chaconne:in", "--out", "sound", "--clock"];
        let mut child = spawn(&[&["rehearse", song.to_str().unwrap()], &outs[..]].concat());
        let mut says = Says::of(&mut child);
        // Once notes arrive, both clients are open. The JACK library cannot cope with a server that ends
        // while a client is being opened.
        device.hears_all();
        for _ in 0..4 {
            drop(server);
            device.heard.lock().unwrap().clear();
            server = start();
            says.wait_for("sound: connected");
            device.hears_all();
        }
        signal(child.id(), Signal::INT);
        let ran = finish(child, PATIENCE).ends(0);
        assert!(says.seen.contains("jack:chaconne:in: connected"), "{}", says.seen);
        assert!(ran.out.contains("all notes released"), "{}", ran.out);
    });
}

#[test]
fn the_ports_of_a_server_are_listed_with_its_delay() {
    with_own_server("the_ports_of_a_server_are_listed_with_its_delay", |name| {
        let _server = Server::start(&name, 1024);
        let _device = Device::new();
        let ran = run(&["ports"]).ends(0);
        assert!(ran.out.contains("out     jack:chaconne:in\n"), "{}", ran.out);
        // Two blocks of 1024 frames at 48,000 frames per second, plus a millisecond.
        assert!(ran.err.contains("handed over 43.7 ms ahead"), "{}", ran.err);
    });
}

#[test]
fn a_follower_on_the_same_server_plays_the_same_notes_as_the_leader() {
    with_own_server("a_follower_on_the_same_server_plays_the_same_notes_as_the_leader", |name| {
        const ROUNDS: u32 = 2;
        let _server = Server::start(&name, 256);
        let folder = tempfile::tempdir().unwrap();
        let together = along(folder.path(), ROUNDS, Cable::Jack);
        together.assert_same(ROUNDS);
        println!("{:?}", together.apart());
    });
}
