//! The round that is being recorded: how it sounds and looks before it is a pass.
//!
//! In: the capture. Out: a pass that is planned beside the song's own, so that the round is heard from
//! the seam on without a gap, and the covers of the next round.

use super::Engine;
use super::recording::{Reach, Take, begins, rounds_in};
use crate::assemble::Round;
use crate::plan::{Cover, Since};
use crate::{Mode, Rounds, feel};
use chaconne_song::{Letter, Pass, PassId, Track, TrackId};
use chaconne_time::{Ns, Span, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The unfinished round. A message costs little, since it is only noted here. The round is assembled
/// when performing ahead reaches it, at once for a cover, and for display.
#[derive(Debug, Clone, Default)]
pub(super) struct Open {
    /// The round as last assembled; `None` while it is empty.
    pub pass: Option<Arc<Pass>>,
    /// What it and the next round covered when last planned.
    planned: Planned,
    /// Input that arrived since it was planned.
    fresh: Option<Fresh>,
    /// Whether input arrived since it was last assembled, and when that was.
    unseen: bool,
    seen: Ns,
    /// In replace mode, the bars that have a note, and the first note in each.
    bars: BTreeMap<i64, Tick>,
}

/// What an unfinished round covers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Planned {
    covers: Option<Vec<Span>>,
    /// What the next round covers already, and in which section.
    ahead: Option<(Letter, Cover)>,
    /// Whether notes begin in it.
    begins: bool,
}

/// New input of an unfinished round.
#[derive(Debug, Clone, Copy)]
struct Fresh {
    /// The tick of the earliest.
    first: Tick,
    /// Whether it changes what should sound now.
    at_once: bool,
}

impl Open {
    /// What the next round covers already, and in which section.
    pub fn ahead(&self) -> Option<&(Letter, Cover)> {
        self.planned.ahead.as_ref()
    }

    /// Whether any of it is planned, including covers of the next round.
    pub fn is_planned(&self) -> bool {
        self.pass.is_some() || self.planned != Planned::default()
    }

    /// Whether notes begin in it, as far as it is planned.
    pub fn begins(&self) -> bool {
        self.planned.begins
    }

    /// Ends the round; what the next one covers already stays.
    pub fn close(&mut self) {
        (self.pass, self.planned.covers, self.planned.begins) = (None, None, false);
    }

    /// Gives its pass another id.
    pub fn rename(&mut self, id: PassId) {
        if let Some(pass) = &mut self.pass {
            Arc::make_mut(pass).id = id;
        }
    }

    /// Begins another round, in which no bar has a note yet.
    pub fn begin(&mut self) {
        self.bars.clear();
    }

    /// Whether input that is not planned yet sounds before tick `until`. It sounds `reach` ticks after
    /// it was played.
    pub fn sounds_before(&self, until: Tick, reach: Tick) -> bool {
        self.fresh.is_some_and(|fresh| fresh.first + reach < until)
    }

    /// Remembers that input was played at a tick.
    pub fn hear(&mut self, at: Tick, at_once: bool) {
        let first = self.fresh.map_or(at, |fresh| fresh.first.min(at));
        let at_once = at_once || self.fresh.is_some_and(|fresh| fresh.at_once);
        self.fresh = Some(Fresh { first, at_once });
        self.unseen = true;
    }

    /// Whether a note is the first in its bar.
    pub fn begins_bar(&mut self, bar: i64, at: Tick) -> bool {
        let first = self.bars.entry(bar).or_insert(Tick::MAX);
        let begins = at < *first;
        *first = at.min(*first);
        begins
    }
}

/// How long a round is displayed before it is assembled again for display, in nanoseconds per note,
/// move or message. A round of a thousand notes is redrawn twenty times a second.
const PICTURE: Ns = 50_000;

impl Engine {
    /// The bounds of the unfinished round.
    pub(super) fn open_round(&self, take: &Take, track: &Track, now: Tick) -> Round {
        let one = self.how.rounds == Rounds::One;
        let rounds = if one { rounds_in(take.end - take.round, take.length) } else { 1 };
        let high = if one { take.end } else { take.end - feel::half_step(&track.feel) };
        let punch =
            Span::new(take.start, if self.how.mode == Mode::Punch { take.end } else { now });
        let (length, off) = (take.length * rounds, Tick::MAX);
        let (low, mode, with_discarded, first) =
            (take.low, self.how.mode, false, take.start >= take.round);
        Round { from: take.round, length, low, high, off, first, punch, mode, with_discarded }
    }

    /// Brings the unfinished round up to date if performing up to `until` reaches its new input, or if
    /// its picture is old.
    pub(super) fn bring_up(&mut self, now: Ns, until: Tick) {
        if self.config.silent {
            return;
        }
        let Some(take) = self.recorder.current() else { return };
        let Some(track) = self.song.track(take.track) else { return };
        let reach = take.length - feel::half_step(&track.feel) * 2;
        let is_due = |fresh: &Fresh| fresh.at_once || fresh.first + reach < until;
        if let Some(fresh) = take.open.fresh.filter(is_due) {
            let reach = if fresh.at_once { Reach::All } else { Reach::From(fresh.first) };
            self.refresh(now, reach);
        } else if take.open.unseen {
            let pass = take.open.pass.as_ref();
            let size = pass.map_or(0, |pass| {
                let points = pass.lanes().iter().map(|lane| lane.points.len()).sum::<usize>();
                pass.notes().len() + points + pass.sysex().len()
            });
            if now - take.open.seen >= size as Ns * PICTURE {
                self.put_together(now);
            }
        }
    }

    /// Brings the unfinished round up to date in any case.
    pub(super) fn bring_up_all(&mut self, now: Ns) {
        self.settle(now);
        let open = self.recorder.current().map(|take| &take.open);
        if let Some(fresh) = open.and_then(|open| open.fresh) {
            let reach = if fresh.at_once { Reach::All } else { Reach::From(fresh.first) };
            self.refresh(now, reach);
        }
    }

    /// Assembles the unfinished round.
    pub(super) fn put_together(&mut self, now: Ns) -> Option<(Take, Arc<Track>, Round)> {
        let (take, track, section) = self.take_frame()?;
        let at = self.tick_at(now)?;
        let round = self.open_round(&take, &track, at);
        let draft = self.draft(&take, &track, &section, round);
        let punching = self.how.mode == Mode::Punch && at >= take.start;
        let pass = (!draft.pass.is_empty() || punching).then(|| Arc::new(draft.pass));
        let open = &mut self.recorder.current_mut()?.open;
        (open.pass, open.unseen, open.seen) = (pass, false, now);
        Some((take, track, round))
    }

    /// Brings the unfinished round up to date, and the queued cues that it affects.
    pub(super) fn refresh(&mut self, now: Ns, reach: Reach) {
        let Some((take, track, round)) = self.put_together(now) else { return };
        let open = self.recorder.current().and_then(|take| take.open.pass.clone());
        if open.is_some() {
            self.sound_open(&take, round);
        }
        let ahead = self.look_ahead(&take, &track, open.as_deref());
        let begins = open.as_deref().is_some_and(begins);
        let covers = open.as_ref().map(|pass| pass.covers.clone());
        let planned = Planned { covers, ahead, begins };
        let known = take.open.planned;
        let performed = match reach {
            Reach::All => true,
            Reach::From(first) => {
                let next = first + take.length - feel::half_step(&track.feel) * 2;
                next < self.performer.until()
            }
        };
        let covers = planned != known;
        let layering = self.how.mode == Mode::Layer && known == Planned::default();
        if let Some(take) = self.recorder.current_mut() {
            (take.open.planned, take.open.fresh) = (planned, None);
        }
        self.outdate_last(&take.last, take.end, begins);
        self.compile();
        if performed || (covers && !layering) {
            self.revise_track(now, take.track);
        }
    }

    /// Performs a track again from now on, and all tracks that share its channel.
    pub(super) fn revise_track(&mut self, now: Ns, track: TrackId) {
        let song = Arc::clone(&self.song);
        let slots = self.slots_reached(&song, BTreeSet::from([track]));
        self.revise(now, &slots);
    }

    /// In *newest*, silences the rounds before from the seam on if this one has notes; else lets them
    /// sound again.
    pub(super) fn outdate_last(&mut self, last: &[PassId], end: Tick, has: bool) {
        let until = if self.how.rounds == Rounds::Newest && has { end } else { Tick::MAX };
        let Some(run) = self.transport.run_mut() else { return };
        for last in last {
            if let Some(since) = run.since.get_mut(last) {
                since.until = until;
            }
        }
    }

    /// Plans when the unfinished round sounds: its notes from the seam on, its covers at once.
    pub(super) fn sound_open(&mut self, take: &Take, round: Round) {
        let Some((entry, _)) = self.stay(take.round) else { return };
        let one = self.how.rounds == Rounds::One;
        let from = if one { Tick::MAX } else { round.from + round.length };
        let since = Since {
            from,
            origin: one.then_some(take.round),
            until: Tick::MAX,
            covers_from: take.round,
            entry: entry.at,
        };
        if let Some(run) = self.transport.run_mut() {
            run.since.insert(take.pass, since);
        }
    }

    /// What the next round covers is known before it starts: everything in punch mode, and in replace
    /// mode whatever its early notes cover. So performing ahead of the seam already leaves the lower
    /// passes out.
    pub(super) fn look_ahead(
        &mut self,
        take: &Take,
        track: &Track,
        open: Option<&Pass>,
    ) -> Option<(Letter, Cover)> {
        let (entry, section) = self.stay(take.end)?;
        let one = self.how.rounds == Rounds::One && entry.section == take.section;
        let length = match open {
            Some(open) if one => open.length,
            _ => section.new_pass_length(track),
        };
        let spans = match self.how.mode {
            Mode::Layer => Vec::new(),
            Mode::Punch => open.map(|_| Span::new(Tick::ZERO, length)).into_iter().collect(),
            Mode::Replace => {
                let (low, high) = (take.end - feel::half_step(&track.feel), Tick::MAX);
                let punch = Span::new(take.start, take.end);
                let (from, off, mode, with_discarded) = (take.end, Tick::MAX, self.how.mode, false);
                let first = false;
                let round =
                    Round { from, length, low, high, off, first, punch, mode, with_discarded };
                self.draft(take, track, &section, round).pass.covers
            }
        };
        let (from, until) = (Tick::MAX, Tick::MAX);
        let origin = one.then_some(take.end);
        let since = Some(Since { from, origin, until, covers_from: take.end, entry: entry.at });
        (!spans.is_empty()).then_some((entry.section, Cover { spans, length, since }))
    }
}
