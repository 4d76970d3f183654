//! Following another's clock: the transport is the master's, and the timeline is steered along
//! its pulses.
//!
//! In: [`Lead`]s, already counted and evened out. Out: runs that begin and end with the master,
//! and tempi that bring the timeline onto the master's line within about half a beat. The
//! timeline never jumps and never goes back: a tempo is pushed just ahead of the present, so
//! that what was stamped before keeps its tick, and what is queued moves with it.

use super::position::{Parked, sixteenth};
use super::{Engine, Refused};
use crate::lead::tempo_of;
use crate::{Followed, Lead, Line, MasterClock, Message, OnLoss, Order, Route};
use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick, pulse};

/// How far ahead the timeline aims at the master's line: a quarter of a beat of four. It is
/// reckoned anew at each pulse, so that of a difference a seventh is left after half a beat.
const AIM: Tick = Tick(240);

/// What is known of the clock that is followed.
#[derive(Debug, Clone, Default)]
pub(super) struct Leader {
    clock: MasterClock,
    /// How long a quarter lasts there, nanoseconds.
    quarter: Option<Ns>,
    /// What its next start plays; the shown section where there is none.
    pub route: Option<Route>,
}

impl Leader {
    fn is_there(&self) -> bool {
        matches!(self.clock, MasterClock::Locking | MasterClock::Locked)
    }

    fn hear(&mut self, line: &Line) {
        self.clock = if line.locked { MasterClock::Locked } else { MasterClock::Locking };
        self.quarter = Some(line.quarter);
    }
}

impl Engine {
    /// Takes what the followed clock says; `now` is the present moment. Nothing happens where
    /// the engine was not set up to follow.
    pub fn lead(&mut self, now: Ns, lead: Lead) {
        let Some(leader) = &mut self.leader else { return };
        match lead {
            Lead::Idle(line) => {
                let was_lost = leader.clock == MasterClock::Lost;
                leader.hear(&line);
                if was_lost {
                    self.say(format!("{} is back: it can be started there", self.leader_name()));
                }
            }
            Lead::Pulse(line) => {
                let was_lost = leader.clock == MasterClock::Lost;
                leader.hear(&line);
                if self.transport.run().is_some_and(|run| run.led) {
                    self.steer(now, &line);
                    if was_lost {
                        self.say(format!("{} is back", self.leader_name()));
                    }
                } else if was_lost {
                    self.say(format!("{} is back: it can be started there", self.leader_name()));
                }
            }
            Lead::Roll { pulse, ns, quarter } => self.roll_led(pulse, ns, quarter),
            Lead::Locate { pulse } => self.locate_led(pulse),
            Lead::Stop { ns } => {
                if self.transport.run().is_some_and(|run| run.led) {
                    self.catch_up(ns);
                    // Stopping is never refused.
                    let _ = self.stop(ns);
                    self.say(format!("{} has stopped", self.leader_name()));
                }
            }
            Lead::Lost => self.lose_leader(now),
        }
        self.recorders_follow(now);
    }

    /// After a stop by hand: what was last said, that it goes on, is no longer so.
    pub(super) fn tell_still_lost(&mut self) {
        if self.leader.as_ref().is_some_and(|leader| leader.clock == MasterClock::Lost) {
            self.say(format!("stopped; {} is still lost", self.leader_name()));
        }
    }

    /// After a start by hand: that one can be made, as was said when the clock was lost, is no news
    /// any more.
    pub(super) fn tell_alone(&mut self) {
        if self.leader.as_ref().is_some_and(|leader| leader.clock == MasterClock::Lost) {
            let name = self.leader_name();
            self.say(format!("{name} is still lost: going at the song's own tempo"));
        }
    }

    /// What the clock that is followed is called in a sentence.
    pub(super) fn leader_name(&self) -> String {
        let name = self.config.follow.as_ref().map_or("", |follow| &follow.name);
        format!("the clock of '{name}'")
    }

    /// Refuses what is the master's to do while its clock is there.
    pub(super) fn not_led(&self) -> Result<(), Refused> {
        if self.leader.as_ref().is_some_and(Leader::is_there) {
            return Err(Refused(format!("{} leads: start it there", self.leader_name())));
        }
        Ok(())
    }

    /// Record on: where a clock is followed and nothing rolls, with the master's start.
    pub(super) fn record_when_due(&mut self, now: Ns) -> Result<(), Refused> {
        let waits = !self.transport.rolls() && self.armed.track().is_some();
        let name = self.leader_name();
        match &self.leader {
            Some(leader) if waits && leader.clock != MasterClock::Lost => {
                self.recorder.wait();
                self.say(format!("recording begins with the start of {name}"));
                Ok(())
            }
            _ => {
                let stood = !self.transport.rolls();
                self.record_on(now)?;
                if stood {
                    self.tell_alone();
                }
                Ok(())
            }
        }
    }

    /// Record off, also before it has begun.
    pub(super) fn record_no_more(&mut self, now: Ns) -> Result<(), Refused> {
        self.wait_no_more();
        self.record_off(now)
    }

    /// Recording does not wait for a start any more.
    pub(super) fn wait_no_more(&mut self) {
        if self.recorder.waits() {
            self.recorder.end();
        }
    }

    /// Recording that waited for a start begins.
    pub(super) fn record_if_waiting(&mut self, now: Ns) -> Result<(), Refused> {
        if !self.record_waits() {
            return Ok(());
        }
        self.wait_no_more();
        self.record_on(now)
    }

    pub(super) fn record_waits(&self) -> bool {
        self.recorder.waits()
    }

    /// The master's tempo, to a tenth of a beat a minute, where the transport goes by it.
    pub(super) fn tempo_led(&self) -> Option<Tempo> {
        let quarter = self.leader.as_ref()?.quarter.filter(|_| self.is_led())?;
        let tenths = (tempo_of(quarter).milli_bpm() + 50) / 100;
        Some(Tempo::from_milli_bpm(tenths * 100).unwrap_or(tempo_of(quarter)))
    }

    fn is_led(&self) -> bool {
        self.transport.run().is_some_and(|run| run.led)
    }

    /// What the status tells of the clock that is followed.
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

    /// Rolls from a pulse that fell at `ns`.
    fn roll_led(&mut self, pulse: i64, ns: Ns, quarter: Option<Ns>) {
        if self.transport.rolls() {
            // A start while it rolls begins again; what was recorded so far is kept, and recording goes
            // on from the new beginning.
            let records = self.recorder.takes();
            self.catch_up(ns);
            let _ = self.record_off(ns);
            self.halt(ns, None);
            if records {
                self.recorder.wait();
            }
        }
        let parked = Parked { at: pulse::tick_of(pulse.max(0)), entries: self.route_led().entries };
        let departure = match self.departure(parked, ns) {
            Ok(departure) => departure,
            Err(refused) => return self.say(refused.0),
        };
        if let Some(leader) = &mut self.leader {
            leader.quarter = quarter.or(leader.quarter);
            if !leader.is_there() {
                leader.clock = MasterClock::Locking;
            }
        }
        let start = departure.start;
        let tempo = quarter.map_or(departure.tempo, tempo_of);
        self.latest = self.latest.max(ns);
        self.depart(super::transport::Departure { tempo, led: true, ..departure });
        self.announce(start, if pulse == 0 { Message::Start } else { Message::Continue });
        match self.record_if_waiting(ns) {
            Ok(()) => self.say(format!("{} leads", self.leader_name())),
            Err(refused) => self.say(refused.0),
        }
    }

    /// What the master's start plays.
    fn route_led(&self) -> Route {
        let route = self.leader.as_ref().and_then(|leader| leader.route.clone());
        let route = route.filter(|route| {
            route.entries.iter().all(|entry| self.section(entry.section).is_some())
        });
        route.unwrap_or_else(|| Route::open(self.shown))
    }

    /// The master has taken a position while stopped.
    fn locate_led(&mut self, pulse: i64) {
        if !self.transport.rolls() {
            let (at, entries) = (sixteenth(pulse::tick_of(pulse)), self.route_led().entries);
            self.park((at > Tick::ZERO).then_some(Parked { at, entries }));
            self.recorders_locate();
        }
    }

    /// No pulse comes any more: keeps the last tempo, or stops, and says which.
    fn lose_leader(&mut self, now: Ns) {
        let Some(leader) = &mut self.leader else { return };
        leader.clock = MasterClock::Lost;
        let quarter = leader.quarter;
        if !self.transport.rolls() {
            return self.tell_lost();
        }
        if !self.is_led() {
            return;
        }
        let (name, tempo) = (self.leader_name(), quarter.map(tempo_of));
        match self.config.follow.as_ref().map(|follow| follow.on_loss) {
            Some(OnLoss::Stop) => {
                self.catch_up(now);
                let _ = self.stop(now);
                self.say(format!("{name} is lost: stopped"));
            }
            _ => {
                if let Some(tempo) = tempo {
                    self.bend(now, tempo);
                }
                let bpm = self.tempo_led().map_or(String::new(), |tempo| format!(" at {tempo}"));
                self.say(format!("{name} is lost: going on{bpm}"));
            }
        }
    }

    /// Says that no pulse comes any more while nothing rolls, and what a start does now.
    fn tell_lost(&mut self) {
        let (name, waits) = (self.leader_name(), self.record_waits());
        let routed = self.leader.as_ref().is_some_and(|leader| leader.route.is_some());
        self.say(match (waits, routed) {
            (true, _) => format!("{name} is lost: recording begins with a start, here or there"),
            (false, true) => format!("{name} is lost: still waiting for its start"),
            (false, false) => format!("{name} is lost: start it here, at the song's own tempo"),
        });
    }

    /// Steers the timeline onto the master's line.
    fn steer(&mut self, now: Ns, line: &Line) {
        let Some(run) = self.transport.run() else { return };
        let at = self.next_tick(now);
        let span = line.ns_at(at + AIM) - run.timeline.ns_at(at);
        let quarter = i128::from(span) * i128::from(TICKS_PER_QUARTER) / i128::from(AIM.0);
        // Twice or half the master's tempo is as much as is ever made up for.
        let (least, most) = (i128::from(line.quarter / 2), i128::from(line.quarter * 2));
        self.bend(now, tempo_of(quarter.clamp(least, most) as Ns));
    }

    /// From the next tick on the tempo is this.
    fn bend(&mut self, now: Ns, tempo: Tempo) {
        let at = self.next_tick(now);
        let Some(run) = self.transport.run_mut() else { return };
        if run.timeline.tempo_at(at) != tempo {
            run.timeline.push(at, tempo);
            self.orders.push_back(Order::Tempo { at, tempo });
        }
    }

    /// The first tick that is still to come.
    fn next_tick(&self, now: Ns) -> Tick {
        let Some(run) = self.transport.run() else { return Tick::ZERO };
        (run.timeline.tick_at(now.max(self.latest)) + Tick(1)).max(run.start)
    }
}
