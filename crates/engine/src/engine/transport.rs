//! The transport: rolling, seams, tempo, jumps, and performing ahead of the clock.

use super::commit::How;
use super::position::{Parked, Spot};
use super::run::{Departure, Leads, Run};
use super::{Engine, Refused};
use crate::plan::{Mix, Shade};
use crate::{Action, Cue, Entry, Message, Order, Route, Slot, Visit, Walk};
use chaconne_song::{Commit, Edit, Label, Letter, Section, SectionEdit, Song};
use chaconne_time::{NoteValue, Ns, Tempo, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// How many past ticks stay on the timeline, for inputs that come late.
const PAST: Tick = Tick(96_000);

impl Engine {
    pub(super) fn section(&self, letter: Letter) -> Option<&Arc<Section>> {
        self.song.section(letter)
    }

    /// A walk along the run.
    pub(super) fn walk(&self) -> Option<Walk<'_>> {
        self.transport.run().map(|run| run.walk(&self.song))
    }

    /// The visit of the run that contains a tick.
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
        self.refuse_if_led()?;
        self.roll(now, self.beginning(), false)?;
        self.say_own_tempo();
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
            None => self.roll(now, Spot::top(&self.song, route), false),
        }
    }

    /// Starts the transport, with or without the count-in. Other gear gets Start at the top; elsewhere it gets
    /// the position at once and Continue there.
    pub(super) fn roll(&mut self, now: Ns, beginning: Spot, counted: bool) -> Result<(), Refused> {
        // A hand that leads gives its own beats before the music.
        let bars = if counted && self.hand.is_none() { self.how.count_in } else { 0 };
        let departure = self.departure(beginning, now + self.config.lead, bars)?;
        let departure = self.wait_for_first_beat(departure);
        let top = departure.entries.first().map_or(Tick::ZERO, |first| first.at);
        let (music, message) = match departure.music {
            music if music <= top => (music, Message::Start),
            music => (self.tell_position(music, &departure.entries), Message::Continue),
        };
        self.depart(departure);
        self.keep_hold(now);
        self.announce(music, message);
        Ok(())
    }

    /// Starts a run.
    pub(super) fn depart(&mut self, departure: Departure) {
        let Departure { start, music, ns, tempo, song, .. } = departure;
        self.forget_past(ns);
        self.recorders_ready(song);
        self.orders.push_back(Order::Roll { at: start, ns, tempo, song });
        self.recorders_roll(start);
        let run = Run::new(departure);
        self.shown = run.entry(start).section;
        self.transport.depart(run);
        self.played.restart(start);
        self.performer.start(start, music);
        self.compile();
        self.reroute(start);
    }

    pub(super) fn stop(&mut self, now: Ns) -> Result<(), Refused> {
        self.stop_waiting();
        if !self.transport.rolls() {
            return Ok(());
        }
        self.record_off(now)?;
        let parked = self.whereabouts_now(now);
        self.halt(now, parked);
        self.recorders_stopped();
        self.say_still_lost();
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
        let coming = self.take_key_change();
        self.transport.halt(at);
        self.park(parked);
        self.turn_keys_at_stop(now, coming);
    }

    /// Closes the rounds that are over by `now`, and ends the run at the end of its route.
    pub(super) fn catch_up(&mut self, now: Ns) {
        self.latest = self.latest.max(now);
        let Some(run) = self.transport.run() else { return };
        let (at, end) = (run.timeline.tick_at(now), run.end());
        self.shown = run.entry(at).section;
        self.close_rounds(now, at.min(end));
        self.turn_keys(at);
        if at >= end {
            self.halt(now, None);
            self.recorders_stopped();
        }
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

    /// Moves the cues that set up the instruments to just before the start, so that no note waits for
    /// them. A run that is led has already started, so there is no time before it.
    fn set_up_first(&mut self, cues: &mut [Cue]) {
        let Some(run) = self.transport.run().filter(|run| run.leads == Leads::Song) else { return };
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
            if to <= run.tempo_known || run.leads != Leads::Song {
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

    /// Orders cues, each in the present epoch of its slot.
    pub(super) fn order(&mut self, cues: Vec<Cue>) {
        for mut cue in cues {
            if let Action::Press { velocity, .. } = &mut cue.action
                && cue.slot != Slot::CLICK
            {
                *velocity = self.under_beat(*velocity);
            }
            cue.epoch = self.epochs.get(&cue.slot).copied().unwrap_or(0);
            self.orders.push_back(Order::Play(cue));
        }
    }

    /// Gives the performer the entries of the run. In new ones nothing sounds before `floor`.
    pub(super) fn reroute(&mut self, floor: Tick) {
        if let Some(run) = self.transport.run() {
            self.performer.route(&run.entries, floor);
        }
        self.replace_key_change(floor);
        self.count_rounds();
    }

    /// Counts the rounds of the run, because its entries or their sections have changed.
    pub(super) fn count_rounds(&mut self) {
        let song = Arc::clone(&self.song);
        let Some(run) = self.transport.run_mut() else { return };
        run.rounds = rounds_of(&song, &run.entries);
        run.whole = rounds_left(&song, &run.rest.whole);
    }

    /// Plans the song with the unfinished round.
    pub(super) fn compile(&mut self) {
        if self.config.silent {
            return;
        }
        let Some(run) = self.transport.run() else { return };
        let letters: BTreeSet<Letter> = run.entries.iter().map(|entry| entry.section).collect();
        let letters: Vec<Letter> = letters.into_iter().collect();
        let open = self.recorder.current();
        let (since, recorded) = (run.since.clone(), open.map(|take| take.track));
        let key_turns = self.key_turns();
        let mut mix = Mix { since, recorded, key_turns, ..self.mix.clone() };
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
        // Levels that its moves go back to, as its step will set them.
        if let Some(whole) = self.with_levels_for(pass) {
            let track = song.tracks.iter_mut().find(|track| track.id == whole.id);
            track.into_iter().for_each(|track| *track = Arc::new(whole.clone()));
        }
        self.performer.compile(&song, &mix, &letters);
    }

    /// Performs some slots again, from the first tick whose cues cannot have been sent yet.
    pub(super) fn revise(&mut self, now: Ns, slots: &BTreeSet<Slot>) {
        let Some(run) = self.transport.run() else { return };
        let from = (run.timeline.tick_at(now.max(self.latest)) + Tick(1)).max(run.start);
        let mut cues = Vec::new();
        let voices = self.performer.revise(slots, from, &mut cues);
        for &slot in slots {
            let epoch = self.epochs.entry(slot).or_insert(0);
            *epoch = epoch.wrapping_add(1);
            self.orders.push_back(Order::Revise { slot, epoch: *epoch });
            for &(_, voice, address) in voices.iter().filter(|&&(owner, ..)| owner == slot) {
                self.orders.push_back(Order::Keep { slot, voice, address });
            }
            // Cues come before `Settle`, so that the cue of a voice that was struck while these orders
            // were on their way keeps it.
            let mine = cues.extract_if(.., |cue| cue.slot == slot).collect();
            self.order(mine);
            self.orders.push_back(Order::Settle { slot });
        }
    }

    /// The slots of all tracks.
    pub(super) fn all_slots(&mut self) -> BTreeSet<Slot> {
        self.performer.planner().tracks_by_slot().into_keys().collect()
    }

    /// Makes the take, the tempo and the queued cues follow a jump.
    pub(super) fn follow_jump(&mut self, now: Ns, at: Tick, seam: Tick, letter: Letter) {
        self.reroute(at + Tick(1));
        if let Some(seam) = self.visit(at).map(|visit| visit.round(at).end) {
            self.performer.move_seam(at, seam);
        }
        self.retempo(at + Tick(1));
        self.take_follows_jump(now, at, seam, letter);
        self.compile();
        let slots = self.all_slots();
        self.revise(now, &slots);
        self.revise_clicks(now);
    }

    /// Orders the tempo in force at `at`, which cancels later tempi.
    pub(super) fn retempo(&mut self, at: Tick) {
        let Some(run) = self.transport.run_mut().filter(|run| run.leads == Leads::Song) else {
            return;
        };
        let Some(tempo) = run.walk(&self.song).tempo_at(at) else { return };
        run.timeline.push(at, tempo);
        run.tempo_known = run.in_music(at + Tick(1));
        self.orders.push_back(Order::Tempo { at, tempo });
    }

    /// Sets the tempo at the section's current position; its other tempi change in proportion.
    pub(super) fn set_tempo(&mut self, now: Ns, label: Label, tempo: Tempo) -> Result<(), Refused> {
        self.refuse_tempo_if_led()?;
        let (section, inside) = self.inside(now)?;
        let before = section.tempo.at(inside);
        let map = section.tempo.scaled(before, tempo);
        let edit = Edit::Section(section.letter, SectionEdit::Tempo(map));
        self.commit(now, Commit::new(label, vec![edit]), How::Run)
    }

    /// Changes the tempo by whole beats per minute, from the song's tempo at the current position. The
    /// tempo that plays may lag a moment behind the song's.
    pub(super) fn step_tempo(&mut self, now: Ns, steps: i32) -> Result<(), Refused> {
        let (section, inside) = self.inside(now)?;
        let (tempo, unit) = stepped(&section, inside, steps);
        self.set_tempo(now, Label::Tempo, tempo)?;
        if self.song.sections.len() > 1 {
            let (letter, beats) = (section.letter, tempo.in_beats(unit));
            self.say(format!("tempo of section {letter}: {beats}; the other sections keep theirs"));
        }
        Ok(())
    }

    /// Changes the tempo of every section by whole beats per minute: that of the section shown as
    /// [`step_tempo`](Self::step_tempo) does, those of the others from their first tempo.
    pub(super) fn step_song_tempo(&mut self, now: Ns, steps: i32) -> Result<(), Refused> {
        self.refuse_tempo_if_led()?;
        let (shown, inside) = self.inside(now)?;
        let edit = |section: &Arc<Section>| {
            let at = if section.letter == shown.letter { inside } else { Tick::ZERO };
            let map = section.tempo.scaled(section.tempo.at(at), stepped(section, at, steps).0);
            Edit::Section(section.letter, SectionEdit::Tempo(map))
        };
        let edits = self.song.sections.iter().map(edit).collect();
        self.commit(now, Commit::new(Label::SongTempo, edits), How::Run)?;
        let (letter, (tempo, unit)) = (shown.letter, stepped(&shown, inside, steps));
        let beats = tempo.in_beats(unit);
        self.say(format!("tempo of all sections: {steps:+}; section {letter} is at {beats}"));
        Ok(())
    }

    fn refuse_tempo_if_led(&self) -> Result<(), Refused> {
        match self.transport.run().map(|run| run.leads) {
            Some(Leads::Clock) => {
                let name = self.leader_name();
                Err(Refused(format!("{name} sets the tempo while it is followed")))
            }
            Some(Leads::Hand) => {
                Err(Refused("your beats set the tempo: stop leading by hand first".into()))
            }
            Some(Leads::Song) | None => Ok(()),
        }
    }

    /// The section shown, and the current tick inside it.
    fn inside(&self, now: Ns) -> Result<(Arc<Section>, Tick), Refused> {
        let letter = self.shown;
        let missing = || Refused(format!("there is no section {letter}"));
        let section = Arc::clone(self.section(letter).ok_or_else(missing)?);
        let inside = match self.tick_at(now) {
            Some(at) => self.visit(at).map_or(Tick::ZERO, |visit| visit.inside(at)),
            None => self.parked_inside(&section),
        };
        Ok((section, inside))
    }

    /// A tap, made at `at`. From the second tap on, the mean distance of the last few sets the tempo
    /// from `now` on.
    pub(super) fn tap(&mut self, now: Ns, at: Ns) -> Result<(), Refused> {
        /// After a longer pause the taps count from the beginning.
        const LONGEST: Ns = 3_000_000_000;
        /// Nobody taps faster than that: taps closer together are one, as when a switch bounces or
        /// a slow line delivers several keys at once. 50 ms.
        const SHORTEST: Ns = 50_000_000;
        /// How many taps count.
        const TAPS: usize = 5;
        if let Some(&last) = self.taps.last() {
            let since = at - last;
            if since.abs() < SHORTEST {
                return Ok(());
            }
            if !(0..=LONGEST).contains(&since) {
                self.taps.clear();
            }
        }
        self.taps.push(at);
        if self.taps.len() > TAPS {
            self.taps.remove(0);
        }
        let (first, count) = (self.taps[0], self.taps.len() as Ns - 1);
        if count == 0 {
            self.say("tap again: two or more taps in time set the tempo".into());
            return Ok(());
        }
        let Some(section) = self.section(self.shown) else { return Ok(()) };
        let unit = section.metre.first().tempo_unit();
        let quarter =
            (at - first) * chaconne_time::TICKS_PER_QUARTER / (count * unit.ticks().0 * 1000);
        self.tapped =
            u32::try_from(quarter).ok().and_then(|micros| Tempo::from_micros(micros).ok());
        match self.tapped {
            Some(tempo) => self.take_tapped(now, tempo.whole(unit), unit),
            None => {
                Err(Refused("these taps are outside 10 to 1000 quarter notes per minute".into()))
            }
        }
    }

    /// Sets the tempo to that of the last taps, not rounded.
    pub(super) fn tap_exactly(&mut self, now: Ns) -> Result<(), Refused> {
        let none = || Refused("tap the tempo first: two or more taps in time".into());
        let tempo = self.tapped.ok_or_else(none)?;
        let unit = self.section(self.shown).map(|section| section.metre.first().tempo_unit());
        self.take_tapped(now, tempo, unit.unwrap_or(NoteValue::QUARTER))
    }

    fn take_tapped(&mut self, now: Ns, tempo: Tempo, unit: NoteValue) -> Result<(), Refused> {
        self.set_tempo(now, Label::TapTempo, tempo)?;
        let beats = tempo.in_beats(unit);
        match (self.song.sections.len(), self.shown) {
            (..=1, _) => self.say(format!("tapped tempo: {beats}")),
            (_, letter) => self.say(format!("tapped tempo of section {letter}: {beats}")),
        }
        Ok(())
    }

    /// Forgets the past that nothing needs any more.
    pub(super) fn forget(&mut self, now: Ns) {
        let Some(at) = self.tick_at(now) else { return };
        let keep = self.capture_horizon(at);
        let bar = self.bar_at(at);
        if self.played.capture.prune(keep) {
            for number in self.played.capture.end_still_gestures(at, bar) {
                self.moved(number);
            }
        }
        if let Some(run) = self.transport.run_mut() {
            run.timeline.prune(at - PAST);
        }
        self.forget_key_turns(keep.min(at - PAST));
    }
}

/// The tempo of a section at one of its ticks, changed by whole beats per minute in the note value that
/// its metre counts there; and that note value.
fn stepped(section: &Section, at: Tick, steps: i32) -> (Tempo, NoteValue) {
    let unit = section.metre.metre_at(at).tempo_unit();
    (section.tempo.at(at).step(unit, steps), unit)
}

/// How many rounds the sections of a route make that the song still has.
pub(super) fn rounds_left(song: &Song, letters: &[Letter]) -> i64 {
    let existing: BTreeSet<Letter> = song.sections.iter().map(|section| section.letter).collect();
    letters.iter().map(|letter| i64::from(existing.contains(letter))).sum()
}

/// How many rounds the entries of a route have; `None` if the last one has no end.
pub(super) fn rounds_of(song: &Song, entries: &[Entry]) -> Option<i64> {
    let ends = entries.last().is_some_and(|last| last.until < Tick::MAX);
    ends.then(|| Walk::new(song, entries).rounds_in_all())
}
