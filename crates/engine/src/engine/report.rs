//! The status: what a front end is told.

use super::Engine;
use super::position::Parked;
use crate::{Position, Status, Transport, Turn, Walk};
use chaconne_song::{Letter, Pass};
use chaconne_time::{Metre, Ns, Place, Span, Tempo, Tick};
use std::sync::Arc;

/// Where the transport is in its section.
struct Whereabouts {
    in_section: Tick,
    place: Place,
    round: u64,
    tempo: Tempo,
    metre: Metre,
}

impl Engine {
    /// The state at a moment.
    pub fn status(&self, now: Ns) -> Status {
        let (at, transport, next) = match self.transport.run() {
            None => (self.parked_at(), Transport::Stopped, None),
            Some(run) => {
                let at = run.timeline.tick_at(now).max(run.start);
                let counting = at < run.entries[0].at;
                let transport = if counting { Transport::CountingIn } else { Transport::Rolling };
                let here = run.entry(at).at;
                (at, transport, run.entries.iter().find(|entry| entry.at > here))
            }
        };
        // What plays now may be entered already and not be caught up with.
        let letter = self.transport.run().map_or(self.shown, |run| run.entry(at).section);
        let here = self.whereabouts(letter, at);
        Status {
            song: Arc::clone(&self.song),
            revision: self.revision,
            transport,
            at,
            section: letter,
            next_section: next.map(|entry| entry.section),
            in_section: here.in_section,
            place: here.place,
            count_in: self.count_in,
            round: here.round,
            along: self.position(at),
            tempo: here.tempo,
            metre: here.metre,
            recording: self.recorder.takes() || self.record_waits(),
            mode: self.mode,
            rounds: self.rounds,
            armed: self.armed,
            solo_tracks: self.mix.solo_tracks.clone(),
            solo_passes: self.mix.solo_passes.clone(),
            click: self.click,
            unfinished: self.unfinished().cloned(),
            undo: self.undo_label(),
            redo: self.redo_label(),
            said: self.said.clone(),
            followed: self.followed(),
            lost: self.played.capture.lost(),
        }
    }

    /// Where a tick of the run lies along its route.
    fn position(&self, at: Tick) -> Option<Position> {
        let run = self.transport.run()?;
        let span = Span::new(run.entries[0].at, run.end());
        span.contains(at).then(|| Walk::new(&self.song, &run.entries).position(at))?
    }

    fn whereabouts(&self, letter: Letter, at: Tick) -> Whereabouts {
        let start = Place { bar: 1, beat: 1, tick: 0 };
        let Some(section) = self.section(letter) else {
            let (tempo, metre) = (Tempo::DEFAULT, Metre::common());
            return Whereabouts { in_section: Tick::ZERO, place: start, round: 0, tempo, metre };
        };
        let (entry_at, began) = match self.transport.run() {
            Some(run) => (run.entry(at).at, run.start),
            None => {
                let entered = self.transport.parked().map_or(Tick::ZERO, Parked::entered);
                (entered, entered)
            }
        };
        let since = at - entry_at;
        if since < Tick::ZERO {
            // The count-in counts its own bars, in the metre it leads into.
            let metre = section.metre.first();
            let (bar, into) = (at - began).cycle(metre.bar());
            let (beat, tick) = into.cycle(metre.beat());
            let place = Place { bar: bar + 1, beat: beat as u8 + 1, tick: tick.0 as u32 };
            let (tempo, metre) = (section.tempo.first(), metre.clone());
            return Whereabouts { in_section: since, place, round: 0, tempo, metre };
        }
        let (round, inside) = since.cycle(section.length());
        let tempo = match self.transport.run() {
            Some(run) => self.tempo_led().unwrap_or_else(|| run.timeline.tempo_at(at)),
            None => section.tempo.at(inside),
        };
        Whereabouts {
            in_section: inside,
            place: section.metre.place(inside),
            round: round as u64,
            tempo,
            metre: section.metre.metre_at(inside).clone(),
        }
    }

    /// The unfinished round, as it was last put together.
    fn unfinished(&self) -> Option<&Arc<Pass>> {
        self.recorder.current()?.open.pass.as_ref()
    }

    /// What undo would undo: the unfinished round first.
    fn undo_label(&self) -> Option<Turn> {
        match self.unfinished() {
            Some(open) if !open.is_empty() => Some(Turn::UnfinishedRound),
            _ => self.history.undo_label().map(Turn::Step),
        }
    }

    /// What redo would redo.
    fn redo_label(&self) -> Option<Turn> {
        match self.discarded() {
            Some(_) => Some(Turn::UnfinishedRound),
            None => self.history.redo_label().map(Turn::Step),
        }
    }
}
