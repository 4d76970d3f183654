//! Two programs, one leading and one following, and how far apart they play.
//!
//! In: a folder to work in, and the number of rounds. Out: the strikes of each and their times, on one
//! clock. The times depend on this machine and its load, so they are only printed.

use crate::fifo::make;
use crate::program::{PATIENCE, Ran, Says, finish, signal, spawn};
use crate::wire::{Heard, Reader};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags};
use rustix::process::Signal;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// The number of strikes in a round: two bars of sixteenths, each on a key of its own.
pub const STRIKES: usize = 32;
/// The key of the first strike.
const FIRST: usize = 40;

/// The strikes of both.
#[derive(Debug)]
pub struct Together {
    /// The keys that the leader struck, and when, in nanoseconds on one clock.
    pub leader: Vec<(u8, i64)>,
    /// The same for the follower.
    pub follower: Vec<(u8, i64)>,
}

/// How far the follower was behind the leader, in milliseconds.
#[derive(Debug, Clone, Copy, Default)]
pub struct Apart {
    /// The number of strikes compared.
    pub strikes: usize,
    /// The root mean square.
    pub rms: f64,
    /// The mean, which includes the delay of FIFOs and threads.
    pub mean: f64,
    /// The largest, early or late.
    pub worst: f64,
}

impl Together {
    /// Asserts that both struck the same keys in the same order, for this many rounds.
    ///
    /// # Panics
    /// If they did not.
    #[track_caller]
    pub fn assert_same(&self, rounds: u32) {
        let keys =
            |strikes: &[(u8, i64)]| strikes.iter().map(|strike| strike.0).collect::<Vec<_>>();
        let expected: Vec<u8> = (0..rounds as usize * STRIKES).map(key).collect();
        let same = |who: &str, struck: &[u8]| {
            let wrong = struck.iter().zip(&expected).position(|(struck, key)| struck != key);
            assert_eq!(wrong, None, "{who}: the first strike on a wrong key");
        };
        let (led, followed) = (keys(&self.leader), keys(&self.follower));
        same("the leader", &led);
        same("the follower", &followed);
        assert_eq!(led.len(), expected.len());
        // The follower stops a moment later, so another round may have started by then.
        let rest = followed.len().checked_sub(expected.len());
        assert!(rest.is_some_and(|rest| rest <= 2), "{} of {}", followed.len(), expected.len());
    }

    /// How far apart they were, without the first round, in which the follower finds the clock.
    pub fn apart(&self) -> Apart {
        let both = self.leader.iter().zip(&self.follower).skip(STRIKES);
        let apart: Vec<f64> = both.map(|(one, other)| (other.1 - one.1) as f64 / 1e6).collect();
        let count = apart.len().max(1) as f64;
        Apart {
            strikes: apart.len(),
            rms: (apart.iter().map(|ms| ms * ms).sum::<f64>() / count).sqrt(),
            mean: apart.iter().sum::<f64>() / count,
            worst: apart.iter().fold(0.0, |worst, ms| ms.abs().max(worst)),
        }
    }
}

/// A song with two bars of sixteenths, at this many microseconds per quarter note.
fn song(title: &str, micros: u32) -> String {
    let note = |k: usize| {
        let (bar, beat, tick) = (k / 16 + 1, k / 4 % 4 + 1, k % 4 * 240);
        let (id, key) = (k + 10, FIRST + k);
        format!("(id: {id}, at: \"{bar}.{beat}.{tick}\", length: 100, key: {key}, velocity: 90),")
    };
    let notes: String = (0..STRIKES).map(note).collect();
    format!(
        "(chaconne: 1, title: \"{title}\", tracks: [(id: 1, name: \"Keys\", channel: 1)], \
         sections: [(letter: \"A\", bars: 2, metre: \"4/4\", tempo: {micros}, passes: [(id: 2, \
         track: 1, length: \"2 bars\", notes: [{notes}])])])"
    )
}

/// The key of a strike, counted from the first one of the first round.
fn key(strike: usize) -> u8 {
    (FIRST + strike % STRIKES) as u8
}

/// What carries the clock from one program to the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cable {
    /// A named FIFO.
    Fifo,
    /// The JACK server that the environment names, of which no other client may be called
    /// `chaconne`.
    Jack,
}

impl Cable {
    /// The port that the follower listens to, and the one that the leader plays to.
    fn ends(self, folder: &Path) -> (String, String) {
        match self {
            Cable::Fifo => {
                let spec = format!("bytes:{}", make(folder, "cable").display());
                (spec.clone(), spec)
            }
            // The leader connects itself to the follower's input, so the follower waits for a port that
            // does not exist.
            Cable::Jack => ("jack:no such port".into(), "jack:chaconne:in".into()),
        }
    }
}

/// Runs one program that leads for this many rounds at 120 BPM, and another that follows it.
///
/// # Panics
/// If a program does not start, or does not end.
pub fn along(folder: &Path, rounds: u32, cable: Cable) -> Together {
    let save = |name: &str, micros| {
        let path = folder.join(name);
        std::fs::write(&path, song(name, micros)).expect("the song can be written");
        path
    };
    // The follower's own tempo, 85, must not matter.
    let (leads, follows) = (save("leads.ron", 500_000), save("follows.ron", 705_882));
    let bytes = |path: &PathBuf| format!("bytes:{}", path.display());
    let (led, followed) = (make(folder, "leader"), make(folder, "follower"));
    let (heard, played) = cable.ends(folder);
    let (leader_log, follower_log) = (StrikeLog::open(&led), StrikeLog::open(&followed));
    let input = format!("{heard},follow");
    let words = ["rehearse", follows.to_str().expect("a path"), "--in", &input, "--out"];
    let mut follower = Program(Some(spawn(&[&words[..], &[&bytes(&followed)]].concat())));
    let mut says = Says::of(follower.child());
    says.wait_for("waiting for the start");
    let clock = format!("clock={played},clock");
    let limit = PATIENCE + Duration::from_secs(u64::from(rounds) * 4);
    let rounds = rounds.to_string();
    let words = ["rehearse", leads.to_str().expect("a path"), "--rounds", &rounds];
    let notes = bytes(&led);
    let words = [&words[..], &["--out", &notes, "--out", &clock]].concat();
    Program(Some(spawn(&words))).end(limit).ends(0);
    // The follower has stopped with the leader and waits for the next Start.
    says.wait_for("waiting for the start");
    signal(follower.child().id(), Signal::TERM);
    let Ran { code, .. } = follower.end(PATIENCE);
    assert!(code.is_some(), "the follower ends when it gets the signal");
    Together { leader: leader_log.close(), follower: follower_log.close() }
}

/// A program that never outlives the test.
struct Program(Option<Child>);

impl Program {
    fn child(&mut self) -> &mut Child {
        self.0.as_mut().expect("it has not been ended")
    }

    fn end(mut self, limit: Duration) -> Ran {
        finish(self.0.take().expect("it has not been ended"), limit)
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        if let Some(mut child) = self.0.take() {
            // This fails if the program has ended by itself.
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// The far end of an output; it records the time of each strike.
struct StrikeLog {
    over: Arc<AtomicBool>,
    reader: JoinHandle<Vec<(u8, i64)>>,
}

impl StrikeLog {
    fn open(path: &Path) -> StrikeLog {
        let flags = OFlags::RDWR | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let fd = rustix::fs::open(path, flags, Mode::empty()).expect("the FIFO can be read");
        let over = Arc::new(AtomicBool::new(false));
        let reader = std::thread::spawn({
            let over = over.clone();
            move || log_strikes(File::from(fd), &over)
        });
        StrikeLog { over, reader }
    }

    fn close(self) -> Vec<(u8, i64)> {
        self.over.store(true, Ordering::SeqCst);
        self.reader.join().expect("the bytes are valid MIDI")
    }
}

fn log_strikes(mut file: File, over: &AtomicBool) -> Vec<(u8, i64)> {
    // This thread is as urgent as those of the programs, so that it measures their lateness and not its
    // own. If the system refuses that, the figures show it.
    chaconne_ports::raise_priority(chaconne_ports::Role::Input);
    let (mut reader, mut bytes) = (Reader::default(), [0; 4096]);
    let (mut heard, mut strikes) = (Vec::new(), Vec::new());
    let tick = Timespec { tv_sec: 0, tv_nsec: 50_000_000 };
    loop {
        let is_over = over.load(Ordering::SeqCst);
        let ready = poll(&mut [PollFd::new(&file, PollFlags::IN)], Some(&tick)).unwrap_or(0);
        let now = chaconne_ports::now();
        if ready == 0 {
            if is_over {
                return strikes;
            }
            continue;
        }
        let count = file.read(&mut bytes).unwrap_or(0);
        heard.clear();
        reader.read(&bytes[..count], &mut heard);
        strikes.extend(heard.iter().filter_map(|message| match message {
            Heard::On(_, key, _) => Some((*key, now)),
            _ => None,
        }));
    }
}
