//! A JACK server for a single test. The whole-program tests and `tests/midir-on-jack` use this file
//! too.
//!
//! An environment variable tells a process which server to use, so each test runs again in a
//! process with that variable set. All servers and clients of a user also share /dev/shm, and no
//! other server may touch it while one shuts down. So the process gets an empty /dev/shm of its own
//! if the system allows that; otherwise it waits until it is the only such test.

#![allow(dead_code, reason = "each test program uses a part of it")]

use chaconne_ports::{JackGuest, Rest, ShutdownNotice, jack_guest, quietly};
use jack::{AsyncClient, Client, ClientOptions, ProcessHandler};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::File;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Tells the library which server to use.
const NAME: &str = "JACK_DEFAULT_SERVER";
/// Set in the second process.
const INSIDE: &str = "CHACONNE_TEST_INSIDE";

/// Runs `work` in its own process, which can have its own server. `test` is the name of the calling
/// test. The process's output is repeated here.
pub fn with_own_server(test: &str, work: impl FnOnce(String)) {
    if std::env::var_os(INSIDE).is_some() {
        work(std::env::var(NAME).unwrap());
        return;
    }
    let (mut command, _alone) = own_process();
    let out = command.args(["--exact", test, "--nocapture"]).output().unwrap();
    let (said, noise) =
        (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    print!("{said}");
    assert!(out.status.success(), "{}: {said}\n{noise}", out.status);
    assert_eq!(noise, "", "this would be written over the screen");
}

/// The command that starts this program again in a process with its own server, and a lock to hold
/// until that process has ended.
pub fn own_process() -> (Command, Option<File>) {
    let own = std::env::current_exe().unwrap();
    let (mut command, alone) = match unshare_args() {
        Some(words) => {
            let mut command = Command::new("unshare");
            command.args(words).args(["sh", "-c", OWN_MEMORY]).arg(own);
            (command, None)
        }
        None => (Command::new(own), Some(alone())),
    };
    command.env(NAME, format!("chaconne-{}", std::process::id())).env(INSIDE, "1");
    (command, alone)
}

/// Mounts an empty folder over /dev/shm, then starts the given program.
const OWN_MEMORY: &str = r#"mount -t tmpfs tmpfs /dev/shm && exec "$0" "$@""#;

/// The arguments to `unshare` that give a process its own /dev/shm, if the system allows it.
fn unshare_args() -> Option<&'static [&'static str]> {
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

/// Waits until no other process holds the lock.
fn alone() -> File {
    let path = std::env::temp_dir().join("chaconne-jack-tests.lock");
    let file = File::create(path).unwrap();
    rustix::fs::flock(&file, rustix::fs::FlockOperation::LockExclusive).unwrap();
    file
}

/// A server with the dummy driver, which keeps time like a sound card without sound.
pub struct Server {
    child: Child,
    /// Proves that clients are accepted, and notices when the server is gone.
    guest: Option<Guest<()>>,
}

impl Server {
    /// Starts one with blocks of this many frames at 48,000 per second, and waits until it answers.
    /// It waits for its clients (`-S`, for 5 s) before the next block: otherwise a client delayed
    /// by a busy machine would lose what it plays.
    pub fn start(name: &str, frames: u32) -> Server {
        Server::with(name, frames, &["-r", "-S", "-t5000"])
    }

    /// The same, with other arguments for jackd.
    pub fn with(name: &str, frames: u32, words: &[&str]) -> Server {
        let child = Command::new("jackd")
            .args(["-n", name])
            .args(words)
            .args(["-ddummy", "-r48000", &format!("-p{frames}")])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("jackd is needed: 'cargo xtask test' installs it");
        let mut server = Server { child, guest: None };
        let start = Instant::now();
        while server.guest.is_none() {
            assert!(start.elapsed() < Duration::from_secs(30), "the server does not start");
            std::thread::sleep(Duration::from_millis(10));
            server.guest = Guest::open("guest", |_, _| ());
        }
        server
    }
}

impl Server {
    /// Stops the process, so that it answers no one, or lets it continue.
    pub fn hang(&self, hang: bool) {
        let signal = if hang { Signal::STOP } else { Signal::CONT };
        kill_process(Pid::from_child(&self.child), signal).unwrap();
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
        // If a client of this process were opened on a new server before the clients of the old one
        // know that it is gone, the library would mix up its state of both.
        let is_over = |guest: &Guest<()>| guest.place.is_over();
        while !self.guest.as_ref().is_none_or(is_over) {
            assert!(start.elapsed() < Duration::from_secs(30), "no client learns that it is gone");
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

/// A client of this process, closed the same way the program closes its own.
pub struct Guest<P: ProcessHandler + 'static> {
    client: Option<AsyncClient<ShutdownNotice, P>>,
    rest: Rest,
    place: JackGuest,
}

impl<P: ProcessHandler> Guest<P> {
    /// A client with exactly this name, whose callback asks whether to rest. `None` if the server
    /// accepts none, or not yet.
    pub fn open(name: &str, process: impl FnOnce(&Client, Rest) -> P) -> Option<Guest<P>> {
        jack::set_logger(jack::LoggerType::None);
        let options = ClientOptions::NO_START_SERVER | ClientOptions::USE_EXACT_NAME;
        let mut place = jack_guest()?;
        let (client, _) = quietly(|| Client::new(name, options)).ok()?;
        let rest = Rest::default();
        let process = process(&client, rest.clone());
        let client = client.activate_async(place.shutdown_notice(), process).ok()?;
        place.opened();
        Some(Guest { client: Some(client), rest, place })
    }

    pub fn client(&self) -> &Client {
        self.client.as_ref().unwrap().as_client()
    }
}

impl<P: ProcessHandler> Drop for Guest<P> {
    fn drop(&mut self) {
        self.place.wait_for_end();
        self.rest.ask(Duration::from_millis(100));
        let client = self.client.take();
        quietly(|| drop(client));
    }
}
