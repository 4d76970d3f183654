//! Where the time waits: at the end of a fermata's beat, and before the next beat while it is led by hand.
//!
//! In: the run, and how it is led. Out: a hold just before the tick that must not come by itself, ordered well
//! before it would come, so that nothing from there on has been sent. What sounds there sounds on, since its
//! releases wait, too.

use super::Engine;
use super::run::Leads;
use crate::{HandStep, Order, Waits};
use chaconne_time::{Ns, Tempo, Tick};

impl Engine {
    /// What the run waits for at a moment.
    pub(super) fn waits(&self, now: Ns) -> Option<Waits> {
        let run = self.transport.run()?;
        let hold = run.hold?;
        let what = if run.leads == Leads::Hand { Waits::Beat } else { Waits::Fermata };
        (run.timeline.ns_at(hold) <= now).then_some(what)
    }

    /// Orders the hold that the run needs now, if it is another than before.
    pub(super) fn keep_hold(&mut self, now: Ns) {
        let wanted = self.wanted_hold(now);
        let Some(run) = self.transport.run() else { return };
        let Some(was) = run.hold.filter(|&was| wanted != Some(was)) else {
            return self.hold(wanted);
        };
        if self.waits(now).is_some() {
            // What it waited for is gone.
            self.let_time_go(now, self.song_tempo(was));
        }
        self.hold(self.wanted_hold(now));
    }

    /// Says once that a fermata has come.
    pub(super) fn tell_waits(&mut self, now: Ns) {
        let waits = self.waits(now) == Some(Waits::Fermata);
        if let Some(run) = self.transport.run_mut().filter(|run| waits && !run.told) {
            run.told = true;
            self.say("fermata: the song waits for a tap".into());
        }
    }

    fn hold(&mut self, wanted: Option<Tick>) {
        let Some(run) = self.transport.run_mut().filter(|run| run.hold != wanted) else { return };
        (run.hold, run.told) = (wanted, false);
        run.timeline.hold(wanted);
        self.orders.push_back(Order::Hold { at: wanted });
    }

    /// Lets go of the hold: its tick falls at `now`.
    pub(super) fn let_time_go(&mut self, now: Ns, tempo: Tempo) {
        let Some(run) = self.transport.run_mut() else { return };
        let Some(at) = run.hold.take() else { return };
        run.timeline.go(at, now, tempo);
        run.passed = at;
        // The tempi after it are ordered again.
        run.tempo_known = run.in_music(at + Tick(1));
        self.orders.push_back(Order::Go { at, ns: now, tempo });
    }

    /// The fermata is over.
    pub(super) fn end_fermata(&mut self, now: Ns) {
        let Some(hold) = self.transport.run().and_then(|run| run.hold) else { return };
        self.let_time_go(now, self.song_tempo(hold));
        self.keep_hold(now);
        if let Some(until) = self.horizon(now) {
            self.bring_up(now, until);
        }
        self.extend(now);
    }

    /// The first tick that must not come by itself.
    fn wanted_hold(&self, now: Ns) -> Option<Tick> {
        let run = self.transport.run()?;
        let after = run.timeline.tick_at(now).max(run.passed);
        match (run.leads, &self.hand) {
            (Leads::Hand, Some(_)) if after < run.music() => Some(run.music()),
            (Leads::Hand, Some(hand)) => {
                Some(self.step_after(hand.how.step, after).min(run.end())).filter(|&at| at > after)
            }
            (Leads::Song, _) => {
                // Twice as far as is performed, so that it is ordered before anything that it holds.
                let ahead = run.timeline.tick_at(now + self.config.lookahead * 2) + Tick(2);
                let still = run.hold.filter(|&hold| hold > after).map(|hold| hold + Tick(1));
                let ahead = still.map_or(ahead, |still| still.max(ahead));
                self.walk()?.fermatas(run.in_music(after), ahead).next()
            }
            _ => None,
        }
    }

    /// The first tick after another at which a step that is given by hand ends; the end of the route if there is
    /// none before.
    pub(super) fn step_after(&self, step: HandStep, after: Tick) -> Tick {
        let Some(walk) = self.walk() else { return Tick::MAX };
        let beats = || walk.beats(after + Tick(1));
        let found = match step {
            HandStep::Beat => beats().next().map(|beat| beat.at),
            HandStep::Bar => beats().find(|beat| beat.first).map(|beat| beat.at),
            HandStep::QuarterBar => self.visit(after).map(|visit| {
                let (start, bar) = (visit.bar_start(after), visit.metre(after).bar());
                let quarters = (after - start).0 * 4 / bar.0.max(1) + 1;
                // The next section may begin inside the bar.
                (start + Tick(bar.0 * quarters / 4)).min(visit.entry.until)
            }),
        };
        found.unwrap_or(Tick::MAX)
    }
}
