//! How well this machine keeps time: how late the events of a busy song leave the scheduler, next
//! to how late the machine wakes a thread.
//!
//! In: how long, and whether to keep the machine busy meanwhile. Out: [`Measured`]. The engine
//! thread and the scheduler play the song like any other, into a port that notes when each message
//! was due and when it was handed over. In the same run a bare thread that only sleeps wakes as
//! often as the song has deadlines: it shows the best the machine can do.

mod busy;
mod figures;
mod floor;
mod load;
mod loopback;

pub use figures::{EVEN, Figures, Verdict};
pub use loopback::{Loopback, LoopbackRun, RoundTrips, Trips};

use crate::ports::Outs;
use crate::{Out, PortSpec, Rig, RigConfig};
use chaconne_engine::{Command, Transport};
use chaconne_ports::{Captured, Output, Spin, Urgency, now};
use chaconne_time::Ns;
use floor::BareTimer;
use load::Load;
use std::thread;
use std::time::{Duration, Instant};

/// How often the port's records are read.
const LOOK: Duration = Duration::from_millis(20);
/// How many messages fit between two reads: a minute of the song.
const PLACES: usize = 65_536;
/// How long the transport may take to start.
const START: Duration = Duration::from_secs(5);

/// What to measure.
#[derive(Debug, Clone, Copy)]
pub struct Timing {
    /// How many seconds of the song to play, 1 to 3600.
    pub seconds: u32,
    /// Whether to keep every core busy meanwhile, at ordinary priority.
    pub load: bool,
    /// How long the scheduler may look at the clock instead of sleeping.
    pub spin: Spin,
}

/// What was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The seconds asked for.
    pub asked: u32,
    /// How long the song was played, in nanoseconds.
    pub lasted: Ns,
    /// Whether the song played to its end.
    pub whole: bool,
    /// How many threads kept the cores busy; 0 without load.
    pub busy: usize,
    /// How many distinct deadlines per second the song has; the bare timer wakes as often.
    pub deadlines: u32,
    /// How late the clock pulses were handed over.
    pub pulses: Figures,
    /// How late the presses of notes were handed over.
    pub notes: Figures,
    /// How late the bare timer woke.
    pub timer: Figures,
    /// Messages missing from the figures, because the records were not read in time.
    pub missed: u64,
    /// What the system granted the scheduler.
    pub urgency: Urgency,
}

impl Measured {
    /// The verdict; `None` if it ended before anything was played.
    pub fn verdict(&self) -> Option<Verdict> {
        let any = self.pulses.count + self.notes.count > 0;
        any.then(|| Verdict::of(self.pulses.p999.max(self.notes.p999)))
    }
}

/// A measurement under way.
#[derive(Debug)]
pub struct TimingRun {
    timing: Timing,
    deadlines: u32,
    rig: Rig,
    captured: Captured,
    late: Late,
}

/// The lateness of every message handed over so far.
#[derive(Debug, Default)]
struct Late {
    pulses: Vec<Ns>,
    notes: Vec<Ns>,
}

impl Timing {
    /// Starts all threads, but does not play yet.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(self) -> Result<TimingRun, String> {
        let (output, captured) = Output::capture(PLACES);
        let out = Out { clock: Some(true), ..Out::plain("", PortSpec::None) };
        let (outs, _) = Outs::open(&[out], None)?;
        let config = RigConfig { spin: self.spin, ..RigConfig::default() };
        let song = busy::song().map_err(|error| error.to_string())?;
        let deadlines = busy::deadlines(&song);
        let rig = Rig::start_on(song, config, outs, vec![output])?;
        Ok(TimingRun { timing: self, deadlines, rig, captured, late: Late::default() })
    }
}

impl TimingRun {
    /// The rig that plays.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// Plays to the end of the song, or until `goes_on` returns `false`, and measures.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn measure(mut self, mut goes_on: impl FnMut(&Rig) -> bool) -> Result<Measured, String> {
        let load = if self.timing.load { Load::start() } else { Load::none() };
        let route = busy::route(self.timing.seconds);
        self.rig
            .command_and_wait(Command::PlayRoute(route))
            .map_err(|refused| refused.to_string())?;
        let asked = Instant::now();
        let rolls = |rig: &Rig| rig.status().transport != Transport::Stopped;
        while !rolls(&self.rig) && asked.elapsed() < START && goes_on(&self.rig) {
            thread::sleep(Duration::from_millis(1));
        }
        let (timer, start) = (BareTimer::start(self.deadlines, self.timing.seconds)?, now());
        let mut stopped = false;
        while !stopped && goes_on(&self.rig) {
            thread::sleep(LOOK);
            stopped = !rolls(&self.rig);
            self.late.read(&mut self.captured);
        }
        let (lasted, timer, busy) = (now() - start, timer.stop(), load.stop());
        let urgency = self.rig.snapshot().stats.urgency;
        self.rig.shutdown();
        self.late.read(&mut self.captured);
        let full = Ns::from(self.timing.seconds) * 1_000_000_000;
        let pulses = self.timing.seconds as usize * busy::PULSES_PER_SECOND;
        let whole = stopped && self.late.pulses.len() == pulses;
        Ok(Measured {
            asked: self.timing.seconds,
            lasted: if whole { full } else { lasted.min(full) },
            whole,
            busy,
            deadlines: self.deadlines,
            pulses: Figures::of(self.late.pulses),
            notes: Figures::of(self.late.notes),
            timer: Figures::of(timer),
            missed: self.captured.missed(),
            urgency,
        })
    }
}

impl Late {
    fn read(&mut self, captured: &mut Captured) {
        for handed in captured.take() {
            let late = handed.at - handed.due;
            match handed.bytes {
                [0xF8, ..] => self.pulses.push(late),
                [0x90..=0x9F, _, 1..=127] => self.notes.push(late),
                _ => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_of_the_song_is_measured_to_the_last_pulse_and_note() {
        let timing = Timing { seconds: 1, load: true, spin: Spin::default() };
        let measured = timing.start().unwrap().measure(|_| true).unwrap();
        assert!(measured.whole);
        assert_eq!((measured.lasted, measured.missed), (1_000_000_000, 0));
        // 240 quarters a minute, 24 pulses each (MIDI 1.0 Detailed Specification, "Timing
        // Clock"); 16 parts of sixteenths.
        assert_eq!((measured.pulses.count, measured.notes.count), (96, 256));
        assert!(measured.timer.count > 0 && measured.busy > 0);
    }

    #[test]
    fn a_measurement_ended_early_reports_what_it_has() {
        let run = Timing { seconds: 3600, load: false, spin: Spin::NEVER }.start().unwrap();
        let measured = run.measure(|rig| rig.snapshot().stats.pulses.count < 10).unwrap();
        assert!(!measured.whole && measured.lasted < 3_600_000_000_000);
        assert!((10..345_600).contains(&measured.pulses.count));
    }
}
