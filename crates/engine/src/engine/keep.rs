//! *Keep what I played*: a pass of what was played without recording.

use super::open_round::Open;
use super::recording::{Take, round_at};
use super::{Engine, Refused};
use crate::assemble::Round;
use crate::{Entry, Mode, feel};
use chaconne_song::{Label, Track};
use chaconne_time::{Ns, Span, Tick};
use std::sync::Arc;

/// How many complete rounds of what was played can still be kept.
const ROUNDS_KEPT: i64 = 3;

impl Engine {
    /// Makes a pass of what was played and is in no pass: of the newest complete round with notes, else
    /// of the current round so far. After a stop the last rounds before it count. Rounds of the section
    /// before count too, if there are not enough in this one.
    pub(super) fn keep(&mut self, now: Ns) -> Result<(), Refused> {
        let (rolls, any) = (self.transport.rolls(), !self.played.capture.notes.is_empty());
        let nothing = || {
            Refused(String::from(match (rolls, any) {
                (true, true) => "everything you played is already in a pass",
                (true, false) => {
                    "nothing to keep: you have not played anything since the loop started"
                }
                (false, _) => {
                    "nothing to keep: only what you play while the loop plays can be kept"
                }
            }))
        };
        let at = self.reached(now).ok_or_else(nothing)?;
        let armed = self.armed.track().ok_or_else(nothing)?;
        let track = Arc::clone(self.song.track(armed).ok_or_else(nothing)?);
        for (entry, from) in self.rounds_back(&track, at) {
            let Some(section) = self.section(entry.section).cloned() else { continue };
            let length = section.new_pass_length(&track);
            let take = self.kept_take(&track, &entry, from, length);
            let half = feel::half_step(&track.feel);
            let end = take.end;
            let round = Round {
                from,
                length,
                low: take.low,
                high: end - half,
                off: end,
                first: true,
                punch: Span::new(take.start, end),
                mode: Mode::Layer,
                with_discarded: true,
            };
            let draft = self.draft(&take, &track, &section, round);
            if draft.pass.notes().is_empty() {
                continue;
            }
            // It sounds from the next round on: if its own round is complete, from the present one.
            let present = round_at(from, length, at);
            let unfinished = present == from && at < entry.until;
            let next = if unfinished { from + length } else { present };
            self.since(&take, next, None);
            if self.lay(now, &take, round, draft, Vec::new(), Label::KeepPlayed) {
                self.revise_track(now, armed);
            }
            // What is kept no longer belongs to the unfinished round.
            self.refresh(now);
            self.say(format!("kept what you played as a new pass on {}", track.name));
            return Ok(());
        }
        Err(nothing())
    }

    /// The starts of the rounds that can be kept, each with its entry: the complete ones from the
    /// newest back, then the current one.
    fn rounds_back(&self, track: &Track, at: Tick) -> Vec<(Entry, Tick)> {
        let Some(run) = self.course() else { return Vec::new() };
        let (here, mut rounds) = (run.entry(at), Vec::new());
        for entry in run.entries.iter().rev().filter(|entry| entry.at <= here.at) {
            let Some(section) = self.section(entry.section) else { continue };
            let length = section.new_pass_length(track);
            let newest = round_at(entry.at, length, at.min(entry.until - Tick(1)));
            let left = (ROUNDS_KEPT + 1) as usize - rounds.len();
            let starts = (0..).map(|k| newest - length * k);
            let starts = starts.take_while(|&from| from >= entry.at).take(left);
            rounds.extend(starts.map(|from| (*entry, from)));
            if rounds.len() > ROUNDS_KEPT as usize {
                break;
            }
        }
        if !rounds.is_empty() {
            rounds.rotate_left(1);
        }
        rounds
    }

    /// A take of one round, as if it had been recorded from its top, or from where the music began in it.
    fn kept_take(&mut self, track: &Track, entry: &Entry, from: Tick, length: Tick) -> Take {
        let start = self.course().map_or(from, |run| run.in_music(from));
        Take {
            track: track.id,
            section: entry.section,
            start,
            round: from,
            end: (from + length).min(entry.until),
            length,
            low: start - feel::half_step(&track.feel),
            pass: self.new_pass(),
            last: Vec::new(),
            replaced: Vec::new(),
            told_early: true,
            open: Open::default(),
        }
    }

    /// The tick from which on the capture must be stored.
    pub(super) fn capture_horizon(&self, at: Tick) -> Tick {
        let length = self.section(self.shown).map_or(Tick::ZERO, |section| section.length());
        let longest = self.song.tracks.iter().filter_map(|track| track.pass_length).max();
        let rounds = length.max(longest.unwrap_or(Tick::ZERO)) * (ROUNDS_KEPT + 1);
        let take = self.recorder.current().map_or(Tick::MAX, |take| take.low - Tick(3840));
        (at - rounds).min(take)
    }
}
