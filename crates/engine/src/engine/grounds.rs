//! The harmony under what is being played: the keys and chords of the song now and in the near future, for keys that
//! play chords or notes of the harmony.
//!
//! In: the chart along the run. Out: each harmony with the moment from which a key takes it. That is half a grid step
//! before its beat, as at a seam: an early note takes the chord that it is early for.

use super::Engine;
use crate::key_change::KeyTurn;
use crate::plan::transpose;
use crate::walk::Round;
use crate::{Walk, feel};
use chaconne_song::{ChordSymbol, KeySignature, KeysPlay, Section, Track};
use chaconne_time::{Ns, Span, Tick};

/// How far back input may reach that has not been heard yet, and how far ahead is known, in nanoseconds.
const BEHIND: Ns = 500_000_000;
const AHEAD: Ns = 500_000_000;

/// The most harmonies at once: a chart with more in half a second cannot be followed by ear or by hand.
const MOST: usize = 64;

/// The harmony in force from a moment on, as written: before the transposition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ground {
    /// From when keys take it, in nanoseconds; [`Ns::MIN`] while stopped.
    pub from: Ns,
    /// The key signature of section or song.
    pub key: Option<KeySignature>,
    /// The chart's chord, if it has one there.
    pub chord: Option<ChordSymbol>,
    /// By how many semitones the armed track is transposed there.
    pub transpose: i32,
}

impl Engine {
    /// The armed track, if its keys play something else than their notes.
    pub fn fingered(&self) -> Option<&Track> {
        let track = self.song.track(self.armed.track()?)?;
        (track.pitched && track.keys_play != KeysPlay::Notes).then_some(track)
    }

    /// The tick at which the take began that is on.
    pub fn take(&self) -> Option<Tick> {
        self.recorder.current().map(|take| take.start)
    }

    /// The harmonies around a moment, in order; empty if the keys of the armed track play their own notes.
    pub fn grounds(&self, now: Ns) -> Vec<Ground> {
        let Some(track) = self.fingered() else { return Vec::new() };
        let ground = |from, section: &Section, inside| {
            let after = section.chords.partition_point(|chord| chord.at <= inside);
            let chord = after.checked_sub(1).and_then(|last| section.chords.get(last));
            let (key, chord) = (section.key.or(self.song.key), chord.map(|chord| chord.symbol));
            Ground { from, key, chord, transpose: transpose(&self.song, section, track) }
        };
        let Some(run) = self.transport.run() else {
            let spot = self.parked_or_top();
            let visit = Walk::new(&self.song, &spot.entries).visit_at(spot.at);
            return visit
                .map(|visit| ground(Ns::MIN, visit.section, visit.inside(spot.at)))
                .into_iter()
                .collect();
        };
        let half = feel::half_step(&track.feel);
        let line = &run.timeline;
        let span = Span::new(line.tick_at(now - BEHIND), line.tick_at(now + AHEAD) + half);
        let turns = self.key_turns();
        let rounds = run.walk(&self.song).rounds(span.from);
        rounds
            .take_while(|round| round.start < span.to)
            .flat_map(|round| changes(round, span, &turns).into_iter().map(move |at| (round, at)))
            .take(MOST)
            .map(|(round, Change { at, in_force })| {
                let section = round.visit.section;
                let transpose = self.transposition(track, section).at(in_force - half);
                let ground = ground(line.ns_at(at - half), section, at - round.start);
                Ground { transpose, ..ground }
            })
            .collect()
    }
}

/// A change of the harmony.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Change {
    /// The tick of the chord, of the top or of the new key.
    at: Tick,
    /// The first tick of interest at which it is in force.
    in_force: Tick,
}

/// Where the harmony changes in a round: at its start, at each chord, and where keys change. Before the span, and
/// before the music, only the last one.
fn changes(round: Round<'_>, span: Span, turns: &[KeyTurn]) -> Vec<Change> {
    let chords = &round.visit.section.chords;
    let from = span.from.max(round.start).max(round.visit.from);
    let before = chords.partition_point(|chord| round.start + chord.at <= from);
    let start = (before == 0).then_some(round.start);
    // What is before the music, such as the count-in, takes the chord that it leads into.
    let end = span.to.max(from + Tick(1)).min(round.end);
    let rest = chords[before.saturating_sub(1)..].iter().map(|chord| round.start + chord.at);
    let turns = turns.iter().map(|turn| turn.at).filter(|&at| from < at && at < end);
    let all = start.into_iter().chain(rest.take_while(|&at| at < end)).chain(turns);
    let mut all: Vec<Change> =
        all.take(MOST).map(|at| Change { at, in_force: at.max(from) }).collect();
    all.sort_unstable();
    all.dedup();
    all
}
