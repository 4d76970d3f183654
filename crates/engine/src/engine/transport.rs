//! The transport: rolling, seams, tempo, jumps, and performing ahead of the clock.

use super::commit::How;
use super::position::Parked;
use super::{Engine, Refused};
use crate::plan::{Mix, Shade, Since};
use crate::route::index_at;
use crate::walk::Round;
use crate::{Cue, Entry, Message, Order, Route, Slot, Visit, Walk};
use chaconne_song::{Commit, Edit, Label, Letter, PassId, Section, SectionEdit, Song};
use chaconne_time::{Ns, Tempo, TempoMap, TempoPoint, Tick, Timeline};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The transport while it runs.
#[derive(Debug)]
pub(super) struct Run {
    pub timeline: Timeline,
    /// The sections taken and to come; the last one may be open.
    pub entries: Vec<Entry>,
    /// The tick at which it started: negative with a count-in.
    pub start: Tick,
    /// Tempi before this tick are on the timeline.
    pub tempo_known: Tick,
    /// Clicks and pulses before this tick are ordered.
    pub clicked: Tick,
    /// Whether another clock sets the tempo, so that the song's own does not count.
    pub led: bool,
    /// When each pass recorded in this run was made.
    pub since: BTreeMap<PassId, Since>,
    /// Whether recorders were told that it records.
    pub told_recording: bool,
}

impl Run {
    /// Drops what was to come after a tick and enters a section there.
    pub fn enter_anew(&mut self, section: Letter, from: Tick) {
        self.since.clear();
        self.entries.retain(|entry| entry.at < from);
        if let Some(last) = self.entries.last_mut() {
            (last.until, last.cut) = (from, true);
        }
        self.entries.push(Entry { section, at: from, until: Tick::MAX, cut: false });
    }

    /// The entry in force at a tick; before the first, the first.
    pub fn entry(&self, at: Tick) -> Entry {
        self.entries[index_at(&self.entries, at)]
    }

    /// Where the route ends; [`Tick::MAX`] if it does not.
    pub fn end(&self) -> Tick {
        self.entries.last().map_or(Tick::ZERO, |entry| entry.until)
    }
}

/// What a run starts with.
#[derive(Debug)]
pub(super) struct Departure {
    /// The sections to be taken.
    pub entries: Vec<Entry>,
    /// The first tick, and when it falls.
    pub start: Tick,
    pub ns: Ns,
    /// The tempo there.
    pub tempo: Tempo,
    /// The musical time there, nanoseconds since bar one.
    pub song: Ns,
    /// Whether another's clock sets the tempo.
    pub led: bool,
}

/// How much of the past stays on the timeline, for inputs that come late, in ticks.
const PAST: Tick = Tick(96_000);

impl Engine {
    pub(super) fn section(&self, letter: Letter) -> Option<&Arc<Section>> {
        self.song.section(letter)
    }

    /// What lies along the run.
    pub(super) fn walk(&self) -> Option<Walk<'_>> {
        self.transport.run().map(|run| Walk::new(&self.song, &run.entries))
    }

    /// The visit of the run that a tick lies in.
    pub(super) fn visit(&self, at: Tick) -> Option<Visit<'_>> {
        self.walk()?.visit_at(at)
    }

    /// The section in force at a tick, and its entry.
    pub(super) fn stay(&self, at: Tick) -> Option<(Entry, Arc<Section>)> {
        self.visit(at).map(|visit| (visit.entry, Arc::clone(visit.section)))
    }

    pub(super) fn play(&mut self, now: Ns) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        self.not_led()?;
        self.roll(now, Route::open(self.shown), false)?;
        self.tell_alone();
        self.record_if_waiting(now)
    }

    pub(super) fn play_route(&mut self, now: Ns, route: Route) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        match &mut self.leader {
            Some(leader) => {
                leader.route = Some(route);
                self.say(format!("waiting for the start of {}", self.leader_name()));
                Ok(())
            }
            None => self.roll(now, route, false),
        }
    }

    /// Starts the transport, with or without the count-in.
    pub(super) fn roll(&mut self, now: Ns, route: Route, counted: bool) -> Result<(), Refused> {
        let first = route.entries.first().ok_or_else(|| Refused("the route is empty".into()))?;
        let missing = || Refused(format!("there is no section {}", first.section));
        let section = Arc::clone(self.section(first.section).ok_or_else(missing)?);
        let bars = if counted { i64::from(self.count_in) } else { 0 };
        let start = first.at - section.metre.first().bar() * bars;
        let (ns, tempo, top) = (now + self.config.lead, section.tempo.first(), first.at);
        let song = Timeline::new(top, 0, tempo).ns_at(start);
        let entries = route.entries;
        self.depart(Departure { entries, start, ns, tempo, song, led: false });
        self.announce(top, Message::Start);
        Ok(())
    }

    /// Starts a run.
    pub(super) fn depart(&mut self, departure: Departure) {
        let Departure { entries, start, ns, tempo, song, led } = departure;
        self.forget_past(ns);
        self.recorders_ready(song);
        self.orders.push_back(Order::Roll { at: start, ns, tempo, song });
        self.recorders_roll(start);
        let timeline = Timeline::new(start, ns, tempo);
        let (since, told_recording) = (BTreeMap::new(), false);
        let (tempo_known, clicked) = (start, start);
        let run =
            Run { timeline, entries, start, tempo_known, clicked, led, since, told_recording };
        self.shown = run.entry(start).section;
        self.transport.depart(run);
        self.played.start_anew(start);
        self.performer.start(start);
        self.compile();
        self.reroute(start);
    }

    pub(super) fn stop(&mut self, now: Ns) -> Result<(), Refused> {
        self.wait_no_more();
        if !self.transport.rolls() {
            return Ok(());
        }
        self.record_off(now)?;
        let parked = self.whereabouts_now(now);
        self.halt(now, parked);
        self.recorders_stand();
        self.tell_still_lost();
        Ok(())
    }

    /// Ends the run at this position, and releases everything that sounds for the song.
    pub(super) fn halt(&mut self, now: Ns, parked: Option<Parked>) {
        self.let_go_of_everything(now);
        self.recorders_stop(now);
        self.orders.push_back(Order::Halt);
        for &port in &self.config.clock_ports.clone() {
            self.orders.push_back(Order::Now { port, message: Message::Stop });
        }
        let at = self.tick_at(now).unwrap_or_default();
        self.played.capture.count_round(false);
        self.recorder.end();
        self.transport.halt(at);
        self.park(parked);
    }

    /// Closes what is over by `now`: rounds, and the run itself at the end of its route.
    pub(super) fn catch_up(&mut self, now: Ns) {
        self.latest = self.latest.max(now);
        let Some(run) = self.transport.run() else { return };
        let (at, end) = (run.timeline.tick_at(now), run.end());
        self.shown = run.entry(at).section;
        self.close_rounds(now, at.min(end));
        if !self.round_is_over(self.latest) {
            self.history.stop_expecting();
        }
        if at >= end {
            self.halt(now, None);
            self.recorders_stand();
        }
    }

    /// The same, but leaves a round that is over open for late input; changes made meanwhile are undone
    /// before its pass.
    pub(super) fn keep_up(&mut self, now: Ns) {
        if !self.round_is_over(now) {
            return self.catch_up(now);
        }
        self.latest = self.latest.max(now);
        self.history.expect_pass();
        if let Some(run) = self.transport.run() {
            self.shown = run.entry(run.timeline.tick_at(now)).section;
        }
    }

    /// Whether a round has ended by then but is not closed.
    fn round_is_over(&self, now: Ns) -> bool {
        let (Some(take), Some(at)) = (self.recorder.current(), self.tick_at(now)) else {
            return false;
        };
        take.end <= at
    }

    /// Performs up to the look-ahead.
    pub(super) fn extend(&mut self, now: Ns) {
        let Some(to) = self.horizon(now) else { return };
        let mut cues = Vec::new();
        let set_up = self.performer.advance(to, &mut cues);
        self.set_up_first(&mut cues[..set_up]);
        self.click_until(to);
        self.order(cues);
    }

    /// Moves the programs and controllers of the start ahead of it, into the time of the lead, so that
    /// no note waits for them. In a run that is led, the start is over by the time it is known.
    fn set_up_first(&mut self, cues: &mut [Cue]) {
        let Some(run) = self.transport.run().filter(|run| !run.led) else { return };
        let time = self.config.set_up.min(self.config.lead).max(0) as u64;
        let before = run.timeline.tempo_at(run.start).ticks_in(time);
        cues.iter_mut().for_each(|cue| cue.at -= before);
    }

    /// The tick up to which to perform; extends the timeline up to it.
    pub(super) fn horizon(&mut self, now: Ns) -> Option<Tick> {
        let goal = now + self.config.lookahead;
        let song = Arc::clone(&self.song);
        let run = self.transport.run_mut()?;
        loop {
            let to = (run.timeline.tick_at(goal) + Tick(1)).min(run.end());
            if to <= run.tempo_known || run.led {
                return Some(to);
            }
            let tempi = Walk::new(&song, &run.entries).tempi(run.tempo_known);
            for (at, tempo) in tempi.take_while(|&(at, _)| at < to) {
                if run.timeline.tempo_at(at) != tempo {
                    run.timeline.push(at, tempo);
                    self.orders.push_back(Order::Tempo { at, tempo });
                }
            }
            run.tempo_known = to;
        }
    }

    /// Hands cues on, in the epoch of their slot.
    pub(super) fn order(&mut self, cues: Vec<Cue>) {
        for mut cue in cues {
            cue.epoch = self.epochs.get(&cue.slot).copied().unwrap_or(0);
            self.orders.push_back(Order::Play(cue));
        }
    }

    /// Gives the performer the sections to come; notes of new ones sound at `floor` at the earliest.
    pub(super) fn reroute(&mut self, floor: Tick) {
        if let Some(run) = self.transport.run() {
            self.performer.route(&run.entries, floor);
        }
    }

    /// Plans the song as it stands, the unfinished round included.
    pub(super) fn compile(&mut self) {
        let Some(run) = self.transport.run() else { return };
        let letters: BTreeSet<Letter> = run.entries.iter().map(|entry| entry.section).collect();
        let letters: Vec<Letter> = letters.into_iter().collect();
        let mut mix = Mix { since: run.since.clone(), ..self.mix.clone() };
        let open = self.recorder.current();
        let ahead = open.and_then(|take| Some((take.track, take.open.ahead()?)));
        mix.shades.extend(ahead.map(|(track, (section, cover))| Shade {
            section: *section,
            track,
            cover: cover.clone(),
        }));
        let Some((section, pass)) =
            open.and_then(|take| Some((take.section, take.open.pass.as_ref()?)))
        else {
            self.performer.compile(&self.song, &mix, &letters);
            return;
        };
        let mut song = Song::clone(&self.song);
        song.lay(section, Arc::clone(pass));
        self.performer.compile(&song, &mix, &letters);
    }

    /// Performs some slots again from just after `now`, and after everything that may have been sent.
    pub(super) fn revise(&mut self, now: Ns, slots: &BTreeSet<Slot>) {
        let Some(run) = self.transport.run() else { return };
        let from = (run.timeline.tick_at(now.max(self.latest)) + Tick(1)).max(run.start);
        for &slot in slots {
            let epoch = self.epochs.entry(slot).or_insert(0);
            *epoch = epoch.wrapping_add(1);
            self.orders.push_back(Order::Revise { slot, epoch: *epoch });
            let mut cues = Vec::new();
            for (voice, address) in self.performer.revise(slot, from, &mut cues) {
                self.orders.push_back(Order::Keep { slot, voice, address });
            }
            // Cues come before `Settle`, so that a voice struck while these orders were on their way
            // is kept by its own cue.
            self.order(cues);
            self.orders.push_back(Order::Settle { slot });
        }
    }

    /// Every slot there is.
    pub(super) fn all_slots(&mut self) -> BTreeSet<Slot> {
        self.performer.planner().tracks_by_slot().into_keys().collect()
    }

    /// Goes to another section at the next seam, or from the seam just past if the foot came within a
    /// beat of it.
    pub(super) fn jump(&mut self, now: Ns, letter: Letter) -> Result<(), Refused> {
        if self.section(letter).is_none() {
            return Err(Refused(format!("there is no section {letter}")));
        }
        let Some(run) = self.transport.run() else {
            self.shown = letter;
            self.transport.park(None);
            return Ok(());
        };
        // In the count-in, the seam is the end of the first round.
        let at = run.timeline.tick_at(now).max(run.entries[0].at);
        let first = run.entries[0].at;
        let Some(visit) = self.visit(at) else { return Ok(()) };
        let (entry, seam) = (visit.entry, jump_seam(visit.round(at), first, at));
        let Some(run) = self.transport.run_mut() else { return Ok(()) };
        let stays = letter == entry.section;
        run.entries.retain(|planned| planned.at <= at);
        if seam == entry.at && !stays {
            // The late foot means another section than the one just entered.
            run.entries.pop();
        }
        if let Some(last) = run.entries.last_mut() {
            let goes_on = letter == last.section;
            (last.until, last.cut) = if goes_on { (Tick::MAX, false) } else { (seam, true) };
            if !goes_on {
                let until = Tick::MAX;
                run.entries.push(Entry { section: letter, at: seam, until, cut: false });
            }
        }
        run.tempo_known = run.tempo_known.min(at + Tick(1)).max(run.start);
        self.follow_jump(now, at, if stays { Tick::MAX } else { seam }, letter);
        Ok(())
    }

    /// Adapts the recording, the tempo and the queued cues to a jump.
    fn follow_jump(&mut self, now: Ns, at: Tick, seam: Tick, letter: Letter) {
        self.reroute(at + Tick(1));
        if seam <= at {
            self.shown = letter;
            self.retempo(at + Tick(1));
        }
        self.take_follows(now, at, seam, letter);
        self.compile();
        let slots = self.all_slots();
        self.revise(now, &slots);
        self.click_anew(now);
    }

    /// Tells the scheduler the tempo in force at `at`, and forgets later ones.
    pub(super) fn retempo(&mut self, at: Tick) {
        let Some(run) = self.transport.run_mut().filter(|run| !run.led) else { return };
        let Some(tempo) = Walk::new(&self.song, &run.entries).tempo_at(at) else { return };
        run.timeline.push(at, tempo);
        run.tempo_known = at + Tick(1);
        self.orders.push_back(Order::Tempo { at, tempo });
    }

    /// Sets the tempo where the section now is; its other tempi move in proportion.
    pub(super) fn set_tempo(&mut self, now: Ns, label: Label, tempo: Tempo) -> Result<(), Refused> {
        if self.transport.run().is_some_and(|run| run.led) {
            let name = self.leader_name();
            return Err(Refused(format!("{name} sets the tempo while it is followed")));
        }
        let (section, inside) = self.inside(now)?;
        let before = section.tempo.at(inside);
        let map = scaled(&section.tempo, before, tempo);
        let edit = Edit::Section(section.letter, SectionEdit::Tempo(map));
        self.commit(now, Commit::new(label, vec![edit]), How::Run)
    }

    /// Sets the tempo so many whole beats per minute faster than the song has it here. What plays
    /// may be a moment behind that.
    pub(super) fn step_tempo(&mut self, now: Ns, steps: i32) -> Result<(), Refused> {
        let (section, inside) = self.inside(now)?;
        let unit = section.metre.metre_at(inside).tempo_unit();
        let tempo = section.tempo.at(inside).step(unit, steps);
        self.set_tempo(now, Label::Tempo, tempo)
    }

    /// The section shown, and where it now is inside it.
    fn inside(&self, now: Ns) -> Result<(Arc<Section>, Tick), Refused> {
        let letter = self.shown;
        let missing = || Refused(format!("there is no section {letter}"));
        let section = Arc::clone(self.section(letter).ok_or_else(missing)?);
        let inside = match self.tick_at(now) {
            Some(at) => self.visit(at).map_or(Tick::ZERO, |visit| visit.inside(at)),
            None => self.parked_since().max(Tick::ZERO).cycle(section.length()).1,
        };
        Ok((section, inside))
    }

    /// A tap: from the second one in time on, the mean of the last few sets the tempo from `now`
    /// on. `at` is when it was made.
    pub(super) fn tap(&mut self, now: Ns, at: Ns) -> Result<(), Refused> {
        const LONGEST: Ns = 3_000_000_000;
        const TAPS: usize = 5;
        if self.taps.last().is_some_and(|&last| at - last > LONGEST || at <= last) {
            self.taps.clear();
        }
        self.taps.push(at);
        if self.taps.len() > TAPS {
            self.taps.remove(0);
        }
        let (first, count) = (self.taps[0], self.taps.len() as Ns - 1);
        if count == 0 {
            return Ok(());
        }
        let Some(section) = self.section(self.shown) else { return Ok(()) };
        let unit = section.metre.first().tempo_unit().ticks().0;
        let quarter = (at - first) * chaconne_time::TICKS_PER_QUARTER / (count * unit * 1000);
        let tempo = u32::try_from(quarter).ok().and_then(|micros| Tempo::from_micros(micros).ok());
        match tempo {
            Some(tempo) => {
                self.set_tempo(now, Label::TapTempo, tempo)?;
                self.say(format!("tapped tempo: {tempo}"));
                Ok(())
            }
            None => {
                Err(Refused("these taps are outside 10 to 1000 quarter notes per minute".into()))
            }
        }
    }

    /// Forgets the past that is no longer needed.
    pub(super) fn forget(&mut self, now: Ns) {
        let Some(at) = self.tick_at(now) else { return };
        let keep = self.capture_horizon(at);
        let bar = self.bar_at(at);
        if self.played.capture.prune(keep) {
            for number in self.played.capture.stand_still(at, bar) {
                self.moved(number);
            }
        }
        self.performer.forget_touches(at);
        if let Some(run) = self.transport.run_mut() {
            run.timeline.prune(at - PAST);
        }
    }
}

/// The seam a jump from inside a round takes: the round's start within a beat of it, else its end.
/// The start of the run is no seam: there is nothing before it to jump from.
fn jump_seam(round: Round, first: Tick, at: Tick) -> Tick {
    let section = round.visit.section;
    let late = round.start > first && at - round.start < section.metre.first().beat();
    // A section that the form leaves earlier goes on to the end of its round.
    if late { round.start } else { round.start + section.length() }
}

/// A tempo map in which what was `before` is `now`, and the rest has moved in proportion.
fn scaled(map: &TempoMap, before: Tempo, now: Tempo) -> TempoMap {
    let scale = |tempo: Tempo| {
        if tempo == before {
            return now;
        }
        let micros =
            u64::from(tempo.micros()) * u64::from(now.micros()) / u64::from(before.micros());
        let low = u64::from(Tempo::FASTEST.micros());
        let high = u64::from(Tempo::SLOWEST.micros());
        Tempo::from_micros(micros.clamp(low, high) as u32).unwrap_or(now)
    };
    let points = map.points().iter().map(|point| TempoPoint {
        at: point.at,
        tempi: point.tempi.iter().map(|&tempo| scale(tempo)).collect(),
    });
    TempoMap::with_points(points.collect()).unwrap_or_else(|_| TempoMap::new(now))
}
