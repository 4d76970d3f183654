//! Laying a take in real time: the same performance through the live input, on real ports.
//!
//! In: a take, and a rig that stands still with the plan's song. Out: what was laid. Each message
//! is played when it is due and stamped with the moment it was due at, so what is recorded is the
//! take to the tick, however late its thread woke.

use crate::keys::Keys;
use crate::lay::{HowToLay, Laid, LayError, Plan, input};
use crate::{Rig, RigConfig, RoundCount, RoundStart};
use chaconne_clock::now;
use chaconne_engine::{Command, Status, Transport};
use chaconne_exchange::{Take, TakeEvent};
use chaconne_song::Song;
use chaconne_time::{Ns, Tick};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::Duration;

/// How often the rounds are looked at.
const LOOK: Duration = Duration::from_millis(5);
/// How often it is asked when the next message is due, and the longest wait for it in one piece.
const ASK: Duration = Duration::from_millis(20);
/// How long after its seam a round is closed here: nobody waits for it, and a machine that stalls
/// must not cost a note.
const GRACE: Ns = 80_000_000;

/// A take to be laid on the real clock.
#[derive(Debug, Clone)]
pub struct LiveLay {
    plan: Plan,
    /// Where recording is ended: a little after its seam, within a beat of it.
    off: Tick,
    /// The length of the section.
    length: Tick,
}

impl LiveLay {
    /// Finds the section, finds or makes the track, and reckons where recording ends.
    ///
    /// # Errors
    /// Where the section is not there, or the take is empty.
    pub fn new(song: &Song, take: &Take, how: &HowToLay) -> Result<LiveLay, LayError> {
        let plan = Plan::new(song, take, how)?;
        let section = plan.song.section(plan.section);
        let length = section.map_or(Tick(1), |section| section.length());
        let beat = section.map_or(Tick(2), |section| section.metre.first().beat());
        Ok(LiveLay { off: plan.end + Tick(beat.0 / 2), length, plan })
    }

    /// Starts a rig for it: the song with the track that is laid on, and rounds that are closed
    /// late enough for a machine under load.
    ///
    /// # Errors
    /// As [`Rig::start`].
    pub fn rig(&self, config: RigConfig) -> Result<Rig, String> {
        Rig::start(self.plan.song.clone(), RigConfig { grace: GRACE, ..config })
    }

    /// Plays the take into the recorder, then `more` rounds in which the new passes are heard,
    /// and stops. At each look, a few milliseconds apart, `look` is told of a round that has
    /// begun; where it says no, playing ends early, and what was recorded by then is kept.
    ///
    /// # Errors
    /// The engine's refusal, before anything is played.
    pub fn play(
        self,
        rig: &Rig,
        more: u32,
        mut look: impl FnMut(Option<RoundStart>) -> bool,
    ) -> Result<Laid, LayError> {
        for command in self.plan.commands() {
            rig.command(command)?;
        }
        let last = self.plan.events.last().map_or(Tick::ZERO, |event| event.at + Tick(1));
        let end = (self.plan.end + self.length * i64::from(more)).max(self.off).max(last);
        let (over, keys) = (AtomicBool::new(false), rig.keys());
        let (over, events) = (&over, &self.plan.events);
        thread::scope(|scope| {
            scope.spawn(move || feed(&keys, events, over));
            self.watch(rig, end, &mut look);
            over.store(true, Relaxed);
        });
        // Stopping is never refused; it keeps what was recorded of an unfinished round.
        rig.command(Command::Stop)?;
        Ok(self.plan.laid(Arc::clone(&rig.status().song)))
    }

    /// Looks on until the end, and ends recording when it is time.
    fn watch(&self, rig: &Rig, end: Tick, look: &mut impl FnMut(Option<RoundStart>) -> bool) {
        let mut count = RoundCount::default();
        let mut recording = true;
        loop {
            let status = rig.status();
            if has_stopped(&status) || !look(count.follow(&status)) {
                return;
            }
            if recording && status.at >= self.off {
                // Ending a go is never refused.
                let _ = rig.command(Command::Record(false));
                recording = false;
            }
            if status.at >= end {
                return;
            }
            thread::sleep(LOOK);
        }
    }
}

fn has_stopped(status: &Status) -> bool {
    status.transport == Transport::Stopped
}

/// Plays events when they are due, until all are played or it is over.
fn feed(keys: &Keys, events: &[TakeEvent], over: &AtomicBool) {
    for event in events {
        let due = loop {
            if over.load(Relaxed) {
                return;
            }
            match keys.when(event.at) {
                Some(due) => break due,
                None => thread::sleep(ASK),
            }
        };
        loop {
            let left = due - now();
            if left <= 0 {
                break;
            }
            if over.load(Relaxed) {
                return;
            }
            thread::sleep(Duration::from_nanos(left as u64).min(ASK));
        }
        keys.play(due, input(&event.wire));
    }
}
