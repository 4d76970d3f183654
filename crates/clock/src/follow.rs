//! Follows another clock: turns pulses that arrive unevenly into an even line, and reports what the
//! leader does.
//!
//! In: Clock, Start, Continue, Stop and Song Position with the time at which each arrived
//! ([`Follower::handle`]), and the time every so often ([`Follower::poll`]). Out: [`Lead`]s
//! ([`Follower::next_event`]). It has no clock of its own and opens nothing.
//!
//! Start and Continue take effect at the next pulse, which is the position (MIDI 1.0, "System Real
//! Time"). Pulses that arrive while the transport is stopped already tune the filter, so it is in
//! step by the first beat.
//!
//! Pulses arrive early and late. Some are lost, some arrive twice, and when a machine stalls,
//! several arrive at once. Each arrival gets the number of the nearest pulse on the line, so that a
//! cable or a machine cannot shift the bars. If several intervals agree with one another but not
//! with the line, the leader has jumped to another tempo: the follower then counts each arrival
//! since the jump as one pulse, and fits a new line.

mod errors;
mod filter;
mod search;

use chaconne_engine::{Lead, Line};
use chaconne_midi::Message;
use chaconne_time::{Ns, pulse};
use errors::Errors;
use filter::{Filter, Gains, omega};
use search::Search;
use std::collections::VecDeque;

/// The shortest period: 1000 BPM.
const SHORTEST: f64 = 60e9 / 1000.0 / 24.0;
/// The longest period: 10 BPM.
const LONGEST: f64 = 60e9 / 10.0 / 24.0;
/// After this many periods without a pulse the clock is lost: four pulses are missing, and half the
/// time to the fifth is over (common practice; no source).
const GAP: f64 = 4.5;
/// A silence shorter than this, in nanoseconds, never counts as a lost clock: a machine under load
/// may stall for nearly as long.
const LEAST_GAP: f64 = 100e6;
/// After a silence of more periods than this the follower searches for a new line.
const STALE: f64 = 24.0;
/// How many pulses a new line needs before the follower uses it.
const ENOUGH: u32 = 8;
/// The bandwidth of the filter once it has settled, in Hz (common practice; no source: 0.25 to
/// 0.5 Hz).
const NARROW: f64 = 0.25;
/// Its highest turn per pulse when narrow, so that slow clocks settle in a few beats too.
const NARROW_TURN: f64 = 0.05;
/// From this pulse on (one quarter note) the follower trusts the line more than a stray pulse.
const TRUSTED: u32 = 24;
/// From this pulse on (three and a half quarter notes) the follower reports that it is locked.
const FOUND: u32 = 84;
/// How many arrivals are kept as evidence of a jump in tempo.
const WITNESSES: usize = 8;
/// How many intervals must agree with one another to prove a jump in tempo.
const LEAST_WITNESSES: usize = 5;

/// Follows a clock.
#[derive(Debug, Clone, Default)]
pub struct Follower {
    /// The time from which the filter's times are counted.
    origin: Ns,
    filter: Option<Filter>,
    /// The first arrivals, while the follower searches for the line.
    search: Option<Search>,
    errors: Errors,
    /// The age of the line, in pulses: the older it is, the narrower the filter.
    age: u32,
    /// How many pulses have arrived since the line began.
    since_begun: u32,
    locked: bool,
    /// When the last pulse arrived, unfiltered.
    raw: f64,
    /// The number of the last pulse.
    count: i64,
    /// The times of the last arrivals.
    witnesses: VecDeque<f64>,
    /// The number of the last pulse that arrived as expected, and how many have arrived since.
    anchor: (i64, i64),
    /// The period of the line at the anchor.
    home: f64,
    /// The line at the anchor, and the number of its last pulse.
    settled: Option<(Filter, i64)>,
    state: State,
    /// The pulse at which the music continues, while it is stopped or about to start.
    position: i64,
    lost: bool,
    events: VecDeque<Lead>,
}

/// What the leader does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum State {
    #[default]
    Stopped,
    Rolling,
    /// Start or Continue has arrived, and the next pulse is the position. True if it was rolling
    /// before.
    Armed(bool),
}

impl Follower {
    /// A follower that has heard nothing yet.
    pub fn new() -> Follower {
        Follower::default()
    }

    /// The next event to report, oldest first.
    pub fn next_event(&mut self) -> Option<Lead> {
        self.events.pop_front()
    }

    /// Takes a message that arrived at `stamp`; stamps must not decrease. Messages that are not about
    /// the clock are ignored.
    pub fn handle(&mut self, stamp: Ns, message: Message) {
        match message {
            Message::Clock => self.clock(stamp),
            Message::Start => {
                self.position = 0;
                self.arm();
            }
            Message::Continue if self.state == State::Stopped => self.arm(),
            Message::Stop => self.stop(stamp),
            Message::SongPosition(position) if self.state != State::Rolling => {
                self.position = i64::from(position.get()) * 6;
                self.events.push_back(Lead::Locate { pulse: self.position });
            }
            _ => {}
        }
    }

    /// Reports a lost clock if no pulse has arrived for too long.
    pub fn poll(&mut self, now: Ns) {
        if self.lost || (self.filter.is_none() && self.search.is_none()) {
            return;
        }
        let period = self.filter.map_or(LONGEST, |filter| filter.period);
        if self.since(now) - self.raw > (GAP * period).max(LEAST_GAP) {
            (self.lost, self.locked, self.search) = (true, false, None);
            self.events.push_back(Lead::Lost);
        }
    }

    fn arm(&mut self) {
        let rolled = matches!(self.state, State::Rolling | State::Armed(true));
        self.state = State::Armed(rolled);
    }

    fn stop(&mut self, stamp: Ns) {
        if self.state == State::Rolling {
            self.position = self.count + 1;
        }
        if matches!(self.state, State::Rolling | State::Armed(true)) {
            self.events.push_back(Lead::Stop { ns: stamp });
        }
        self.state = State::Stopped;
    }

    fn since(&self, stamp: Ns) -> f64 {
        (stamp - self.origin) as f64
    }

    fn ns(&self, at: f64) -> Ns {
        self.origin + at.round() as Ns
    }

    fn clock(&mut self, stamp: Ns) {
        self.poll(stamp);
        let armed = matches!(self.state, State::Armed(_));
        if let Some(search) = self.search.take() {
            return self.look(stamp, search, armed);
        }
        let Some(filter) = self.filter else { return self.first(stamp) };
        let at = self.since(stamp);
        if self.lost && at - self.raw > STALE * filter.period {
            return self.again(stamp, filter);
        }
        let steps = self.steps(at, &filter, armed);
        self.witness(at, steps, &filter);
        if steps > 0 {
            self.accept(at, steps, filter, armed);
        }
        self.recount();
        if steps > 0 {
            self.report(armed);
        }
    }

    /// Takes the first pulse after a long silence. The follower searches for a new line, and numbers
    /// its pulses by the old one, as if the leader had continued all the time.
    fn again(&mut self, stamp: Ns, filter: Filter) {
        let at = self.since(stamp);
        (self.lost, self.raw, self.age, self.since_begun) = (false, at, 1, 1);
        if matches!(self.state, State::Armed(_)) {
            self.count += 1;
            self.search = Some(Search::new(self.count, [at]));
            return self.begin(stamp, Some(quarter(filter.period)));
        }
        self.search = Some(Search::beside(filter, self.count, at));
    }

    /// Sets the anchor to the last pulse and the line through it.
    fn drop_anchor(&mut self) {
        self.anchor = (self.count, 0);
        self.home = self.filter.map_or(0.0, |filter| filter.period);
        self.settled = self.filter.map(|filter| (filter, self.count));
    }

    /// Takes the very first pulse, which does not give a period yet.
    fn first(&mut self, stamp: Ns) {
        self.origin = stamp;
        self.lost = false;
        self.count += 1;
        (self.age, self.raw) = (1, 0.0);
        self.search = Some(Search::new(self.count, [0.0]));
        if matches!(self.state, State::Armed(_)) {
            self.begin(stamp, None);
        }
    }

    /// Takes another pulse while the follower searches for the line.
    fn look(&mut self, stamp: Ns, mut search: Search, armed: bool) {
        let at = self.since(stamp);
        let before = self.count;
        search.push(at);
        self.raw = at;
        if !armed && let Some((filter, count)) = search.returns() {
            (self.filter, self.count) = (Some(filter), count);
            (self.age, self.since_begun) = (TRUSTED, FOUND);
            self.witnesses = VecDeque::from([at]);
            self.drop_anchor();
            return self.report(false);
        }
        if let Some(found) = search.found(SHORTEST, LONGEST)
            && (found.pulses >= ENOUGH || !search.has_known())
        {
            (self.filter, self.age) = (Some(found.filter), found.pulses);
            (self.count, self.since_begun) = (found.count, found.pulses);
        }
        if armed {
            // The music starts with the first pulse of the search.
            self.search = Some(Search::new(self.count, [at]));
            let quarter = self.filter.map(|filter| quarter(filter.period));
            return self.begin(stamp, quarter);
        }
        if !search.is_over() {
            self.search = Some(search);
        } else if self.filter.is_some() {
            self.errors = Errors::default();
            self.witnesses = VecDeque::from([at]);
            self.drop_anchor();
        } else {
            // No line was found: no clock is that fast or that slow.
            self.search = Some(Search::new(self.count, [at]));
        }
        if self.count != before {
            self.report(false);
        }
    }

    /// How many pulses after the last one this arrival is, according to the line; 0 if it repeats the
    /// last one. If a machine stalls, a late arrival is taken for a later pulse than it is, but those
    /// after it are on time again and get the right number.
    fn steps(&self, at: f64, filter: &Filter, armed: bool) -> i64 {
        let steps = ((at - filter.last) / filter.period).round() as i64;
        // The arrival after Start or Continue is the next pulse, however soon it comes.
        if armed { 1 } else { steps.max(0) }
    }

    /// Keeps the arrival as evidence. If it is near its place on the line, and one period after the
    /// arrival before it, it becomes the anchor.
    fn witness(&mut self, at: f64, steps: i64, filter: &Filter) {
        let interval = at - self.witnesses.back().copied().unwrap_or(at);
        if self.witnesses.len() == WITNESSES {
            self.witnesses.pop_front();
        }
        self.witnesses.push_back(at);
        let near = |off: f64| off.abs() < 0.06 * filter.period + 2.5 * self.errors.noise();
        if steps == 1 && near(interval - self.home) && near(at - filter.next) {
            (self.anchor, self.home) = ((self.count + 1, 0), filter.period);
            self.settled = Some((*filter, self.count));
        } else {
            self.anchor.1 += 1;
        }
    }

    /// Corrects the line by a pulse.
    fn accept(&mut self, at: f64, steps: i64, mut filter: Filter, armed: bool) {
        self.count += steps;
        self.raw = at;
        self.since_begun = self.since_begun.saturating_add(1);
        let mut error = at - filter.predicted(steps);
        let apart = error.abs() > (0.15 * filter.period).max(self.errors.most());
        self.lost = false;
        if armed && apart {
            // The leader restarts its beat, so the line starts here.
            filter.put(at);
            self.age = self.age.min(errors::SWERVING);
            self.errors.settle();
            self.witnesses = VecDeque::from([at]);
            (self.anchor, self.home) = ((self.count, 0), filter.period);
        } else {
            if !self.errors.lean() {
                self.age = self.age.saturating_add(1);
            }
            // If the last intervals disagree with one another, a machine stalled or a cable failed,
            // which says nothing about the tempo.
            let calm = self.is_calm();
            let most = 0.25 * filter.period;
            let most = if calm { most } else { most.min(self.errors.most()) };
            error = error.clamp(-most, most);
            self.errors.take(error);
            if self.since_begun > FOUND && calm {
                self.age = self.errors.age(self.age);
            }
            filter.take(error, steps, self.gains(filter.period));
        }
        filter.period = filter.period.clamp(SHORTEST, LONGEST);
        self.filter = Some(filter);
        self.locked |= self.since_begun >= FOUND;
    }

    /// Whether the last intervals agree with one another.
    fn is_calm(&self) -> bool {
        let Some(first) = self.witnesses.len().checked_sub(LEAST_WITNESSES + 1) else {
            return false;
        };
        let last: Vec<f64> = self.witnesses.range(first..).copied().collect();
        self.agree(&last)
    }

    /// Whether the intervals of these arrivals agree with one another, within the jitter.
    fn agree(&self, arrivals: &[f64]) -> bool {
        let (first, last) = (arrivals[0], arrivals[arrivals.len() - 1]);
        let mean = (last - first) / (arrivals.len() - 1) as f64;
        let close = 0.05 * mean + (3.0 * self.errors.noise()).min(0.2 * mean);
        arrivals.windows(2).all(|pair| (pair[1] - pair[0] - mean).abs() < close)
    }

    fn gains(&self, period: f64) -> Gains {
        let narrow = omega(NARROW, period).min(NARROW_TURN);
        Gains::of((6f64.sqrt() / f64::from(self.age)).max(narrow))
    }

    /// If the intervals since the anchor agree with one another but not with the line, fits a new line
    /// to them, and counts each arrival since the anchor as one pulse.
    fn recount(&mut self) {
        let count = (self.anchor.1.max(0) as usize).min(WITNESSES - 1);
        if count < LEAST_WITNESSES || self.witnesses.len() <= count {
            return;
        }
        let since = self.witnesses.range(self.witnesses.len() - 1 - count..);
        let since: Vec<f64> = since.copied().collect();
        let mean = (since[count] - since[0]) / count as f64;
        let differ = (mean - self.home).abs() > 0.08 * self.home + 1.4 * self.errors.noise();
        if !differ || !self.agree(&since) || !(SHORTEST..=LONGEST).contains(&mean) {
            return;
        }
        self.count = self.anchor.0 + self.anchor.1;
        let mut search = Search::new(self.count - count as i64, since);
        search.other = self.settled;
        if let Some(found) = search.found(SHORTEST, LONGEST) {
            self.filter = Some(found.filter);
        }
        self.search = Some(search);
        (self.age, self.since_begun) = (count as u32 + 1, count as u32 + 1);
        self.locked = false;
    }

    /// Reports a pulse.
    fn report(&mut self, armed: bool) {
        let Some(filter) = self.filter else { return };
        let quarter = quarter(filter.period);
        if armed {
            return self.begin(self.ns(filter.last), Some(quarter));
        }
        let (pulse, ns) = (self.count + 1, self.ns(filter.next));
        let line = Line { pulse, ns, quarter, locked: self.locked };
        let rolling = self.state == State::Rolling;
        self.events.push_back(if rolling { Lead::Pulse(line) } else { Lead::Idle(line) });
    }

    /// Starts the music at the pulse that has just arrived.
    fn begin(&mut self, ns: Ns, quarter: Option<Ns>) {
        let moved = self.position - self.count;
        self.anchor.0 += moved;
        if let Some((_, count)) = &mut self.settled {
            *count += moved;
        }
        if let Some(search) = &mut self.search {
            search.first += moved;
        }
        self.count = self.position;
        self.state = State::Rolling;
        self.events.push_back(Lead::Roll { pulse: self.position, ns, quarter });
    }
}

/// How long a quarter note lasts, in whole nanoseconds.
fn quarter(period: f64) -> Ns {
    (period * pulse::PULSES_PER_QUARTER as f64).round() as Ns
}
