//! Following another device's clock, the leader's: it starts and stops the transport, and the tempo
//! follows its pulses.
//!
//! In: [`Lead`]s, already counted and smoothed. Out: runs that begin and end with the leader, and tempi
//! that bring the timeline onto the leader's line within about half a beat. The timeline never jumps
//! and never goes back: a new tempo starts just ahead of the present, so that past inputs keep their
//! ticks and queued events move along.

use super::position::{Parked, Spot, sixteenth};
use super::run::{Departure, Leads};
use super::{Engine, Refused};
use crate::lead::tempo_of;
use crate::{Followed, Lead, LeaderClock, Line, Message, OnLoss, Order, Route};
use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick, pulse};

/// How far ahead the timeline aims at the leader's line: a sixteenth. The aim is set again at each of
/// its six pulses, so each takes away a sixth of a difference, and after half a beat a ninth is left.
const AIM: Tick = Tick(240);

/// What is known of the clock that is followed.
#[derive(Debug, Clone, Default)]
pub(super) struct Leader {
    clock: LeaderClock,
    /// The length of its quarter in nanoseconds.
    quarter: Option<Ns>,
    /// What its next start plays; the section shown if `None`.
    pub route: Option<Route>,
}

impl Leader {
    /// Whether its pulses come.
    fn is_present(&self) -> bool {
        matches!(self.clock, LeaderClock::Locking | LeaderClock::Locked)
    }

    fn hear(&mut self, line: &Line) {
        self.clock = if line.locked { LeaderClock::Locked } else { LeaderClock::Locking };
        self.quarter = Some(line.quarter);
    }
}

impl Engine {
    /// Takes news from the clock that is followed; `now` is the present moment. Does nothing if the
    /// engine was not set up to follow a clock.
    pub fn lead(&mut self, now: Ns, lead: Lead) {
        let Some(leader) = &mut self.leader else { return };
        match lead {
            Lead::Idle(line) => {
                let was_lost = leader.clock == LeaderClock::Lost;
                leader.hear(&line);
                if was_lost {
                    self.say(format!("{} is back: start it there", self.leader_name()));
                }
            }
            Lead::Pulse(line) => {
                let was_lost = leader.clock == LeaderClock::Lost;
                leader.hear(&line);
                if self.is_led() {
                    self.steer(now, &line);
                    if was_lost {
                        self.say(format!("{} is back", self.leader_name()));
                    }
                } else if was_lost {
                    self.say(format!("{} is back: start it there", self.leader_name()));
                }
            }
            Lead::Roll { pulse, ns, quarter } => self.roll_with_leader(pulse, ns, quarter),
            Lead::Locate { pulse } => self.locate_with_leader(pulse),
            Lead::Stop { ns } => {
                if self.is_led() {
                    self.catch_up(ns);
                    // Stopping is never refused.
                    let _ = self.stop(ns);
                    self.say(format!("{} has stopped", self.leader_name()));
                }
            }
            Lead::Lost => self.lose_leader(now),
        }
        self.recorders_update(now);
    }

    /// After a stop by hand while the leader is lost: replaces the sentence that it is going on.
    pub(super) fn say_still_lost(&mut self) {
        if self.leader.as_ref().is_some_and(|leader| leader.clock == LeaderClock::Lost) {
            self.say(format!("stopped; {} is still lost", self.leader_name()));
        }
    }

    /// After a start by hand while the leader is lost: replaces the sentence that says to start here.
    pub(super) fn say_own_tempo(&mut self) {
        if self.leader.as_ref().is_some_and(|leader| leader.clock == LeaderClock::Lost) {
            let name = self.leader_name();
            self.say(format!("{name} is still lost: playing at the song's own tempo"));
        }
    }

    /// The clock that is followed, as a phrase for a sentence.
    pub(super) fn leader_name(&self) -> String {
        let name = self.config.follow.as_ref().map_or("", |follow| &follow.name);
        format!("the clock of '{name}'")
    }

    /// Refuses a start by hand while the leader's pulses come: the leader starts the transport.
    pub(super) fn refuse_if_led(&self) -> Result<(), Refused> {
        if self.leader.as_ref().is_some_and(Leader::is_present) {
            return Err(Refused(format!("{} leads: start it there", self.leader_name())));
        }
        Ok(())
    }

    /// Refuses to begin at a place of the player's choice while a clock is followed and not lost.
    pub(super) fn refuse_if_followed(&self) -> Result<(), Refused> {
        if self.leader.as_ref().is_some_and(|leader| leader.clock != LeaderClock::Lost) {
            let name = self.leader_name();
            return Err(Refused(format!("{name} is followed: it sets the position")));
        }
        Ok(())
    }

    /// Starts recording; while stopped and following a clock, waits for the leader's start.
    pub(super) fn start_recording(&mut self, now: Ns) -> Result<(), Refused> {
        let waits = !self.transport.rolls() && self.armed.track().is_some();
        let name = self.leader_name();
        match &self.leader {
            Some(leader) if waits && leader.clock != LeaderClock::Lost => {
                self.recorder.wait();
                self.say(format!("recording begins with the start of {name}"));
                Ok(())
            }
            _ => {
                let was_stopped = !self.transport.rolls();
                self.record_on(now)?;
                if was_stopped {
                    self.say_own_tempo();
                }
                Ok(())
            }
        }
    }

    /// Stops recording, even if it has not begun yet.
    pub(super) fn stop_recording(&mut self, now: Ns) -> Result<(), Refused> {
        let counts_in =
            self.recorder.takes() && self.tick_at(now).is_some_and(|at| self.counts_in(at));
        self.stop_waiting();
        self.record_off(now)?;
        if counts_in {
            self.say("recording cancelled: the song plays after the count-in".into());
        }
        Ok(())
    }

    /// No longer begins to record at the leader's start.
    pub(super) fn stop_waiting(&mut self) {
        if self.recorder.waits() {
            self.recorder.end();
        }
    }

    /// Begins to record if recording waited for this start.
    pub(super) fn record_if_waiting(&mut self, now: Ns) -> Result<(), Refused> {
        if !self.record_waits() {
            return Ok(());
        }
        self.stop_waiting();
        self.record_on(now)
    }

    pub(super) fn record_waits(&self) -> bool {
        self.recorder.waits()
    }

    /// The leader's tempo to a tenth of a quarter note per minute, if it sets the transport's.
    pub(super) fn leader_tempo(&self) -> Option<Tempo> {
        let quarter = self.leader.as_ref()?.quarter.filter(|_| self.is_led())?;
        Some(to_a_tenth(tempo_of(quarter)))
    }

    fn is_led(&self) -> bool {
        self.transport.run().is_some_and(|run| run.leads == Leads::Clock)
    }

    /// The clock that is followed, for the status.
    pub(super) fn followed(&self) -> Option<Followed> {
        let (follow, leader) = (self.config.follow.as_ref()?, self.leader.as_ref()?);
        Some(Followed {
            name: follow.name.clone(),
            clock: leader.clock,
            tempo: leader.quarter.map(tempo_of),
            leads: self.is_led(),
            record_waits: self.recorder.waits(),
        })
    }

    /// Starts with the leader, from a pulse that fell at `ns`.
    fn roll_with_leader(&mut self, pulse: i64, ns: Ns, quarter: Option<Ns>) {
        if self.transport.rolls() {
            // A start while rolling starts over: what was recorded so far is kept, and recording goes
            // on from the new start.
            let records = self.recorder.takes();
            self.catch_up(ns);
            let _ = self.record_off(ns);
            self.halt(ns, None);
            if records {
                self.recorder.wait();
            }
        }
        let at = pulse::tick_of(pulse.max(0));
        let beginning = Spot::on(&self.song, self.leader_route(), at);
        let departure = match self.departure(beginning, ns, 0) {
            Ok(departure) => departure,
            Err(refused) => return self.say(refused.0),
        };
        if let Some(leader) = &mut self.leader {
            leader.quarter = quarter.or(leader.quarter);
            if !leader.is_present() {
                leader.clock = LeaderClock::Locking;
            }
        }
        let start = departure.start;
        let tempo = quarter.map_or(departure.tempo, tempo_of);
        self.latest = self.latest.max(ns);
        self.depart(Departure { tempo, leads: Leads::Clock, ..departure });
        self.announce(start, if pulse == 0 { Message::Start } else { Message::Continue });
        match self.record_if_waiting(ns) {
            Ok(()) => self.say(format!("{} leads", self.leader_name())),
            Err(refused) => self.say(refused.0),
        }
    }

    /// What the leader's start plays.
    fn leader_route(&self) -> Route {
        let route = self.leader.as_ref().and_then(|leader| leader.route.clone());
        let route = route.filter(|route| {
            route.entries.iter().all(|entry| self.section(entry.section).is_some())
        });
        route.unwrap_or_else(|| Route::open(self.shown))
    }

    /// Goes with the leader to a position while stopped.
    fn locate_with_leader(&mut self, pulse: i64) {
        if !self.transport.rolls() {
            let at = sixteenth(pulse::tick_of(pulse));
            let spot = Spot::on(&self.song, self.leader_route(), at);
            self.park((at > Tick::ZERO).then_some(Parked { spot, chosen: false }));
            self.recorders_locate();
        }
    }

    /// The leader is lost: keeps the last tempo, or stops, and says which.
    fn lose_leader(&mut self, now: Ns) {
        let Some(leader) = &mut self.leader else { return };
        leader.clock = LeaderClock::Lost;
        let quarter = leader.quarter;
        if !self.transport.rolls() {
            return self.say_lost();
        }
        if !self.is_led() {
            return;
        }
        let (name, tempo) = (self.leader_name(), quarter.map(tempo_of));
        match self.config.follow.as_ref().map(|follow| follow.on_loss) {
            Some(OnLoss::Stop) => {
                self.catch_up(now);
                let _ = self.stop(now);
                self.say(format!("{name} is lost: playback stopped"));
            }
            _ => {
                if let Some(tempo) = tempo {
                    self.set_leader_tempo(now, tempo);
                }
                let bpm = self.leader_tempo().map_or(String::new(), |tempo| format!(" at {tempo}"));
                self.say(format!("{name} is lost: playing on{bpm}"));
            }
        }
    }

    /// Says that the leader was lost while stopped, and what a start does now.
    fn say_lost(&mut self) {
        let (name, waits) = (self.leader_name(), self.record_waits());
        let routed = self.leader.as_ref().is_some_and(|leader| leader.route.is_some());
        self.say(match (waits, routed) {
            (true, _) => format!("{name} is lost: recording begins with a start, here or there"),
            (false, true) => format!("{name} is lost: still waiting for its start"),
            (false, false) => format!("{name} is lost: start it here, at the song's own tempo"),
        });
    }

    /// Steers the timeline onto the leader's line.
    fn steer(&mut self, now: Ns, line: &Line) {
        let Some(run) = self.transport.run() else { return };
        let at = self.next_tick(now);
        let span = line.ns_at(at + AIM) - run.timeline.ns_at(at);
        let quarter = i128::from(span) * i128::from(TICKS_PER_QUARTER) / i128::from(AIM.0);
        // To catch up, the tempo is at most twice and at least half the leader's.
        let (least, most) = (i128::from(line.quarter / 2), i128::from(line.quarter * 2));
        self.set_leader_tempo(now, tempo_of(quarter.clamp(least, most) as Ns));
    }

    /// Sets the tempo from the next tick on.
    fn set_leader_tempo(&mut self, now: Ns, tempo: Tempo) {
        let at = self.next_tick(now);
        let Some(run) = self.transport.run_mut() else { return };
        if run.timeline.tempo_at(at) != tempo {
            run.timeline.push(at, tempo);
            self.orders.push_back(Order::Tempo { at, tempo });
        }
    }

    /// The first tick whose cues cannot have been sent yet.
    pub(super) fn next_tick(&self, now: Ns) -> Tick {
        let Some(run) = self.transport.run() else { return Tick::ZERO };
        (run.timeline.tick_at(now.max(self.latest)) + Tick(1)).max(run.start)
    }
}

/// A tempo to a tenth of a quarter note per minute, as it is shown where it is never still.
pub(super) fn to_a_tenth(tempo: Tempo) -> Tempo {
    let tenths = (tempo.milli_bpm() + 50) / 100;
    Tempo::from_milli_bpm(tenths * 100).unwrap_or(tempo)
}
