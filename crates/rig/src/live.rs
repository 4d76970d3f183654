//! Laying a take in real time: the same performance through the live input, on real ports.
//!
//! In: a take, and a stopped rig with the plan's song. Out: the result. Each message is played when
//! it is due, and stamped with the time it was due at, so the recording matches the take to the
//! tick however late the thread wakes.

use crate::keys::Keys;
use crate::lay::{HowToLay, Laid, LayError, LayPlan, input};
use crate::{Rig, RigConfig, RoundCount, RoundStart};
use chaconne_engine::{Command, Transport};
use chaconne_exchange::{Take, TakeEvent};
use chaconne_ports::now;
use chaconne_song::Song;
use chaconne_time::{Ns, Tick};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::Duration;

/// How often the program checks for a new round.
const LOOK: Duration = Duration::from_millis(5);
/// How often to ask when the next message is due, and the longest sleep before it.
const ASK: Duration = Duration::from_millis(20);
/// How long after its seam a round is closed here, in nanoseconds. This is long because nobody
/// waits for it, and no note may be lost if the machine stalls.
const GRACE: Ns = 80_000_000;

/// A take to lay on the real clock.
#[derive(Debug, Clone)]
pub struct LiveLay {
    plan: LayPlan,
    /// Where recording stops: a little after the seam, within a beat.
    off: Tick,
    /// The length of the section.
    length: Tick,
}

impl LiveLay {
    /// Finds the section, finds or creates the track, and works out where recording ends.
    ///
    /// # Errors
    /// If the section does not exist, or the take is empty.
    pub fn new(song: &Song, take: &Take, how: &HowToLay) -> Result<LiveLay, LayError> {
        let plan = LayPlan::new(song, take, how)?;
        let section = plan.song.section(plan.section);
        let length = section.map_or(Tick(1), |section| section.length());
        let beat = section.map_or(Tick(2), |section| section.metre.first().beat());
        Ok(LiveLay { off: plan.end + Tick(beat.0 / 2), length, plan })
    }

    /// Starts a rig with the song and its track. Its rounds close late enough for a machine under
    /// load.
    ///
    /// # Errors
    /// As [`Rig::start`].
    pub fn rig(&self, config: RigConfig) -> Result<Rig, String> {
        Rig::start(self.plan.song.clone(), RigConfig { grace: GRACE, ..config })
    }

    /// Plays the take into the recorder, then `more` rounds with the new passes, and stops. Calls
    /// `look` every few milliseconds, with the round if a new one has started; if it returns false,
    /// playing stops early, and what was recorded by then is kept.
    ///
    /// # Errors
    /// The engine's refusal, before anything plays.
    pub fn play(
        self,
        rig: &Rig,
        more: u32,
        mut look: impl FnMut(Option<RoundStart>) -> bool,
    ) -> Result<Laid, LayError> {
        for command in self.plan.commands() {
            rig.command_and_wait(command)?;
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
        // Stop is never refused; it keeps an unfinished round.
        rig.command_and_wait(Command::Stop)?;
        Ok(self.plan.laid(Arc::clone(&rig.status().song)))
    }

    /// Watches until `end`, and stops recording on the way.
    fn watch(&self, rig: &Rig, end: Tick, look: &mut impl FnMut(Option<RoundStart>) -> bool) {
        let mut count = RoundCount::default();
        let mut recording = true;
        loop {
            let status = rig.status();
            let is_over = status.transport == Transport::Stopped || status.at >= end;
            if is_over || !look(count.follow(&status)) {
                return;
            }
            if recording && status.at >= self.off {
                // Ending a take is never refused.
                let _ = rig.command(Command::Record(false));
                recording = false;
            }
            thread::sleep(LOOK);
        }
    }
}

/// Plays events when they are due, until the last one or until `over`.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song;
    use chaconne_engine::{Message, Wire};
    use chaconne_song::{Channel, Edit, Letter, SectionEdit, U7};
    use chaconne_time::{Tempo, TempoMap};

    /// Notes at these ticks, 100 ticks long, each on a key of its own.
    fn take(starts: &[i64]) -> Take {
        let channel = Channel::default();
        let mut events = Vec::new();
        for (index, &at) in starts.iter().enumerate() {
            let (key, velocity) = (U7::low_bits(40 + index as u8), U7::low_bits(90));
            let on = Message::NoteOn { channel, key, velocity };
            let off = Message::NoteOff { channel, key, velocity: U7::CENTRE };
            events.push(TakeEvent { at: Tick(at), wire: Wire::Message(on) });
            events.push(TakeEvent { at: Tick(at + 100), wire: Wire::Message(off) });
        }
        events.sort_by_key(|event| event.at);
        let length = events.last().map_or(Tick::ZERO, |event| event.at);
        Take { events, length, tempo: Tempo::DEFAULT, remarks: Vec::new() }
    }

    #[test]
    fn the_real_clock_records_the_same_ticks_as_the_simulated_one() {
        // Two bars at 480 are a second. One note is early for the second round.
        let mut song = song("live", 2);
        let fast = TempoMap::new(Tempo::parse_bpm("480").unwrap());
        Edit::Section(Letter::A, SectionEdit::Tempo(fast)).apply(&mut song).unwrap();
        let take = take(&[0, 7, 961, 2403, 4000, 7600, 9001]);
        let how = HowToLay { track: "Lead".into(), ..HowToLay::default() };
        let lay = LiveLay::new(&song, &take, &how).unwrap();
        let rig = lay.rig(RigConfig::default()).unwrap();
        let mut rounds = Vec::new();
        let laid = lay.play(&rig, 1, |round| {
            rounds.extend(round.map(|round| round.number));
            true
        });
        let laid = laid.unwrap();
        assert_eq!(rig.shutdown().sounding, 0);
        assert_eq!(rounds, [1, 2, 3]);
        let simulated = crate::lay(&song, &take, &how).unwrap();
        let strokes = |laid: &Laid| -> Vec<Vec<_>> {
            let pass = |pass: &Arc<chaconne_song::Pass>| {
                pass.notes().iter().map(|note| note.played).collect()
            };
            laid.passes.iter().map(pass).collect()
        };
        assert_eq!(strokes(&laid), strokes(&simulated));
        assert_eq!(laid.passes.len(), 2);
    }

    #[test]
    fn a_take_that_ends_early_keeps_what_was_recorded() {
        let how = HowToLay { track: "Lead".into(), ..HowToLay::default() };
        let lay = LiveLay::new(&song("live", 4), &take(&[0, 7000]), &how).unwrap();
        let rig = lay.rig(RigConfig::default()).unwrap();
        let laid = lay.play(&rig, 0, |_| {
            rig.status().unfinished.as_ref().is_none_or(|pass| pass.notes().is_empty())
        });
        assert_eq!(laid.unwrap().notes(), 1);
        assert_eq!(rig.shutdown().sounding, 0);
    }
}
