//! Signals: silence first, then an orderly shutdown, and an end in any case.
//!
//! In: SIGINT, SIGTERM, SIGQUIT, SIGHUP, and on request SIGTSTP. Out: silence on the ports within
//! milliseconds, a flag for the program's own loop, and the end of the process if that loop does
//! not end it in time. Suspension silences, too.

use crate::rig::hush;
use chaconne_ports::Switch;
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGSTOP, SIGTERM, SIGTSTP};
use signal_hook::iterator::{Handle, Signals as Iterator};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicI32, Ordering::SeqCst};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How long the scheduler may take to silence everything before the last resort.
const SILENCE: Duration = Duration::from_millis(250);

/// What to do with a program that does not end by itself after a signal.
pub struct Leave {
    /// How long it may take after the silence.
    pub patience: Duration,
    /// The last thing to do, e.g. to restore the terminal. Must not take long.
    pub restore: Box<dyn Fn() + Send>,
}

/// Signals that are caught and wait to be handled.
pub struct Caught(Iterator);

/// Watches for signals until it is dropped.
pub struct Signals {
    asked: Arc<AtomicI32>,
    handle: Handle,
    thread: Option<JoinHandle<()>>,
}

impl Signals {
    /// Catches signals from now on. Call this before anything can sound, so that no signal ends the
    /// process without silence. If SIGHUP was ignored when the process started (`nohup`), it stays
    /// ignored. `suspends` says whether to handle suspension from the terminal, too; a program that
    /// suspends itself after its own silence says no.
    ///
    /// # Errors
    /// If the system refuses.
    pub fn catch(suspends: bool) -> std::io::Result<Caught> {
        let mut numbers = vec![SIGINT, SIGTERM, SIGQUIT];
        if !hang_up_is_ignored() {
            numbers.push(SIGHUP);
        }
        if suspends {
            numbers.push(SIGTSTP);
        }
        Iterator::new(&numbers).map(Caught)
    }

    /// The number of the signal that asked the program to end, if one did.
    pub fn asked(&self) -> Option<i32> {
        Some(self.asked.load(SeqCst)).filter(|&number| number != 0)
    }
}

impl Caught {
    /// The number of a signal that asks the program to end, if one has come; for a command that
    /// plays nothing and checks by itself.
    pub fn asked(&mut self) -> Option<i32> {
        self.0.pending().find(|&signal| signal != SIGTSTP)
    }

    /// Handles the signals caught so far and all later ones.
    ///
    /// The first signal silences everything and sets [`Signals::asked`]. If the process has not
    /// ended after [`Leave::patience`], or at a second signal, it ends with 128 plus the signal's
    /// number, as shells report it.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn watch(self, switch: Switch, leave: Leave) -> std::io::Result<Signals> {
        let signals = self.0;
        let (asked, handle) = (Arc::new(AtomicI32::new(0)), signals.handle());
        let watcher = Watcher { signals, switch, leave, asked: asked.clone() };
        let spawn = thread::Builder::new().name("signals".to_string());
        let thread = Some(spawn.spawn(move || watcher.run())?);
        Ok(Signals { asked, handle, thread })
    }
}

impl Drop for Signals {
    fn drop(&mut self) {
        self.handle.close();
        if let Some(thread) = self.thread.take() {
            // Its panic was reported where it happened.
            let _ = thread.join();
        }
    }
}

impl fmt::Debug for Signals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Signals").field("asked", &self.asked()).finish_non_exhaustive()
    }
}

struct Watcher {
    signals: Iterator,
    switch: Switch,
    leave: Leave,
    asked: Arc<AtomicI32>,
}

impl Watcher {
    fn run(mut self) {
        let Some(first) = self.first() else { return };
        self.switch.silence_now();
        self.asked.store(first, SeqCst);
        hush(&self.switch, SILENCE);
        let start = Instant::now();
        while !self.signals.is_closed() {
            let second = self.signals.pending().find(|&signal| signal != SIGTSTP);
            if second.is_some() || start.elapsed() >= self.leave.patience {
                self.end(second.unwrap_or(first));
            }
            thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits for the first signal that asks the program to end; handles suspensions before it.
    fn first(&mut self) -> Option<i32> {
        for signal in self.signals.forever() {
            if signal != SIGTSTP {
                return Some(signal);
            }
            hush(&self.switch, SILENCE);
            // If the system refuses, the program plays on.
            let _ = signal_hook::low_level::raise(SIGSTOP);
            // The process goes on from here when it is continued.
            self.switch.resume();
        }
        None
    }

    /// Ends the process now.
    fn end(&self, signal: i32) -> ! {
        // A loop that did not end may have played more meanwhile.
        hush(&self.switch, Duration::from_millis(20));
        (self.leave.restore)();
        signal_hook::low_level::exit(128 + signal)
    }
}

/// Whether this process was started with SIGHUP ignored.
fn hang_up_is_ignored() -> bool {
    let Ok(status) = std::fs::read_to_string("/proc/self/status") else { return false };
    is_ignored(&status, SIGHUP)
}

/// Whether the text of `/proc/PID/status` says that a signal is ignored (proc(5), `SigIgn`: a
/// mask in hexadecimal, bit 0 for signal 1).
fn is_ignored(status: &str, signal: i32) -> bool {
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    mask.is_some_and(|mask| mask >> (signal - 1) & 1 == 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_engine::{Message, PortIx};
    use chaconne_ports::{Output, Setup};
    use chaconne_song::{Channel, U7};

    #[test]
    fn the_mask_of_ignored_signals_is_read() {
        let status = "Name:\tx\nSigBlk:\t0000000000000001\nSigIgn:\t0000000000001001\n";
        assert!(is_ignored(status, SIGHUP));
        assert!(!is_ignored(status, SIGINT));
        assert!(!is_ignored("SigIgn:\t0000000000001000\n", SIGHUP));
        assert!(!is_ignored("", SIGHUP));
    }

    #[test]
    fn a_signal_silences_everything_and_asks_the_program_to_end() {
        let (output, port) = Output::memory("port");
        let mut running = chaconne_ports::start(vec![output], Setup::default()).unwrap();
        let mut thru = running.thrus.remove(0);
        thru.target().set(Some((PortIx(0), None)));
        let (channel, key) = (Channel::default(), U7::low_bits(60));
        let press = Message::NoteOn { channel, key, velocity: U7::low_bits(90) };
        thru.play(chaconne_ports::now(), press);
        let monitor = running.scheduler.monitor();
        while monitor.stats().sounding == 0 {
            thread::yield_now();
        }
        let leave = Leave { patience: Duration::from_secs(600), restore: Box::new(|| {}) };
        // The signal arrives before the watcher starts, and must not be lost.
        let caught = Signals::catch(false).unwrap();
        signal_hook::low_level::raise(SIGTERM).unwrap();
        let signals = caught.watch(running.scheduler.switch(), leave).unwrap();
        while signals.asked().is_none() || monitor.stats().sounding > 0 {
            thread::yield_now();
        }
        assert_eq!(signals.asked(), Some(SIGTERM));
        let bytes: Vec<Vec<u8>> = port.sendings().into_iter().map(|sent| sent.bytes).collect();
        assert_eq!(bytes[..2], [vec![0x90, 60, 90], vec![0x80, 60, 64]]);
        drop(signals);
    }
}
