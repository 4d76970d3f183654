//! A JACK server of a test's own, and clients of it that play and listen.
//!
//! A process reaches a server by a variable of its environment, so each test runs once more in a
//! process of its own that has the variable. What all servers and clients of a user share besides,
//! in /dev/shm, no other server may touch while one ends: where the system lets us, the process
//! gets an empty /dev/shm of its own, else it waits until it is the only such test.

#![allow(dead_code, reason = "each test program uses a part of it")]

use super::eventually;
use jack::{AsyncClient, Client, ClientOptions, Control, MidiIn, MidiOut, Port, ProcessScope};
use rustix::process::{Pid, Signal, kill_process};
use std::collections::VecDeque;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Names the server to the library.
const NAME: &str = "JACK_DEFAULT_SERVER";
/// Set in the process of its own.
const INSIDE: &str = "CHACONNE_TEST_INSIDE";

/// Runs `work` in a process of its own, which can have a server of its own. `test` is the name of
/// the test that calls this. What the process said is said again.
pub fn with_own_server(test: &str, work: impl FnOnce(String)) {
    if std::env::var_os(INSIDE).is_some() {
        work(std::env::var(NAME).unwrap());
        return;
    }
    let apart = apart();
    let _alone = apart.is_none().then(alone);
    let own = std::env::current_exe().unwrap();
    let mut command = match apart {
        Some(words) => {
            let mut command = Command::new("unshare");
            command.args(words).args(["sh", "-c", OWN_MEMORY]).arg(own);
            command
        }
        None => Command::new(own),
    };
    let out = command
        .args(["--exact", test, "--nocapture"])
        .env(NAME, format!("chaconne-{}", std::process::id()))
        .env(INSIDE, "1")
        .output()
        .unwrap();
    let (said, noise) =
        (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    print!("{said}");
    assert!(out.status.success(), "{}: {said}\n{noise}", out.status);
    assert_eq!(noise, "", "nothing may be written over the screen");
}

/// Puts an empty folder in the place of /dev/shm, then starts what follows.
const OWN_MEMORY: &str = r#"mount -t tmpfs tmpfs /dev/shm && exec "$0" "$@""#;

/// The words to `unshare` with which a process gets a /dev/shm of its own, where it can.
fn apart() -> Option<&'static [&'static str]> {
    let ways: [&[&str]; 2] = [
        &["--mount", "--propagation", "private"],
        &["--user", "--map-root-user", "--mount", "--propagation", "private"],
    ];
    ways.into_iter().find(|words| {
        let mut command = Command::new("unshare");
        command.args(*words).args(["sh", "-c", OWN_MEMORY, "true"]);
        let quiet = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        quiet.status().is_ok_and(|status| status.success())
    })
}

/// Waits until no other process holds this.
fn alone() -> std::fs::File {
    let path = std::env::temp_dir().join("chaconne-jack-tests.lock");
    let file = std::fs::File::create(path).unwrap();
    rustix::fs::flock(&file, rustix::fs::FlockOperation::LockExclusive).unwrap();
    file
}

/// A server with the dummy driver, which keeps time like a sound card that nobody hears.
pub struct Server {
    child: Child,
}

impl Server {
    /// Starts one with blocks of so many frames at 48,000 a second, and waits until it answers.
    /// It waits for its clients (`-S`, for 5 s) before it goes on to the next block: else what a
    /// client plays that is kept waiting by a busy machine would be lost in the server.
    pub fn start(name: &str, frames: u32) -> Server {
        let child = Command::new("jackd")
            .args(["-n", name, "-r", "-S", "-t5000", "-ddummy", "-r48000"])
            .arg(format!("-p{frames}"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("jackd is needed: 'cargo xtask test' installs it");
        let server = Server { child };
        eventually("the server", || chaconne_clock::list_jack_ports().is_ok());
        server
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = kill_process(Pid::from_child(&self.child), Signal::TERM);
        let start = Instant::now();
        while matches!(self.child.try_wait(), Ok(None)) {
            if start.elapsed() > Duration::from_secs(5) {
                let _ = self.child.kill();
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// A message with the server's frame it was heard at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    pub frame: u32,
    pub bytes: Vec<u8>,
}

#[derive(Default)]
struct Box {
    heard: Vec<Heard>,
    /// What is to be played, a block each: frames within it, and bytes.
    to_play: VecDeque<Vec<(u32, Vec<u8>)>>,
}

/// A client with a port `in` that listens and a port `out` that plays. For tests: it locks and
/// allocates in its callback.
pub struct Peer {
    inside: Arc<Mutex<Box>>,
    _client: AsyncClient<(), Process>,
}

struct Process {
    inside: Arc<Mutex<Box>>,
    ear: Port<MidiIn>,
    mouth: Port<MidiOut>,
}

impl jack::ProcessHandler for Process {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut inside = self.inside.lock().unwrap();
        let start = scope.last_frame_time();
        for event in self.ear.iter(scope) {
            let (frame, bytes) = (start.wrapping_add(event.time), event.bytes.to_vec());
            inside.heard.push(Heard { frame, bytes });
        }
        let mut writer = self.mouth.writer(scope);
        for (time, bytes) in inside.to_play.pop_front().into_iter().flatten() {
            writer.write(&jack::RawMidi { time, bytes: &bytes }).unwrap();
        }
        Control::Continue
    }
}

impl Peer {
    pub fn start(name: &str) -> Peer {
        jack::set_logger(jack::LoggerType::None);
        let options = ClientOptions::NO_START_SERVER | ClientOptions::USE_EXACT_NAME;
        let (client, _) = Client::new(name, options).unwrap();
        let ear = client.register_port("in", MidiIn::default()).unwrap();
        let mouth = client.register_port("out", MidiOut::default()).unwrap();
        let inside = Arc::new(Mutex::new(Box::default()));
        let process = Process { inside: inside.clone(), ear, mouth };
        Peer { inside, _client: client.activate_async((), process).unwrap() }
    }

    /// Everything heard so far.
    pub fn heard(&self) -> Vec<Heard> {
        self.inside.lock().unwrap().heard.clone()
    }

    /// How many messages were heard.
    pub fn count(&self) -> usize {
        self.inside.lock().unwrap().heard.len()
    }

    /// The bytes of everything heard.
    pub fn bytes(&self) -> Vec<Vec<u8>> {
        self.heard().into_iter().map(|heard| heard.bytes).collect()
    }

    /// Plays messages, each at its frame, in a block to come.
    pub fn play(&self, block: &[(u32, &[u8])]) {
        let block = block.iter().map(|(frame, bytes)| (*frame, bytes.to_vec())).collect();
        self.inside.lock().unwrap().to_play.push_back(block);
    }
}
