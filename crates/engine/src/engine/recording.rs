//! Recording: a go from record on to record off, round by round.

use super::late::Closed;
use super::{Engine, Input, Refused};
use crate::assemble::{Draft, Frame, Round, assemble};
use crate::capture::News;
use crate::controls::Knob;
use crate::plan::Since;
use crate::{Entry, Message, Mode, Rounds, Route, Wire, feel};
use chaconne_song::{Edit, Letter, NoteId, Pass, PassId, Section, SectionEdit, Track, TrackId};
use chaconne_time::{Ns, Span, Tempo, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// From record on to record off.
#[derive(Debug, Clone)]
pub(super) struct Go {
    pub track: TrackId,
    pub section: Letter,
    /// When recording started: a seam, or where in a round the foot came.
    pub start: Tick,
    /// The start of the round now being recorded; with one pass for the go, of its first.
    pub round: Tick,
    /// The end of the round now being recorded.
    pub end: Tick,
    /// The length of a round.
    pub length: Tick,
    /// Starts from here on are not yet owned by an earlier round.
    pub low: Tick,
    /// The name the unfinished round will bear.
    pub pass: PassId,
    /// The pass of the last round that had notes.
    pub last: Option<PassId>,
}

/// Where a round ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Off {
    /// At a seam: what is played early for it belongs to what begins there.
    Seam(Tick),
    /// Where the foot came: what was played is kept.
    Foot(Tick),
}

/// From when on a closed round is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ending {
    pub sounds: Tick,
    /// The start of its first cycle, where its cycles do not count from the section's entry.
    pub origin: Option<Tick>,
}

/// The name of the pass that stands for the round to come; never in a song.
const AHEAD: PassId = PassId(u32::MAX);

/// How far back what is played anew reaches.
#[derive(Debug, Clone, Copy)]
pub(super) enum Reach {
    /// Everything may have changed.
    All,
    /// Nothing that was played before this tick.
    From(Tick),
}

impl Engine {
    fn go_frame(&self) -> Option<(Go, Arc<Track>, Arc<Section>)> {
        let go = self.go.clone()?;
        let track = Arc::clone(self.song.track(go.track)?);
        let section = Arc::clone(self.section(go.section)?);
        Some((go, track, section))
    }

    pub(super) fn record_on(&mut self, now: Ns) -> Result<(), Refused> {
        if self.go.is_some() {
            return Ok(());
        }
        let none = || Refused("there is no track to record onto: add one first".into());
        let armed = self.armed.ok_or_else(none)?;
        let track = Arc::clone(self.song.track(armed).ok_or_else(none)?);
        if self.run.is_none() {
            self.roll(now, Route::open(self.shown), true)?;
        }
        // The transport may start a little after the command.
        let at = self
            .tick_at(now)
            .unwrap_or_default()
            .max(self.run.as_ref().map_or(Tick::ZERO, |r| r.start));
        let Some((entry, section)) = self.stay(at) else { return Ok(()) };
        let length = section.new_pass_length(&track);
        let half = feel::half_step(&track.feel);
        let round = entry.at + length * (at - entry.at).max(Tick::ZERO).cycle(length).0;
        // Before bar one it is the seam that is still to come.
        let seam = if at <= entry.at { Some(round) } else { late_for(&entry, &section, round, at) };
        let start = seam.unwrap_or(at);
        self.go = Some(Go {
            track: armed,
            section: entry.section,
            start,
            round,
            end: (round + length).min(entry.until),
            length,
            low: seam.map_or(at, |seam| seam - half),
            pass: self.ids.pass(),
            last: None,
        });
        self.refresh(now, Reach::All);
        self.click_anew(now);
        Ok(())
    }

    pub(super) fn record_off(&mut self, now: Ns) -> Result<(), Refused> {
        let (Some((go, _, section)), Some(at)) = (self.go_frame(), self.tick_at(now)) else {
            self.go = None;
            return Ok(());
        };
        let round = self.current_round(&go, at);
        let seam = self
            .stay(at)
            .and_then(|(entry, _)| late_for(&entry, &section, round, at))
            .filter(|&seam| seam > go.start);
        if at < go.round {
            // Still counting in: nothing was recorded.
        } else if let Some(seam) = seam {
            // The go ended at the seam just past: what came after it is not of the go.
            if seam > go.round {
                let end = go.round + (seam - go.round).round_up(go.length);
                self.close_go(now, end, Off::Seam(seam));
            }
        } else {
            self.close_go(now, round + go.length, Off::Foot(at));
        }
        self.go = None;
        self.refresh(now, Reach::All);
        self.click_anew(now);
        Ok(())
    }

    /// The start of the round that `at` lies in.
    fn current_round(&self, go: &Go, at: Tick) -> Tick {
        go.round + go.length * (at - go.round).max(Tick::ZERO).cycle(go.length).0
    }

    pub(super) fn set_mode(&mut self, now: Ns, mode: Mode) -> Result<(), Refused> {
        self.mode = mode;
        self.refresh(now, Reach::All);
        Ok(())
    }

    pub(super) fn set_rounds(&mut self, rounds: Rounds) -> Result<(), Refused> {
        if self.go.is_some() && rounds != self.rounds {
            return Err(Refused("the rounds of a go are chosen before record on".into()));
        }
        self.rounds = rounds;
        Ok(())
    }

    /// Takes what was played: keeps it, and shows and sounds the unfinished round.
    pub(super) fn played(&mut self, stamp: Ns, source: u8, input: Input) {
        let Some(at) = self.played_at(stamp, &input) else { return };
        let news = match input {
            Input::Heard(Wire::Message(message)) => {
                let news = self.capture.message(at, source, message);
                if self.run.is_some() {
                    self.touched(stamp, at, message);
                }
                news
            }
            Input::Heard(Wire::SysEx(bytes)) => self.capture.sysex(at, bytes),
            Input::Lost => {
                for note in self.capture.input_lost(at, source) {
                    self.released(stamp, note);
                }
                News::Played
            }
        };
        let reach = match news {
            News::Nothing => return,
            News::Played => {
                if self.go.as_ref().is_none_or(|go| at < go.round.max(go.low)) {
                    self.amend(stamp, at);
                }
                at
            }
            News::Released(note) => {
                self.released(stamp, note);
                self.capture.note(note).map_or(at, |caught| caught.start)
            }
            News::Stamped(number) => {
                self.stamped(stamp, number);
                self.capture.stamp(number).map_or(at, |stamp| stamp.start())
            }
        };
        if self.go.is_some() {
            self.refresh(stamp, Reach::From(reach));
        }
    }

    /// A controller the player moves is nobody else's until the seam.
    fn touched(&mut self, stamp: Ns, at: Tick, message: Message) {
        let Some((control, value)) = message.control() else { return };
        let (Some(channel), Some(armed)) = (message.channel(), self.armed) else { return };
        let Some(track) = self.song.track(armed).cloned() else { return };
        let Some((entry, section)) = self.stay(at) else { return };
        let (round, _) = (at - entry.at).max(Tick::ZERO).cycle(section.length());
        let seam = (entry.at + section.length() * (round + 1)).min(entry.until);
        let port = self.port_of(&track);
        let knob = Knob { port, channel: track.channel_for(channel), control };
        let slot = self.performer.slot_of(armed);
        self.performer.touch(knob, value, seam, slot);
        let speakers = self.performer.speakers(&knob);
        self.revise(stamp, &speakers);
    }

    /// What the unfinished round is made of.
    fn open_round(&self, go: &Go, track: &Track, now: Tick) -> Round {
        let one = self.rounds == Rounds::One;
        let rounds = if one { rounds_in(go.end - go.round, go.length) } else { 1 };
        let high = if one { go.end } else { go.end - feel::half_step(&track.feel) };
        let punch = Span::new(go.start, if self.mode == Mode::Punch { go.end } else { now });
        let (length, off) = (go.length * rounds, Tick::MAX);
        Round { from: go.round, length, low: go.low, high, off, punch, mode: self.mode }
    }

    /// Brings the unfinished round up to date, and what is queued where that is affected.
    pub(super) fn refresh(&mut self, now: Ns, reach: Reach) {
        let (before, ahead) = (self.open.take(), self.ahead.take());
        let (Some((go, track, section)), Some(at)) = (self.go_frame(), self.tick_at(now)) else {
            if let Some(before) = before.or(ahead.map(|(_, ahead)| ahead)) {
                self.compile();
                self.revise_track(now, before.track);
            }
            return;
        };
        let round = self.open_round(&go, &track, at);
        let draft = self.draft(&go, &track, &section, round);
        let punching = self.mode == Mode::Punch && at >= go.start;
        if !draft.pass.is_empty() || punching {
            self.sound_open(&go, round);
            self.open = Some(Arc::new(draft.pass));
        }
        self.look_ahead(&go, &track);
        let covers = |pass: Option<&Arc<Pass>>| pass.map(|pass| pass.covers.clone());
        let covered = (covers(before.as_ref()), covers(ahead.as_ref().map(|(_, pass)| pass)));
        let covering =
            (covers(self.open.as_ref()), covers(self.ahead.as_ref().map(|(_, pass)| pass)));
        let outdates = before.is_none() && self.open.is_some() && self.rounds == Rounds::Newest;
        let performed = match reach {
            Reach::All => true,
            Reach::From(first) => {
                first + go.length - feel::half_step(&track.feel) * 2 < self.performer.until()
            }
        };
        self.outdate_last(&go);
        self.compile();
        let layering = self.mode == Mode::Layer && covered == (None, None);
        if performed || outdates || (covered != covering && !layering) {
            self.revise_track(now, go.track);
        }
    }

    /// Performs a track anew from now on.
    pub(super) fn revise_track(&mut self, now: Ns, track: TrackId) {
        let song = Arc::clone(&self.song);
        let slots = self.slots_reached(&song, BTreeSet::from([track]));
        self.revise(now, &slots);
    }

    /// In a go of the newest round, the one before is silent from the seam on once this round
    /// has something.
    fn outdate_last(&mut self, go: &Go) {
        let until = match (self.rounds, &self.open) {
            (Rounds::Newest, Some(_)) => go.end,
            _ => Tick::MAX,
        };
        if let Some(since) = go.last.and_then(|last| self.mix.since.get_mut(&last)) {
            since.until = until;
        }
    }

    /// When the unfinished round sounds: its notes from the seam on, its covers at once.
    fn sound_open(&mut self, go: &Go, round: Round) {
        let Some((entry, _)) = self.stay(go.round) else { return };
        let one = self.rounds == Rounds::One;
        let from = if one { Tick::MAX } else { round.from + round.length };
        let since = Since {
            from,
            origin: one.then_some(go.round),
            until: Tick::MAX,
            covers_from: go.round,
            entry: entry.at,
        };
        self.mix.since.insert(go.pass, since);
    }

    /// What the round to come covers is known before it begins: all of it while a punch is on,
    /// and in replace mode what the early notes played for it cover. So what is performed ahead
    /// of the seam already leaves the lower passes out.
    fn look_ahead(&mut self, go: &Go, track: &Track) {
        self.ahead = None;
        let Some((entry, section)) = self.stay(go.end) else { return };
        let one = self.rounds == Rounds::One && entry.section == go.section;
        let length = match &self.open {
            Some(open) if one => open.length,
            _ => section.new_pass_length(track),
        };
        let mut ahead = Pass::empty(AHEAD, go.track, length);
        match self.mode {
            Mode::Layer => return,
            Mode::Punch if self.open.is_none() => return,
            Mode::Punch => ahead.covers.push(Span::new(Tick::ZERO, length)),
            Mode::Replace => {
                let (low, high) = (go.end - feel::half_step(&track.feel), Tick::MAX);
                let punch = Span::new(go.start, go.end);
                let (from, off, mode) = (go.end, Tick::MAX, self.mode);
                let round = Round { from, length, low, high, off, punch, mode };
                ahead.covers = self.draft(go, track, &section, round).pass.covers;
            }
        }
        if ahead.covers.is_empty() {
            return;
        }
        let (from, until) = (Tick::MAX, Tick::MAX);
        let origin = one.then_some(go.end);
        let since = Since { from, origin, until, covers_from: go.end, entry: entry.at };
        self.mix.since.insert(AHEAD, since);
        self.ahead = Some((entry.section, Arc::new(ahead)));
    }

    pub(super) fn draft(&self, go: &Go, track: &Track, section: &Section, round: Round) -> Draft {
        let (feel, metre) = (track.feel, &section.metre);
        let frame = Frame { id: go.pass, track: go.track, feel, metre };
        assemble(&self.capture, round, frame, |at| self.tempo_then(at))
    }

    fn tempo_then(&self, at: Tick) -> Tempo {
        self.course().map_or(Tempo::DEFAULT, |run| run.timeline.tempo_at(at))
    }

    /// Closes every round that ended at or before `at`.
    pub(super) fn close_rounds(&mut self, now: Ns, at: Tick) {
        while let Some(go) = self.go.clone().filter(|go| go.end <= at) {
            let Some(run) = &self.run else { return };
            let (entry, end) = (run.entry(go.end), run.end());
            let moves_on = entry.at == go.end;
            let longest = go.end - go.round + go.length > self.longest(&go);
            let closes = self.rounds != Rounds::One || moves_on || longest || go.end >= end;
            if closes {
                self.close_go(now, go.end, Off::Seam(go.end));
            }
            if go.end >= end {
                return;
            }
            self.next_round(&go, entry, closes);
            self.refresh(now, Reach::From(go.end));
        }
    }

    /// The longest a pass may be.
    fn longest(&self, go: &Go) -> Tick {
        self.section(go.section).map_or(go.length, |section| section.longest_pass())
    }

    /// The go passes into its next round, perhaps in another section.
    fn next_round(&mut self, ended: &Go, entry: Entry, closed: bool) {
        let track = self.song.track(ended.track).cloned();
        let section = self.section(entry.section).cloned();
        let (Some(go), Some(track), Some(section)) = (self.go.as_mut(), track, section) else {
            self.go = None;
            return;
        };
        if entry.at == ended.end {
            go.section = entry.section;
            go.length = section.new_pass_length(&track);
            go.last = None;
        }
        if closed {
            go.round = ended.end;
        }
        go.end = (ended.end + go.length).min(entry.until);
    }

    /// Makes a pass of what the go has and no pass owns yet: it ends at `end`, and takes in what
    /// was played up to `off`. An empty one makes none, and leaves redo alone.
    fn close_go(&mut self, now: Ns, end: Tick, off: Off) {
        let Some((go, track, section)) = self.go_frame() else { return };
        let (high, off) = match off {
            Off::Seam(seam) => (seam - feel::half_step(&track.feel), seam),
            Off::Foot(at) => (at + Tick(1), at),
        };
        let round = Round {
            from: go.round,
            length: go.length * rounds_in(end - go.round, go.length),
            low: go.low,
            high,
            off: off.max(high),
            punch: Span::new(go.start, off),
            mode: self.mode,
        };
        let one = self.rounds == Rounds::One;
        let left = self.stay(go.round).map_or(Tick::MAX, |(entry, _)| entry.until);
        let sounds = if one { end } else { round.from + round.length }.min(left);
        let ending = Ending { sounds, origin: one.then_some(sounds) };
        let draft = self.draft(&go, &track, &section, round);
        let fresh = self.ids.pass();
        if let Some(go) = self.go.as_mut() {
            go.low = high;
        }
        self.open = None;
        let laid = !draft.pass.is_empty();
        self.remember(Closed { go: go.clone(), round, ending, laid });
        if !laid {
            self.mix.since.remove(&go.pass);
            self.outdate_last(&go);
            return;
        }
        self.since(&go, ending.sounds, ending.origin);
        let last = self.outdated(&go);
        if let Some(go) = self.go.as_mut() {
            go.last = Some(draft.pass.id);
            go.pass = fresh;
        }
        self.lay(now, &go, round, draft, last, one);
    }

    pub(super) fn since(&mut self, go: &Go, from: Tick, origin: Option<Tick>) {
        let Some((entry, _)) = self.stay(go.round) else { return };
        let (until, covers_from) = (Tick::MAX, go.round);
        self.mix.since.insert(go.pass, Since { from, origin, until, covers_from, entry: entry.at });
    }

    /// Puts a finished pass on top of its track, as one step.
    pub(super) fn lay(
        &mut self,
        now: Ns,
        go: &Go,
        round: Round,
        draft: Draft,
        outdated: Option<PassId>,
        revise: bool,
    ) {
        let Some(at) = self.section(go.section).map(|section| section.layers.len()) else { return };
        let mute = |last| Edit::Section(go.section, SectionEdit::Mute(last, true));
        let mut edits = vec![Edit::lay(go.section, at, draft.pass.clone())];
        edits.extend(outdated.map(mute));
        if let Err(error) = self.history.make_expected(Arc::make_mut(&mut self.song), "pass", edits)
        {
            // What was played stays in the capture, and can still be kept.
            self.say(error.to_string());
            return;
        }
        self.own(go, round, &draft);
        self.revision += 1;
        self.compile();
        if revise {
            self.revise_track(now, go.track);
        }
    }

    /// What a draft has belongs to its pass from now on, and what of it is still held will be
    /// completed there.
    pub(super) fn own(&mut self, go: &Go, round: Round, draft: &Draft) {
        let end = round.off.min(round.from + round.length);
        self.take(&draft.notes, &draft.stamps, Span::new(round.from, end));
        let id = draft.pass.id;
        self.held.notes.extend(draft.held.iter().map(|&note| (note, id)));
        self.held.stamps.extend(draft.held_stamps.iter().map(|&stamp| (stamp, id, go.round)));
    }

    /// Marks what was caught as belonging to a pass, or as thrown away on purpose.
    fn take(&mut self, notes: &[NoteId], stamps: &[u64], span: Span) {
        let notes: BTreeSet<NoteId> = notes.iter().copied().collect();
        for caught in self.capture.notes.iter_mut().filter(|caught| notes.contains(&caught.id)) {
            caught.taken = true;
        }
        for stamp in self.capture.stamps.iter_mut() {
            stamp.taken |= stamps.contains(&stamp.number);
        }
        let moves = self.capture.moves.iter_mut().filter(|moved| span.contains(moved.at));
        moves.for_each(|moved| moved.taken = true);
        let whole = self.capture.sysex.iter_mut().filter(|message| span.contains(message.0));
        whole.for_each(|message| message.2 = true);
    }

    /// Throws the unfinished round away; says whether there was one.
    pub(super) fn discard_round(&mut self, now: Ns) -> bool {
        if self.open.as_ref().is_none_or(|open| open.is_empty()) {
            return false;
        }
        let Some((go, track, section)) = self.go_frame() else { return false };
        let Some(at) = self.tick_at(now) else { return false };
        let draft = self.draft(&go, &track, &section, self.open_round(&go, &track, at));
        self.take(&draft.notes, &draft.stamps, Span::new(go.round, Tick::MAX));
        self.refresh(now, Reach::All);
        true
    }

    /// The go follows a jump: at a seam to come its round ends there at the latest; at one already
    /// past the round has ended, and what was played since is of the section entered.
    pub(super) fn follow_go(&mut self, now: Ns, at: Tick, seam: Tick, letter: Letter) {
        if seam <= at && self.go.as_ref().is_some_and(|go| go.start < seam) {
            self.end_at_seam(now, seam);
        }
        let (track, section) = match &self.go {
            Some(go) => (self.song.track(go.track).cloned(), self.section(letter).cloned()),
            None => return,
        };
        let until = self.run.as_ref().map_or(Tick::MAX, |run| run.entry(at).until);
        let Some(go) = self.go.as_mut() else { return };
        if seam <= at
            && let (Some(track), Some(section)) = (track, section)
        {
            go.section = letter;
            go.length = section.new_pass_length(&track);
            go.round = seam;
            go.start = go.start.max(seam);
            go.last = None;
        }
        let round = (at - go.round).max(Tick::ZERO).cycle(go.length).0;
        go.end = (go.round + go.length * (round + 1)).min(until);
        self.refresh(now, Reach::All);
    }

    /// Closes the round of the go at a seam it did not know of, where it has begun before it.
    fn end_at_seam(&mut self, now: Ns, seam: Tick) {
        let Some(go) = self.go.clone().filter(|go| go.round < seam) else { return };
        let end = go.round + (seam - go.round).round_up(go.length);
        self.close_go(now, end, Off::Seam(seam));
    }
}

/// How many rounds a span of time touches, at least one.
fn rounds_in(span: Tick, length: Tick) -> i64 {
    span.round_up(length).0.max(length.0) / length.0
}

/// The seam that a foot at `at` comes late for: the section's, or the start of the recorded round,
/// whichever was last, where it is less than a beat ago.
fn late_for(entry: &Entry, section: &Section, round: Tick, at: Tick) -> Option<Tick> {
    let tops = (at - entry.at).max(Tick::ZERO).cycle(section.length()).0;
    let top = entry.at + section.length() * tops;
    let seam = top.max(round);
    let beat = section.metre.metre_at(seam - entry.at).beat();
    (seam <= at && at - seam < beat).then_some(seam)
}
