//! Keep what I played: a pass of what was played without recording.

use super::recording::Go;
use super::{Engine, Refused};
use crate::assemble::Round;
use crate::{Mode, feel};
use chaconne_time::{Ns, Span, Tick};
use std::sync::Arc;

/// How much of what was played is kept for it, in rounds.
const ROUNDS_KEPT: i64 = 3;

impl Engine {
    /// Makes a pass of what was played without recording: the newest complete round that has
    /// notes, else what there is of the current one. After a stop it is the rounds before it.
    pub(super) fn keep(&mut self, now: Ns) -> Result<(), Refused> {
        let nothing = || Refused("nothing was played that is not in a pass already".into());
        let at = self.reached(now).ok_or_else(nothing)?;
        let entry = self.course().ok_or_else(nothing)?.entry(at);
        let section = Arc::clone(self.section(entry.section).ok_or_else(nothing)?);
        let armed = self.armed.ok_or_else(nothing)?;
        let track = Arc::clone(self.song.track(armed).ok_or_else(nothing)?);
        let length = section.new_pass_length(&track);
        let half = feel::half_step(&track.feel);
        let current = (at - entry.at).max(Tick::ZERO).cycle(length).0;
        let complete = (0..current).rev().take(ROUNDS_KEPT as usize).map(|k| (k, false));
        for (k, unfinished) in complete.chain([(current, true)]) {
            let from = entry.at + length * k;
            let round = Round {
                from,
                length,
                low: from - half,
                high: from + length - half,
                off: from + length,
                punch: Span::new(from, from + length),
                mode: Mode::Layer,
            };
            let go = Go {
                track: armed,
                section: entry.section,
                start: from,
                round: from,
                end: from + length,
                length,
                low: from - half,
                pass: self.ids.pass(),
                last: None,
            };
            let draft = self.draft(&go, &track, &section, round);
            if draft.pass.notes().is_empty() {
                continue;
            }
            let next = if unfinished { current + 1 } else { current };
            self.since(&go, entry.at + length * next, None);
            self.lay(now, &go, round, draft, None, true);
            return Ok(());
        }
        Err(nothing())
    }

    /// From where on what was played must be kept.
    pub(super) fn capture_horizon(&self, at: Tick) -> Tick {
        let length = self.section(self.shown).map_or(Tick::ZERO, |section| section.length());
        let longest = self.song.tracks.iter().filter_map(|track| track.pass_length).max();
        let rounds = length.max(longest.unwrap_or(Tick::ZERO)) * (ROUNDS_KEPT + 1);
        let go = self.go.as_ref().map_or(Tick::MAX, |go| go.low - Tick(3840));
        (at - rounds).min(go)
    }
}
