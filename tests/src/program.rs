//! The program under test: where it is, how to run it, and how long it may take.
//!
//! `cargo xtask test` builds it before the tests; if it is missing, it is built here, once.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::sync::OnceLock;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// How long to wait for something that should happen at once. It is far more than the slowest machine
/// needs, because it is there to find hangs, not slowness.
pub const PATIENCE: Duration = Duration::from_secs(90);

/// The path of the program.
pub fn path() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        let this = std::env::current_exe().expect("this test knows its own path");
        // The tests are in target/debug/deps, the bench and the program in target/debug.
        let mut folder = this.parent().expect("a program is in a folder");
        if folder.file_name().is_some_and(|name| name == "deps") {
            folder = folder.parent().expect("a test is in a target folder");
        }
        let path = folder.join(format!("chaconne{}", std::env::consts::EXE_SUFFIX));
        if !path.exists() {
            build(folder);
        }
        assert!(path.exists(), "cargo did not build {}", path.display());
        path
    })
}

fn build(folder: &Path) {
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or("cargo".into()));
    cargo.args(["build", "--quiet", "--package", "chaconne"]).current_dir(top());
    cargo.arg("--target-dir").arg(folder.parent().expect("a profile is in a target folder"));
    if folder.file_name().is_some_and(|name| name == "release") {
        cargo.arg("--release");
    }
    assert!(cargo.status().expect("cargo starts").success(), "the program does not build");
}

/// The top folder of the project.
pub fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The path of the recorded performance with that name.
pub fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

/// Reports that a test could not run on this system. Writes to standard error directly, because the
/// test harness hides what passing tests print.
pub fn skipped(why: &str) {
    let _ = writeln!(std::io::stderr(), "SKIPPED: {why}");
}

/// The environment that keeps tests silent on the machine they run on: ALSA finds no device, and JACK
/// finds no server but a test's own; nor does the program remember what it opened.
pub fn unheard() -> Vec<(&'static str, &'static str)> {
    let own_server = std::env::var_os("JACK_DEFAULT_SERVER").is_some();
    // What a test opens is not remembered among the user's songs.
    let nowhere = ("XDG_STATE_HOME", "/dev/null");
    let no_server = (!own_server).then_some(("JACK_DEFAULT_SERVER", "chaconne-tests-have-none"));
    no_server.into_iter().chain([("ALSA_CONFIG_PATH", "/dev/null"), nowhere]).collect()
}

/// A command that runs the program with arguments, without anything in the environment that would
/// change its output.
pub fn command<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Command {
    let mut command = Command::new(path());
    command.args(arguments).stdin(Stdio::null()).envs(unheard());
    for name in ["NO_COLOR", "COLORFGBG", "RUST_BACKTRACE"] {
        command.env_remove(name);
    }
    command
}

/// How a run ended.
#[derive(Debug)]
pub struct Ran {
    /// The exit code; `None` after a deadly signal.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Ran {
    /// Asserts the exit code, and that nothing panicked.
    ///
    /// # Panics
    /// If the code is another one, or the program panicked.
    #[track_caller]
    pub fn ends(self, code: i32) -> Ran {
        assert!(!self.err.contains("panicked"), "{}", self.err);
        assert_eq!(self.code, Some(code), "out: {}\nerr: {}", self.out, self.err);
        self
    }

    /// Asserts that it failed with one sentence on standard error, and returns that sentence.
    ///
    /// # Panics
    /// If it did not.
    #[track_caller]
    pub fn refused(self) -> String {
        let ran = self.ends(2);
        let lines: Vec<&str> = ran.err.lines().collect();
        assert_eq!(lines.len(), 1, "one sentence: {}", ran.err);
        assert!(lines[0].len() < 500, "too long to read: {}", lines[0]);
        lines[0].to_string()
    }
}

impl From<Output> for Ran {
    fn from(output: Output) -> Ran {
        Ran {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

/// Runs the program to its end.
///
/// # Panics
/// If it does not end within [`PATIENCE`].
#[track_caller]
pub fn run<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Ran {
    finish(spawn(arguments), PATIENCE)
}

/// Starts the program and keeps its output.
///
/// # Panics
/// If it does not start.
pub fn spawn<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Child {
    let mut command = command(arguments);
    command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program starts")
}

/// Waits for the end of a program and returns its output.
///
/// # Panics
/// If it does not end in time.
#[track_caller]
pub fn finish(mut child: Child, limit: Duration) -> Ran {
    // Threads read the output, so that a full pipe does not block the program.
    let out = child.stdout.take().map(gather);
    let err = child.stderr.take().map(gather);
    let status = wait(&mut child, limit);
    let text = |reader: Option<std::thread::JoinHandle<Vec<u8>>>| {
        let bytes = reader.map_or(Vec::new(), |reader| reader.join().expect("the reader reads"));
        String::from_utf8_lossy(&bytes).into_owned()
    };
    Ran { code: status.code(), out: text(out), err: text(err) }
}

#[track_caller]
fn wait(child: &mut Child, limit: Duration) -> ExitStatus {
    let start = Instant::now();
    loop {
        if let Some(status) = child.try_wait().expect("the program can be waited for") {
            return status;
        }
        if start.elapsed() > limit {
            let _ = child.kill();
            panic!("the program does not end");
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn gather(mut from: impl std::io::Read + Send + 'static) -> std::thread::JoinHandle<Vec<u8>> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        let _ = from.read_to_end(&mut bytes);
        bytes
    })
}

/// What a program writes to standard error, line by line while it runs.
pub struct Says {
    lines: Receiver<String>,
    /// Everything that was read so far.
    pub seen: String,
}

impl Says {
    /// Listens to a program that [`spawn`] has started.
    ///
    /// # Panics
    /// If its standard error was taken already.
    pub fn of(child: &mut Child) -> Says {
        let (send, lines) = channel();
        let from = BufReader::new(child.stderr.take().expect("standard error is kept"));
        std::thread::spawn(move || {
            let all = from.lines().map_while(Result::ok);
            all.take_while(|line| send.send(line.clone()).is_ok()).for_each(drop);
        });
        Says { lines, seen: String::new() }
    }

    /// Waits for a line that contains `what`, after the last line that was waited for.
    ///
    /// # Panics
    /// If no line comes for [`PATIENCE`].
    #[track_caller]
    pub fn wait_for(&mut self, what: &str) {
        loop {
            let line = self.lines.recv_timeout(PATIENCE);
            let line = line.unwrap_or_else(|_| panic!("no '{what}' after: {}", self.seen));
            self.seen += &(line.clone() + "\n");
            if line.contains(what) {
                return;
            }
        }
    }
}

/// Sends a signal to a program.
///
/// # Panics
/// If there is no such program.
#[cfg(unix)]
pub fn signal(id: u32, signal: rustix::process::Signal) {
    let id = i32::try_from(id).ok().and_then(rustix::process::Pid::from_raw);
    rustix::process::kill_process(id.expect("a process id"), signal).expect("the program runs");
}
