//! Creates the status for a front end.

use super::Engine;
use super::commit::{section_of, track_of};
use super::transport::{Run, rounds_of};
use crate::{Position, Status, Transport, Turn, Walk};
use chaconne_song::{Letter, Pass, Step};
use chaconne_time::{Metre, Ns, Place, Span, Tempo, Tick};
use std::sync::Arc;

/// The position of the transport in its section, and the tempo and metre there.
struct Whereabouts {
    in_section: Tick,
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
        Whereabouts { in_section: Tick::ZERO, place: START, round: 0, tempo, metre }
    }
}

impl Engine {
    /// The state at a moment.
    pub fn status(&self, now: Ns) -> Status {
        let (at, transport) = match self.transport.run() {
            None => (self.parked_at(), Transport::Stopped),
            Some(run) => {
                let at = run.timeline.tick_at(now).max(run.start);
                let counting = at < run.entries[0].at;
                let transport = if counting { Transport::CountingIn } else { Transport::Rolling };
                (at, transport)
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
            count_in: self.how.count_in,
            round: here.round,
            along,
            in_form: self.in_form(along),
            tempo: here.tempo,
            metre: here.metre,
            recording: self.recorder.takes() || self.record_waits(),
            mode: self.how.mode,
            rounds: self.how.rounds,
            armed: self.armed.track(),
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

    /// The position of a tick along the route of the run.
    fn position(&self, at: Tick) -> Option<Position> {
        let run = self.transport.run()?;
        let span = Span::new(run.entries[0].at, run.end());
        self.walk().filter(|_| span.contains(at))?.position(at)
    }

    /// The round of a route with an end, and of how many: of the run, which is `along`, or while stopped
    /// of the position kept.
    fn in_form(&self, along: Option<Position>) -> Option<(i64, i64)> {
        if let Some(run) = self.transport.run() {
            return Some((along?.round, run.rounds?));
        }
        let parked = self.transport.parked()?;
        let rounds = rounds_of(&self.song, &parked.entries)?;
        let position = Walk::new(&self.song, &parked.entries).position(parked.at)?;
        Some((position.round, rounds))
    }

    /// The position of a tick in its section, in the run or, while stopped, from the position kept.
    fn whereabouts(&self, at: Tick) -> Whereabouts {
        let parked = self.parked_or_top();
        let run = self.transport.run();
        let (entries, began) =
            run.map_or((&parked.entries, parked.at), |run| (&run.entries, run.start));
        let walk = Walk::new(&self.song, entries);
        let Some(visit) = walk.visit_at(at) else { return Whereabouts::default() };
        let (round, inside, map) = (visit.round(at), visit.inside(at), &visit.section.metre);
        let set = visit.section.tempo.at(inside);
        let metre = map.metre_at(inside).clone();
        if at < visit.entry.at {
            let in_section = at - visit.entry.at;
            let place = walk.count_in_place(began, at).unwrap_or(START);
            return Whereabouts { in_section, place, round: 0, tempo: set, metre };
        }
        let runs = |run: &Run| self.leader_tempo().unwrap_or_else(|| run.timeline.tempo_at(at));
        let (round, tempo) = (round.index as u64, run.map_or(set, runs));
        Whereabouts { in_section: inside, place: map.place(inside), round, tempo, metre }
    }

    /// The unfinished round as last assembled.
    fn unfinished(&self) -> Option<&Arc<Pass>> {
        self.recorder.current()?.open.pass.as_ref()
    }

    /// What undo would undo: the unfinished round, else the newest step.
    fn undo_label(&self) -> Option<Turn> {
        match self.unfinished() {
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
