//! Creates the status for a front end.

use super::Engine;
use super::commit::{section_of, track_of};
use super::position::Spot;
use super::transport::{rounds_left, rounds_of};
use crate::{Position, Status, Transport, Turn, Walk};
use chaconne_song::{Letter, Pass, Step};
use chaconne_time::{Metre, Ns, Place, Span, Tempo, Tick};
use std::sync::Arc;

/// The position of the transport in its section, and the tempo and metre there.
struct Whereabouts {
    in_section: Tick,
    begins: Tick,
    place: Place,
    round: u64,
    tempo: Tempo,
    metre: Metre,
}

/// Bar one.
const START: Place = Place { bar: 1, beat: 1, tick: 0 };

impl Default for Whereabouts {
    fn default() -> Self {
        let (tempo, metre) = (Tempo::DEFAULT, Metre::common());
        let (in_section, begins) = (Tick::ZERO, Tick::ZERO);
        Whereabouts { in_section, begins, place: START, round: 0, tempo, metre }
    }
}

impl Engine {
    /// The state at a moment.
    pub fn status(&self, now: Ns) -> Status {
        let (at, transport) = match self.transport.run() {
            None => (self.parked_at(), Transport::Stopped),
            Some(run) => {
                let at = run.timeline.tick_at(now).max(run.start);
                let counts = run.counts_in(at);
                (at, if counts { Transport::CountingIn } else { Transport::Rolling })
            }
        };
        // The run may have entered a section since the last poll, so `shown` may be out of date.
        let letter = self.transport.run().map_or(self.shown, |run| run.entry(at).section);
        let (here, along) = (self.whereabouts(at), self.position(at));
        Status {
            song: Arc::clone(&self.song),
            revision: self.revision,
            transport,
            at,
            section: letter,
            next_section: self.next_section(at),
            in_section: here.in_section,
            place: here.place,
            begins: here.begins,
            again: self.again_inside(),
            count_in: self.how.count_in,
            round: here.round,
            along,
            in_form: self.in_form(at, along),
            form_left: self.transport.run().is_some_and(|run| run.rest.left.is_some()),
            leaves_in: self.leaves_in(at),
            repeat: self.repeats,
            key_change: self.key_change().map(|(change, _)| change.clone()),
            by_hand: self.hand.as_ref().map(|hand| hand.how),
            waits: self.waits(now),
            tempo: here.tempo,
            metre: here.metre,
            recording: self.recorder.takes() || self.record_waits(),
            mode: self.how.mode,
            rounds: self.how.rounds,
            armed: self.armed.track(),
            struck: Arc::clone(self.struck.keys()),
            holds: self.struck.holds(),
            solo_tracks: self.mix.solo_tracks.clone(),
            solo_passes: self.mix.solo_passes.clone(),
            moved_levels: self.moved_levels(),
            click: self.how.click,
            unfinished: self.unfinished().cloned(),
            undo: self.undo_label(),
            redo: self.redo_label(),
            said: self.said.clone(),
            followed: self.followed(),
            lost: self.played.capture.lost(),
        }
    }

    /// The section that comes after the round that is played at a tick, if that is known.
    fn next_section(&self, at: Tick) -> Option<Letter> {
        let run = self.transport.run()?;
        let here = run.entry(at);
        let length = self.section(here.section)?.length();
        let round = (at - here.at).max(Tick::ZERO).cycle(length).0;
        let over = here.at + length * (round + 1);
        if over < here.until && here.until < Tick::MAX {
            return Some(here.section);
        }
        run.entries.iter().find(|entry| entry.at > here.at).map(|entry| entry.section)
    }

    /// How long until the section that plays at a tick is left.
    fn leaves_in(&self, at: Tick) -> Option<Tick> {
        let until = self.transport.run()?.entry(at).until;
        (until < Tick::MAX).then(|| until - at)
    }

    /// The position of a tick along the route of the run.
    pub(super) fn position(&self, at: Tick) -> Option<Position> {
        let run = self.transport.run()?;
        let span = Span::new(run.music(), run.end());
        self.walk().filter(|_| span.contains(at))?.position(at)
    }

    /// The round of a route with an end that is played at a tick, and of how many: of the run, which is
    /// `along`, or while stopped of the position kept. It is told from what comes after it, because jumps may
    /// have led there.
    pub(super) fn in_form(&self, at: Tick, along: Option<Position>) -> Option<(i64, i64)> {
        let (rest, at, round, rounds, whole) = if let Some(run) = self.transport.run() {
            (&run.rest, at, along?.round, run.rounds, run.whole)
        } else {
            let Spot { at, entries, rest } = &self.transport.parked()?.spot;
            let round = Walk::new(&self.song, entries).position(*at)?.round;
            let whole = rounds_left(&self.song, &rest.whole);
            (rest, *at, round, rounds_of(&self.song, entries), whole)
        };
        let coming = match &rest.left {
            Some(left) => rounds_left(&self.song, left),
            None => rounds? - round,
        };
        // A route that repeats has several times as many rounds to come.
        let place = || rest.held(at).unwrap_or(whole - coming % whole);
        (whole > 0 && !rest.is_away(at)).then(|| (place(), whole))
    }

    /// The position of a tick in its section, in the run or, while stopped, from the position kept.
    fn whereabouts(&self, at: Tick) -> Whereabouts {
        let Some(run) = self.transport.run() else { return self.whereabouts_parked() };
        let walk = run.walk(&self.song);
        let Some(visit) = walk.visit_at(at) else { return Whereabouts::default() };
        let (inside, map) = (visit.inside(at), &visit.section.metre);
        let metre = map.metre_at(inside).clone();
        let round = visit.round(at).index as u64;
        if run.counts_in(at) {
            let (tempo, in_section) = (visit.section.tempo.at(inside), inside - (run.music() - at));
            let place = walk.count_in_place(run.start, at).unwrap_or(START);
            return Whereabouts { in_section, begins: inside, place, round, tempo, metre };
        }
        let tempo = self.leader_tempo().or_else(|| self.hand_tempo());
        let tempo = tempo.unwrap_or_else(|| run.timeline.tempo_at(at));
        let (in_section, begins, place) = (inside, Tick::ZERO, map.place(inside));
        Whereabouts { in_section, begins, place, round, tempo, metre }
    }

    /// The position that is kept while stopped.
    fn whereabouts_parked(&self) -> Whereabouts {
        let Spot { at, entries, .. } = self.parked_or_top();
        let Some(visit) = Walk::new(&self.song, &entries).visit_at(at) else {
            return Whereabouts::default();
        };
        let (in_section, map) = (visit.inside(at), &visit.section.metre);
        let (place, metre) = (map.place(in_section), map.metre_at(in_section).clone());
        let (tempo, round) = (visit.section.tempo.at(in_section), visit.round(at).index as u64);
        let begins = if self.is_chosen() { in_section } else { Tick::ZERO };
        Whereabouts { in_section, begins, place, round, tempo, metre }
    }

    /// Where the last take began, in its section.
    fn again_inside(&self) -> Option<(Letter, Tick)> {
        let Spot { at, entries, .. } = &self.again.as_ref()?.spot;
        let visit = Walk::new(&self.song, entries).visit_at(*at)?;
        Some((visit.entry.section, visit.inside(*at)))
    }

    /// The unfinished round as last assembled.
    fn unfinished(&self) -> Option<&Arc<Pass>> {
        self.recorder.current()?.open.pass.as_ref()
    }

    /// What undo would undo: a change of key to come, else the unfinished round, else the newest step.
    fn undo_label(&self) -> Option<Turn> {
        match self.unfinished() {
            _ if self.key_change().is_some() => Some(Turn::KeyChange),
            Some(open) if !open.is_empty() => Some(Turn::UnfinishedRound),
            _ => self.history.undo_steps().last().map(|step| self.turn(step)),
        }
    }

    /// What redo would redo: a discarded round if it is its turn, else a step.
    fn redo_label(&self) -> Option<Turn> {
        match self.discarded() {
            Some(_) => Some(Turn::UnfinishedRound),
            None => self.history.redo_steps().last().map(|step| self.turn(step)),
        }
    }

    fn turn(&self, step: &Step) -> Turn {
        let section = section_of(&step.edits).filter(|_| self.song.sections.len() > 1);
        Turn::Step(step.label, track_of(&step.edits, &self.song, &self.song), section)
    }
}
