//! The time led by hand: each beat that is given moves the song on by a step.
//!
//! In: the moments of beats, and how hard they were struck. Out: the timeline. The next step never comes before
//! its beat; what lies between two beats is played at the pace of those before. If a beat comes early, the rest of
//! its step is made up for at once.

use super::led::to_a_tenth;
use super::run::{Departure, Leads};
use super::{Engine, Refused};
use crate::hand::{Pace, as_loud_as};
use crate::lead::tempo_of;
use crate::{ByHand, HandStep, Order};
use chaconne_song::U7;
use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick};

/// Two beats closer together are one, as when a switch bounces: 50 ms.
const SHORTEST: Ns = 50_000_000;

/// The player who leads by hand.
#[derive(Debug, Clone)]
pub(super) struct Conductor {
    pub how: ByHand,
    /// When the last beat was given.
    last: Option<Ns>,
    pace: Pace,
    /// How hard the last beat was struck.
    struck: Option<U7>,
}

impl Engine {
    /// Leads by hand, or no longer.
    pub(super) fn lead_by_hand(&mut self, now: Ns, how: Option<ByHand>) -> Result<(), Refused> {
        if how.is_some() {
            self.refuse_if_led()?;
            self.refuse_if_followed()?;
        }
        match (how, &mut self.hand) {
            (Some(how), Some(hand)) => hand.how = how,
            (Some(how), None) => self.take_the_lead(now, how),
            (None, _) => self.end_the_lead(now),
        }
        if let Some(how) = how {
            self.say(String::from(match how.step {
                HandStep::QuarterBar => {
                    "led by hand: each tap is a quarter of a bar, and the song waits for it"
                }
                HandStep::Beat => "led by hand: each tap is a beat, and the song waits for it",
                HandStep::Bar => "led by hand: each tap is a bar, and the song waits for it",
            }));
        }
        self.keep_hold(now);
        Ok(())
    }

    /// Moves on to the next way of leading by hand; after the last one, no longer.
    pub(super) fn next_by_hand(&mut self, now: Ns) -> Result<(), Refused> {
        let how = self.hand.as_ref().map(|hand| hand.how);
        let loudness = how.is_some_and(|how| how.loudness);
        let step = match how.map(|how| how.step) {
            None => Some(HandStep::Beat),
            Some(HandStep::Beat) => Some(HandStep::Bar),
            Some(HandStep::Bar) => Some(HandStep::QuarterBar),
            Some(HandStep::QuarterBar) => None,
        };
        self.lead_by_hand(now, step.map(|step| ByHand { step, loudness }))
    }

    fn take_the_lead(&mut self, now: Ns, how: ByHand) {
        let at = self.next_tick(now);
        let tempo = self.song_tempo(at);
        self.hand = Some(Conductor { how, last: None, pace: Pace::steady(tempo), struck: None });
        if let Some(run) = self.transport.run_mut() {
            run.leads = Leads::Hand;
            run.passed = at;
            // The song's own tempi from there on no longer count.
            run.timeline.push(at, tempo);
            self.orders.push_back(Order::Tempo { at, tempo });
        }
    }

    fn end_the_lead(&mut self, now: Ns) {
        if self.hand.take().is_none() {
            return;
        }
        if let Some(run) = self.transport.run_mut() {
            run.leads = Leads::Song;
        }
        if let Some(at) = self.tick_at(now).map(|at| at + Tick(1)) {
            let tempo = self.song_tempo(at);
            if self.waits(now).is_some() {
                self.let_time_go(now, tempo);
            }
            self.retempo(at);
        }
        self.say("no longer led by hand: the song has its own tempo".into());
    }

    /// The song's tempo at a tick of the run; while stopped, where the section shown would begin.
    pub(super) fn song_tempo(&self, at: Tick) -> Tempo {
        let section = || self.section(self.shown).map(|section| section.tempo.first());
        let walked = self.walk().and_then(|walk| walk.tempo_at(at));
        walked.or_else(section).unwrap_or(Tempo::DEFAULT)
    }

    /// A start while the time is led by hand: it is held just before the music until the first beat.
    pub(super) fn wait_for_first_beat(&mut self, departure: Departure) -> Departure {
        let Some(hand) = &mut self.hand else { return departure };
        hand.pace = Pace::steady(departure.tempo);
        hand.last = None;
        // In the tick before it, instruments are set up.
        Departure { start: departure.music - Tick(1), leads: Leads::Hand, ..departure }
    }

    /// A beat that was given at `at`, a little before the present moment `now`.
    pub(super) fn give_beat(&mut self, now: Ns, at: Ns, struck: Option<U7>) -> Result<(), Refused> {
        let Some(hand) = &mut self.hand else { return Ok(()) };
        let stopped = || Refused("start the song first: then each beat moves it on".into());
        let run = self.transport.run().ok_or_else(stopped)?;
        let Some(hold) = run.hold else { return Ok(()) };
        let since = hand.last.map(|last| at - last);
        if since.is_some_and(|since| since.abs() < SHORTEST) {
            return Ok(());
        }
        if let Some(since) = since.filter(|_| run.passed >= run.music()) {
            hand.pace.take(since, hold - run.passed);
        }
        hand.last = Some(at);
        hand.struck = struck.filter(|_| hand.how.loudness);
        let (how, pace) = (hand.how, hand.pace);
        let waits = self.waits(now).is_some();
        if !waits {
            self.make_up_for(now, hold);
        }
        let lands = if waits { Some(now) } else { self.ns_at(hold) };
        let step = self.step_after(how.step, hold) - hold;
        let tempo = tempo_over(step, at, lands.unwrap_or(now), pace.quarter());
        if waits {
            self.let_time_go(now, tempo);
        } else if let Some(run) = self.transport.run_mut() {
            run.passed = hold;
            run.timeline.push(hold, tempo);
            self.orders.push_back(Order::Tempo { at: hold, tempo });
        }
        self.keep_hold(now);
        self.extend(now);
        Ok(())
    }

    /// Plays what is left before a beat that came early as fast as can be: half a beat takes 30 ms.
    fn make_up_for(&mut self, now: Ns, hold: Tick) {
        let at = self.next_tick(now);
        let Some(run) = self.transport.run_mut().filter(|_| at < hold) else { return };
        let tempo = Tempo::FASTEST;
        run.timeline.push(at, tempo);
        self.orders.push_back(Order::Tempo { at, tempo });
    }

    /// The tempo of the beats given, to a tenth of a quarter note per minute, while they lead the run.
    pub(super) fn hand_tempo(&self) -> Option<Tempo> {
        Some(to_a_tenth(tempo_of(self.leading_hand()?.pace.quarter())))
    }

    /// Who leads the run by hand; `None` if the song or another clock leads it.
    fn leading_hand(&self) -> Option<&Conductor> {
        let leads = self.transport.run().is_some_and(|run| run.leads == Leads::Hand);
        self.hand.as_ref().filter(|_| leads)
    }

    /// How loud a note sounds under the beat that was given last.
    pub(super) fn under_beat(&self, velocity: U7) -> U7 {
        let struck = self.leading_hand().and_then(|hand| hand.struck);
        struck.map_or(velocity, |struck| as_loud_as(velocity, struck))
    }
}

/// The tempo at which the next step ends when the next beat is expected: a pace after `at`, when the last one was
/// given. It begins at `lands`.
fn tempo_over(step: Tick, at: Ns, lands: Ns, quarter: Ns) -> Tempo {
    // After the last step there is none.
    let ticks = i128::from(step.0.clamp(1, Tick::MAX.0 / 2));
    let whole = i128::from(quarter) * ticks / i128::from(TICKS_PER_QUARTER);
    let span = (whole - i128::from(lands - at)).clamp(whole / 2, whole);
    tempo_of((span * i128::from(TICKS_PER_QUARTER) / ticks) as Ns)
}
