//! The program on a JACK server: a port that goes and comes back gets its settings and the clock
//! again, while the music plays on.
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

/// The device that is plugged in: an input of this process, which exists at once as a port
/// `chaconne:in` that the program can play to.
struct Plug {
    heard: Arc<Mutex<Vec<InputEvent>>>,
    _input: Input,
}

impl Plug {
    fn new() -> Plug {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let sink = {
            let heard = heard.clone();
            move |_, event| heard.lock().unwrap().push(event)
        };
        let nobody = PortSpec::Jack("nobody is called so".to_string());
        Plug { heard, _input: open_input(&nobody, sink).unwrap() }
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
fn a_port_that_comes_back_gets_program_and_clock_again() {
    with_own_server("a_port_that_comes_back_gets_program_and_clock_again", |name| {
        let _server = Server::start(&name, 256);
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("plugged.ron");
        std::fs::write(&song, SONG).unwrap();
        let plug = Plug::new();
        let song = song.to_str().unwrap();
        let mut child = spawn(&["rehearse", song, "--out", "jack:chaconne:in", "--clock"]);
        let mut says = Says::of(&mut child);
        plug.hears_all();
        drop(plug);
        says.wait_for("jack:chaconne:in: disconnected");
        let plug = Plug::new();
        plug.hears_all();
        says.wait_for("jack:chaconne:in: connected");
        signal(child.id(), Signal::INT);
        let ran = finish(child, PATIENCE).ends(0);
        assert!(ran.out.contains("notes left sounding: 0"), "{}", ran.out);
    });
}

#[test]
fn a_server_that_is_started_anew_crashes_neither_the_port_nor_the_instrument() {
    let test = "a_server_that_is_started_anew_crashes_neither_the_port_nor_the_instrument";
    with_own_server(test, |name| {
        // It does not wait for its clients, which is the default of jackd. A server that waits would
        // take ten times as long to drop a client that leaves while another is late.
        let start = || Server::with(&name, 256, &["-r"]);
        let mut server = start();
        let folder = tempfile::tempdir().unwrap();
        let song = folder.path().join("plugged.ron");
        std::fs::write(&song, SONG).unwrap();
        let plug = Plug::new();
        let outs = ["--out", "jack:chaconne:in", "--out", "sound", "--clock"];
        let mut child = spawn(&[&["rehearse", song.to_str().unwrap()], &outs[..]].concat());
        let mut says = Says::of(&mut child);
        // It plays, so both are open: the library cannot cope with a server that ends while a client is
        // being opened.
        plug.hears_all();
        for _ in 0..4 {
            drop(server);
            plug.heard.lock().unwrap().clear();
            server = start();
            says.wait_for("sound: connected");
            plug.hears_all();
        }
        signal(child.id(), Signal::INT);
        let ran = finish(child, PATIENCE).ends(0);
        assert!(says.seen.contains("jack:chaconne:in: connected"), "{}", says.seen);
        assert!(ran.out.contains("notes left sounding: 0"), "{}", ran.out);
    });
}

#[test]
fn ports_of_a_server_are_listed_with_what_it_adds() {
    with_own_server("ports_of_a_server_are_listed_with_what_it_adds", |name| {
        let _server = Server::start(&name, 1024);
        let _plug = Plug::new();
        let ran = run(&["ports"]).ends(0);
        assert!(ran.out.contains("out     jack:chaconne:in\n"), "{}", ran.out);
        // Two blocks of 1024 frames at 48,000 frames per second, plus a millisecond.
        assert!(ran.err.contains("handed over 43.7 ms ahead"), "{}", ran.err);
    });
}

#[test]
fn a_follower_on_the_same_server_plays_what_the_leader_plays() {
    with_own_server("a_follower_on_the_same_server_plays_what_the_leader_plays", |name| {
        const ROUNDS: u32 = 2;
        let _server = Server::start(&name, 256);
        let folder = tempfile::tempdir().unwrap();
        let together = along(folder.path(), ROUNDS, Cable::Jack);
        together.assert_same(ROUNDS);
        println!("{:?}", together.apart());
    });
}
