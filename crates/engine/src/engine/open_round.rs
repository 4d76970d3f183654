//! The round that is being recorded: how it sounds and looks before it is a pass.
//!
//! In: the capture. Out: a pass that is planned beside the song's own, so that the round is heard from
//! the seam on without a gap, and the covers of the next round.

use super::Engine;
use super::recording::{Take, begins, rounds_in};
use crate::assemble::Round;
use crate::plan::{Cover, Since};
use crate::{Mode, Rounds, feel};
use chaconne_song::{Letter, Pass, Track, TrackId};
use chaconne_time::{Ns, Span, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The unfinished round. A message costs little, since it is only noted here. The round is assembled
/// when performing ahead reaches it, at once for a cover, and for display.
#[derive(Debug, Clone, Default)]
pub(super) struct Open {
    /// The round as last assembled; `None` while it is empty.
    pub pass: Option<Arc<Pass>>,
    /// What the next round covers already, and in which section, as last planned.
    ahead: Option<(Letter, Cover)>,
    /// Whether notes began in it when it was last planned.
    begins: bool,
    /// Input that arrived since it was planned.
    fresh: Option<Fresh>,
    /// Whether input arrived since it was last assembled, and when that was.
    unseen: bool,
    seen: Ns,
    /// In replace mode, the bars that have a note, and the first note in each.
    bars: BTreeMap<i64, Tick>,
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
        self.ahead.as_ref()
    }

    /// Whether notes begin in it, as far as it is planned.
    pub fn begins(&self) -> bool {
        self.begins
    }

    /// Ends the round; what the next one covers already stays.
    pub fn close(&mut self) {
        (self.pass, self.begins) = (None, false);
    }

    /// Begins another round, in which no bar has a note yet.
    pub fn begin(&mut self) {
        self.bars.clear();
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
        if take.open.fresh.as_ref().is_some_and(is_due) {
            self.refresh(now);
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
        if self.recorder.current().is_some_and(|take| take.open.fresh.is_some()) {
            self.refresh(now);
        }
    }

    /// Assembles the unfinished round.
    pub(super) fn put_together(&mut self, now: Ns) -> Option<(Take, Arc<Track>, Round)> {
        let (take, track, section) = self.take_frame()?;
        let at = self.tick_at(now)?;
        let round = self.open_round(&take, &track, at);
        let draft = self.draft(&take, &track, &section, round);
        // A punch silences the layers under it from its first tick on, before anything is played.
        let punching = self.how.mode == Mode::Punch;
        let pass = (!draft.pass.is_empty() || punching).then(|| Arc::new(draft.pass));
        let open = &mut self.recorder.current_mut()?.open;
        (open.pass, open.unseen, open.seen) = (pass, false, now);
        Some((take, track, round))
    }

    /// Brings the unfinished round up to date, and the queued cues that it affects.
    pub(super) fn refresh(&mut self, now: Ns) {
        let Some((take, track, round)) = self.put_together(now) else { return };
        let open = self.recorder.current().and_then(|take| take.open.pass.clone());
        if open.is_some() {
            self.sound_open(&take, round);
        }
        let ahead = self.look_ahead(&take, &track);
        let begins = open.as_deref().is_some_and(begins);
        if let Some(Take { open, .. }) = self.recorder.current_mut() {
            (open.ahead, open.begins, open.fresh) = (ahead, begins, None);
        }
        self.outdate_last(&take, begins);
        self.compile();
        self.revise_track(now, take.track);
    }

    /// Performs a track again from now on, and all tracks that share its channel.
    pub(super) fn revise_track(&mut self, now: Ns, track: TrackId) {
        let song = Arc::clone(&self.song);
        let slots = self.slots_reached(&song, BTreeSet::from([track]));
        self.revise(now, &slots);
    }

    /// If this round has notes, silences from the seam on the take that is replaced and, in *newest*, the rounds
    /// before; else lets them sound again. A take that becomes one pass replaces the other when it is done.
    pub(super) fn outdate_last(&mut self, take: &Take, has: bool) {
        let (newest, one) = (self.how.rounds == Rounds::Newest, self.how.rounds == Rounds::One);
        let until = |is_outdated: bool| if is_outdated && has { take.end } else { Tick::MAX };
        let last = take.last.iter().map(|id| (id, until(newest)));
        let outdated = last.chain(take.replaced.iter().map(|id| (id, until(!one))));
        let Some(run) = self.transport.run_mut() else { return };
        for (id, until) in outdated {
            if let Some(since) = run.since.get_mut(id) {
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
    fn look_ahead(&mut self, take: &Take, track: &Track) -> Option<(Letter, Cover)> {
        let (entry, section) = self.stay(take.end)?;
        let length = section.new_pass_length(track);
        let spans = match self.how.mode {
            Mode::Layer => Vec::new(),
            Mode::Punch => vec![Span::new(Tick::ZERO, length)],
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
        let since =
            Some(Since { from, origin: None, until, covers_from: take.end, entry: entry.at });
        (!spans.is_empty()).then_some((entry.section, Cover { spans, length, since }))
    }
}
