//! A terminal for the program: a pseudo-terminal with a picture of its screen.
//!
//! In: keys as bytes. Out: the text on the screen, how the program ended, and whether it restored the
//! terminal. Like a real terminal, it answers when the program asks for the cursor's position (ECMA-48,
//! DSR and CPR). It cannot report that a key was released.

use crate::program::{PATIENCE, path, unheard};
use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, SlavePty, native_pty_system};
use rustix::termios::Termios;
use std::ffi::OsStr;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

/// Its lines and columns.
pub const SIZE: (u16, u16) = (24, 80);
const WHERE_IS_THE_CURSOR: &[u8] = b"\x1b[6n";

type Keys = Arc<Mutex<Box<dyn Write + Send>>>;

/// What the thread that reads the screen shares with the test.
struct Screen {
    picture: Mutex<vt100::Parser>,
    more: Condvar,
    /// The terminal is being closed, so the thread must end.
    over: AtomicBool,
}

/// A terminal in which the program runs.
pub struct Terminal {
    screen: Arc<Screen>,
    keys: Keys,
    child: Box<dyn Child + Send + Sync>,
    tty: PathBuf,
    /// Both ends stay open, so that the terminal outlives the program.
    ends: Option<(Box<dyn MasterPty + Send>, Box<dyn SlavePty + Send>)>,
    /// Its modes before the program started.
    modes: String,
}

impl Terminal {
    /// Starts the program in a new terminal. It remembers nothing of it afterwards, so that no start is
    /// its first.
    ///
    /// # Panics
    /// If the system has no pseudo-terminal left, or the program does not start.
    pub fn start<S: AsRef<OsStr>>(arguments: &[S]) -> Terminal {
        Terminal::start_with(arguments, None)
    }

    /// The same, but it remembers what it does in a state folder.
    ///
    /// # Panics
    /// If the system has no pseudo-terminal left, or the program does not start.
    pub fn start_remembering<S: AsRef<OsStr>>(arguments: &[S], state: &Path) -> Terminal {
        Terminal::start_with(arguments, Some(state))
    }

    fn start_with<S: AsRef<OsStr>>(arguments: &[S], state: Option<&Path>) -> Terminal {
        let (rows, cols) = SIZE;
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        let ends = native_pty_system().openpty(size).expect("a pseudo-terminal");
        let tty = ends.master.tty_name().expect("it has a name");
        let modes = modes(&tty);
        let mut command = CommandBuilder::new(path());
        command.args(arguments);
        command.env("TERM", "xterm-256color");
        command.env("LANG", "C.UTF-8");
        // No keys of somebody else.
        command.env("XDG_CONFIG_HOME", "/nonexistent");
        unheard().into_iter().for_each(|(name, value)| command.env(name, value));
        state.into_iter().for_each(|state| command.env("XDG_STATE_HOME", state));
        for name in ["NO_COLOR", "COLORFGBG", "LC_ALL", "LC_CTYPE"] {
            command.env_remove(name);
        }
        let keys: Keys = Arc::new(Mutex::new(ends.master.take_writer().expect("keys can be sent")));
        let from = ends.master.try_clone_reader().expect("the screen can be read");
        let child = ends.slave.spawn_command(command).expect("the program starts");
        let picture = Mutex::new(vt100::Parser::new(rows, cols, 0));
        let (more, over) = (Condvar::new(), AtomicBool::new(false));
        let screen = Arc::new(Screen { picture, more, over });
        std::thread::spawn({
            let (screen, keys) = (Arc::clone(&screen), Arc::clone(&keys));
            move || show(from, &screen, &keys)
        });
        Terminal { screen, keys, child, tty, ends: Some((ends.master, ends.slave)), modes }
    }

    /// The program's process id.
    ///
    /// # Panics
    /// If it has ended.
    pub fn id(&self) -> u32 {
        self.child.process_id().expect("the program runs")
    }

    /// Types bytes.
    ///
    /// # Panics
    /// If the terminal is closed.
    pub fn keys(&self, bytes: &str) {
        let mut keys = self.keys.lock().unwrap();
        keys.write_all(bytes.as_bytes()).and_then(|()| keys.flush()).expect("the keys arrive");
    }

    /// Waits until the screen meets a condition, and returns its text.
    ///
    /// # Panics
    /// If it does not within [`PATIENCE`]; the message quotes the screen.
    #[track_caller]
    pub fn wait(&self, what: &str, condition: impl Fn(&str) -> bool) -> String {
        let start = Instant::now();
        let mut picture = self.screen.picture.lock().unwrap();
        loop {
            let text = picture.screen().contents();
            if condition(&text) {
                return text;
            }
            assert!(start.elapsed() < PATIENCE, "never on the screen: {what}\n{text}");
            picture = self.screen.more.wait_timeout(picture, Duration::from_millis(200)).unwrap().0;
        }
    }

    /// Waits until a text is on the screen.
    #[track_caller]
    pub fn wait_for(&self, text: &str) -> String {
        self.wait(text, |screen| screen.contains(text))
    }

    /// Waits for the end of the program, and returns its exit code.
    ///
    /// # Panics
    /// If it does not end.
    #[track_caller]
    pub fn end(&mut self) -> u32 {
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("the program can be waited for") {
                return status.exit_code();
            }
            assert!(start.elapsed() < PATIENCE, "the program does not end: {}", self.text());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Closes the terminal, like a click that closes its window, and waits for the end of the program.
    ///
    /// # Panics
    /// If it does not end.
    pub fn close(mut self) {
        let Terminal { child, ends, keys, screen, tty, .. } = &mut self;
        // The thread that reads the screen keeps the terminal open while it waits for a byte, so it gets
        // one.
        screen.over.store(true, Ordering::SeqCst);
        let mut output = File::options().write(true).open(tty).expect("the terminal exists");
        output.write_all(b" ").expect("the screen can be written to");
        drop((output, ends.take()));
        *keys.lock().unwrap() = Box::new(std::io::sink());
        let start = Instant::now();
        while child.try_wait().expect("the program can be waited for").is_none() {
            assert!(start.elapsed() < PATIENCE, "the program does not end");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// The text on the screen.
    ///
    /// # Panics
    /// If the reader of the screen has panicked.
    pub fn text(&self) -> String {
        self.screen.picture.lock().unwrap().screen().contents()
    }

    /// Asserts that the program restored the terminal: its modes, the main screen, the cursor.
    ///
    /// # Panics
    /// If it is not.
    #[track_caller]
    pub fn assert_restored(&self) {
        assert_eq!(modes(&self.tty), self.modes, "the modes of the terminal");
        let start = Instant::now();
        loop {
            let picture = self.screen.picture.lock().unwrap();
            let screen = picture.screen();
            let (other, hidden) = (screen.alternate_screen(), screen.hide_cursor());
            let (paste, blank) = (screen.bracketed_paste(), screen.contents());
            drop(picture);
            if !other && !hidden && !paste && !blank.contains('─') {
                return;
            }
            let state = format!(
                "alternate screen {other}, hidden cursor {hidden}, bracketed paste {paste}"
            );
            assert!(start.elapsed() < PATIENCE, "{state}\n{blank}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}

/// Draws the program's output on the picture, and answers its questions.
fn show(mut from: Box<dyn Read + Send>, screen: &Screen, keys: &Keys) {
    let mut bytes = [0; 8192];
    let mut last = Vec::new();
    while let Ok(count @ 1..) = from.read(&mut bytes) {
        if screen.over.load(Ordering::SeqCst) {
            return;
        }
        last.extend_from_slice(&bytes[..count]);
        while let Some(at) = position(&last, WHERE_IS_THE_CURSOR) {
            last.drain(..at + WHERE_IS_THE_CURSOR.len());
            let _ = keys.lock().unwrap().write_all(b"\x1b[1;1R");
        }
        // Keep only what may be the start of a question.
        last.drain(..last.len().saturating_sub(WHERE_IS_THE_CURSOR.len() - 1));
        screen.picture.lock().unwrap().process(&bytes[..count]);
        screen.more.notify_all();
    }
}

fn position(bytes: &[u8], wanted: &[u8]) -> Option<usize> {
    bytes.windows(wanted.len()).position(|window| window == wanted)
}

/// The modes of a terminal, for comparison.
fn modes(tty: &PathBuf) -> String {
    let file = File::options().read(true).write(true).open(tty).expect("the terminal exists");
    let Termios { input_modes, output_modes, control_modes, local_modes, .. } =
        rustix::termios::tcgetattr(&file).expect("it has modes");
    format!("{input_modes:?} {output_modes:?} {control_modes:?} {local_modes:?}")
}
