//! The performer: a song along a route, span by span, as cues in order.
//!
//! It holds what a running performance needs between spans: the releases still to come, and the
//! controller values already sent. `perform` runs one over a whole span; the engine runs one
//! ahead of the clock.

use crate::away::comes_to_rest;
use crate::controls::{self, Knob, Knobs, Owners};
use crate::gestures::at_rest;
use crate::occurrences::{self, Occurrence, Stay};
use crate::plan::{Item, Mix, Plan, Planner};
use crate::sent::{LOGGED, SentValues};
use crate::{Action, Address, Cue, Entry, PortIx, Slot, View, Voice, moves};
use chaconne_song::{Channel, Control, Letter, Levels, Song, Track, TrackId, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// A release still to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Release {
    at: Tick,
    /// When its note was struck.
    on: Tick,
    slot: Slot,
    port: PortIx,
    channel: Channel,
    key: U7,
    velocity: U7,
    voice: Voice,
}

/// A controller value to send: its tick, its rank at that tick, the controller, the slot, the value.
type Outgoing = (Tick, (u8, Control), Knob, Slot, U14);

/// A section's plan, and the controllers that it moves.
#[derive(Debug, Clone, Default)]
struct Compiled {
    plan: Plan,
    knobs: Knobs,
}

impl Compiled {
    /// Whether this is the program of a channel whose bank a pass changes.
    fn chooses_bank(&self, knob: &Knob) -> bool {
        let bank = |number: u8| Knob { control: Control::Change(U7::low_bits(number)), ..*knob };
        let moved =
            |knob: Knob| self.knobs.get(&knob).is_some_and(|owners| !owners.layers.is_empty());
        knob.control == Control::Program && (moved(bank(0)) || moved(bank(32)))
    }
}

/// Performs a song along a route.
#[derive(Debug, Clone)]
pub(crate) struct Performer {
    planner: Planner,
    compiled: BTreeMap<Letter, Compiled>,
    stays: Vec<Stay>,
    releases: Vec<Release>,
    /// Releases that were performed, perhaps ahead of the clock.
    performed: VecDeque<Release>,
    /// The values last sent, by the song, the player or a command.
    sent: SentValues,
    /// The values that the song last called for: what it has moved is the song's, and goes to rest where
    /// the song does not move it any more.
    called_for: SentValues,
    /// The slot that moved each controller last.
    movers: BTreeMap<Knob, Slot>,
    /// Controllers that the player moves, each with the tick until which the song leaves it alone.
    /// Sustain is never among them: the scheduler lifts a pedal only when song and player both do.
    touched: BTreeMap<Knob, Tick>,
    /// The tick at which it started.
    began: Tick,
    /// The tick at which the music begins; between the two is the count-in.
    music: Tick,
    /// Everything before this tick is performed.
    until: Tick,
    /// How long before a section its first notes may start.
    early: Tick,
    /// How long after a section its last notes may start: feel moves them later than they were played.
    late: Tick,
}

impl Performer {
    /// A performer for the ports with these names.
    pub fn new(view: View, ports: Vec<String>) -> Performer {
        Performer {
            planner: Planner::new(view, ports),
            compiled: BTreeMap::new(),
            stays: Vec::new(),
            releases: Vec::new(),
            performed: VecDeque::new(),
            sent: SentValues::default(),
            called_for: SentValues::default(),
            movers: BTreeMap::new(),
            touched: BTreeMap::new(),
            began: Tick::ZERO,
            music: Tick::ZERO,
            until: Tick::ZERO,
            early: Tick::ZERO,
            late: Tick::ZERO,
        }
    }

    pub fn planner(&mut self) -> &mut Planner {
        &mut self.planner
    }

    /// Everything before this tick is performed.
    pub fn until(&self) -> Tick {
        self.until
    }

    /// Starts over at `at`, with music that begins at `music`, after the count-in if that is later: nothing
    /// sounds, and nothing has been sent. But what the song moved in the run before and its end did not bring to
    /// rest, such as expression, is still the song's.
    pub fn start(&mut self, at: Tick, music: Tick) {
        self.stays.clear();
        self.releases.clear();
        self.performed.clear();
        self.sent.clear();
        let stays = |control| !comes_to_rest(control) && at_rest(control).is_some();
        self.called_for.retain(|knob| stays(knob.control));
        self.movers.retain(|knob, _| stays(knob.control));
        self.touched.clear();
        (self.began, self.until, self.music) = (at, at, music);
    }

    /// Plans these sections of the song. If the route is extended to other sections, the caller
    /// compiles again.
    pub fn compile(&mut self, song: &Song, mix: &Mix, letters: &[Letter]) {
        self.compiled.clear();
        (self.early, self.late) = (Tick::ZERO, Tick::ZERO);
        for section in song.sections.iter().filter(|section| letters.contains(&section.letter)) {
            let plan = self.planner.plan(song, section, mix);
            let knobs = controls::knobs(&plan);
            let first = plan.items.iter().map(|item| item.baked.reach().0).min();
            self.early = self.early.max(-first.unwrap_or(Tick::ZERO));
            let later = plan.items.iter().map(|item| item.baked.late).max();
            self.late = self.late.max(later.unwrap_or(Tick::ZERO));
            self.compiled.insert(section.letter, Compiled { plan, knobs });
        }
    }

    /// Gives a section another letter.
    pub fn rename(&mut self, old: Letter, new: Letter) {
        let stays = self.stays.iter_mut().filter(|stay| stay.entry.section == old);
        stays.for_each(|stay| stay.entry.section = new);
    }

    /// Sets the route. Entries that it had before keep their floor; in new ones nothing sounds before
    /// `floor`.
    pub fn route(&mut self, entries: &[Entry], floor: Tick) {
        let known = std::mem::take(&mut self.stays);
        let floor_of = |entry: &Entry| {
            let same =
                known.iter().find(|s| s.entry.at == entry.at && s.entry.section == entry.section);
            same.map_or(floor, |stay| stay.floor)
        };
        let (follows, music) = (|index: usize| entries.len() > index + 1, self.music);
        let mut next_jump = Tick::MAX;
        let stays = entries.iter().enumerate().rev().map(|(index, &entry)| {
            let (floor, goes_on) = (floor_of(&entry), follows(index));
            let stay = Stay { entry, floor, music, goes_on, next_jump };
            if entry.cut {
                next_jump = entry.until;
            }
            stay
        });
        self.stays = stays.collect();
        self.stays.reverse();
    }

    /// The player has moved a controller on the track of `slot`: the song leaves it alone until
    /// `until`. If the move is `recorded`, the controller goes to rest there, as it will each time the
    /// pass repeats, even if the pass is not planned by then. Returns whether what was performed ahead
    /// may change: it does not for sustain, nor if the player was moving the controller already, unless
    /// `until` is performed, where what is sent depends on where the player leaves it.
    pub fn touch(
        &mut self,
        knob: Knob,
        value: U14,
        until: Tick,
        (slot, recorded): (Slot, bool),
    ) -> bool {
        if knob.control == Control::SUSTAIN {
            return false;
        }
        self.sent.overrule(knob, value);
        if recorded {
            self.called_for.overrule(knob, value);
        }
        self.movers.entry(knob).or_insert(slot);
        self.touched.insert(knob, until) != Some(until) || until < self.until
    }

    /// What the player moved a controller to is undone: the song has it again at once.
    pub fn let_go(&mut self, knob: &Knob) {
        self.touched.remove(knob);
    }

    /// Whether a section moves or sets a controller.
    pub fn has(&self, section: Letter, knob: &Knob) -> bool {
        self.compiled.get(&section).is_some_and(|compiled| compiled.knobs.contains_key(knob))
    }

    /// A controller was set beside what the song sends.
    pub fn set(&mut self, knob: Knob, value: U14) {
        self.called_for.overrule(knob, value);
        self.sent.overrule(knob, value);
    }

    /// The player has moved a controller while stopped: it stays there until the song moves it.
    pub fn touch_while_stopped(&mut self, knob: &Knob) {
        self.called_for.remove(knob);
    }

    /// At a tick everything was silenced, and pedals and wheels are at rest. What is performed after it, or
    /// [again](Performer::revise), sends each where the song has it elsewhere.
    pub fn silenced(&mut self, at: Tick) {
        let moved: Vec<Knob> = self.sent.iter().map(|(knob, _)| knob).collect();
        for knob in moved.into_iter().filter(|knob| comes_to_rest(knob.control)) {
            if let Some(rest) = at_rest(knob.control) {
                self.sent.correct(at, knob, rest);
            }
        }
    }

    /// The next seam after `at` has moved: what the player moves is the player's until then.
    pub fn move_seam(&mut self, at: Tick, seam: Tick) {
        self.touched.values_mut().filter(|until| **until > at).for_each(|until| *until = seam);
    }

    /// Performs from where it stopped up to `to`. The cues come in the order in which they must be
    /// sent. Returns how many of the first cues set up the instruments: they are due at the start, but
    /// may be sent before it. Only the first call after a start has any.
    pub fn advance(&mut self, to: Tick, cues: &mut Vec<Cue>) -> usize {
        let span = Span::new(self.until, to);
        if span.is_empty() {
            return 0;
        }
        let before = cues.len();
        let starts = self.until == self.began;
        let music = if starts { self.set_up_start(cues) } else { self.until };
        let set_up = cues.len() - before;
        self.span(span, Span::new(music, to), None, cues);
        self.until = to;
        while self.performed.front().is_some_and(|release| release.at < to - LOGGED) {
            self.performed.pop_front();
        }
        self.sent.prune(to);
        self.called_for.prune(to);
        set_up
    }

    /// Sends the controllers and system-exclusive messages in force at the start; before a count-in, what the
    /// instruments need for the music. Returns the tick after it.
    fn set_up_start(&mut self, cues: &mut Vec<Cue>) -> Tick {
        let (start, after) = (self.began, self.began + Tick(1));
        self.span(Span::new(start, start), Span::new(start, after), None, cues);
        after
    }

    /// Performs slots again from `from` on, up to where the others are: all of them together, because
    /// they may move the same controllers. Returns the voices that sound on, and their keys.
    pub fn revise(
        &mut self,
        slots: &BTreeSet<Slot>,
        from: Tick,
        cues: &mut Vec<Cue>,
    ) -> Vec<(Slot, Voice, Address)> {
        let mut voices = Vec::new();
        for &slot in slots {
            let known = self.forget_releases(slot, from);
            let mut held = self.held(slot, from - Tick(1));
            keep_voices(&mut held, known, from);
            for (occurrence, port) in held {
                let Occurrence { voice, channel, key, .. } = occurrence;
                voices.push((slot, voice, Address { port, channel, key }));
                self.release(occurrence, slot, port);
            }
        }
        let (compiled, movers) = (&self.compiled, &self.movers);
        let speaks = |knob: &Knob| {
            let owners = compiled.values().filter_map(|compiled| compiled.knobs.get(knob));
            owners.filter_map(|owners| owners.slot).any(|slot| slots.contains(&slot))
        };
        let mine =
            |knob: &Knob| speaks(knob) || movers.get(knob).is_some_and(|slot| slots.contains(slot));
        self.sent.revert(from, mine);
        self.called_for.revert(from, mine);
        let span = Span::new(from, self.until.max(from));
        self.span(span, span, Some(slots), cues);
        voices
    }

    /// Forgets the releases of a slot from `from` on, and returns them.
    fn forget_releases(&mut self, slot: Slot, from: Tick) -> Vec<Release> {
        let mut known: Vec<Release> =
            self.releases.extract_if(.., |release| release.slot == slot).collect();
        self.performed.retain(|release| {
            let ahead = release.slot == slot && release.at >= from;
            known.extend(ahead.then_some(*release));
            !ahead
        });
        known
    }

    /// The notes of a slot that sound at `at`, and their ports.
    fn held(&self, slot: Slot, at: Tick) -> Vec<(Occurrence, PortIx)> {
        let mut held = Vec::new();
        for stay in self.stays.iter().filter(|stay| stay.entry.at - self.early <= at) {
            let Some(compiled) = self.compiled.get(&stay.entry.section) else { continue };
            for item in compiled.plan.items.iter().filter(|item| item.slot == slot) {
                let mut found = Vec::new();
                occurrences::sounding(item, stay, at, &mut found);
                held.extend(found.into_iter().map(|occurrence| (occurrence, item.port)));
            }
        }
        held
    }

    fn release(&mut self, note: Occurrence, slot: Slot, port: PortIx) {
        let Occurrence { on, off: at, channel, key, release: velocity, voice, .. } = note;
        self.releases.push(Release { at, on, slot, port, channel, key, velocity, voice });
    }

    /// Performs all slots, or only some: their notes in the span `notes`, their controllers and
    /// system-exclusive messages in the span `moves`, which ends at the same tick.
    fn span(
        &mut self,
        notes: Span,
        moves: Span,
        only: Option<&BTreeSet<Slot>>,
        cues: &mut Vec<Cue>,
    ) {
        let first = cues.len();
        let wanted = |slot: Slot| only.is_none_or(|only| only.contains(&slot));
        if moves.contains(self.began) && self.began < self.music {
            self.prepare(&wanted, cues);
        }
        let whole = Span::new(notes.from.min(moves.from), notes.to.max(moves.to));
        let beside = (self.early, self.late);
        let stays: Vec<Stay> =
            self.stays.iter().filter(|stay| reaches(stay, beside, whole)).copied().collect();
        for stay in &stays {
            let Some(compiled) = self.compiled.remove(&stay.entry.section) else { continue };
            self.notes(&compiled.plan, stay, notes, &wanted, cues);
            // In the count-in nothing but early notes is due.
            let moves = Span::new(moves.from.max(self.music), moves.to);
            messages(&compiled.plan, stay, moves, &wanted, cues);
            self.moves(&compiled, stay, moves, (&wanted, only.is_some()), cues);
            self.compiled.insert(stay.entry.section, compiled);
        }
        self.due(notes.to, &wanted, cues);
        cues[first..].sort_by_key(Cue::order);
    }

    fn notes(
        &mut self,
        plan: &Plan,
        stay: &Stay,
        span: Span,
        wanted: &impl Fn(Slot) -> bool,
        cues: &mut Vec<Cue>,
    ) {
        let mut found = Vec::new();
        for item in plan.items.iter().filter(|item| wanted(item.slot)) {
            found.clear();
            occurrences::starting(item, stay, span, &mut found);
            for &note in &found {
                let Occurrence { on: at, channel, key, velocity, voice, .. } = note;
                let action = Action::Press { channel, key, velocity, voice };
                cues.push(Cue { at, slot: item.slot, epoch: 0, port: item.port, action });
                self.release(note, item.slot, item.port);
            }
        }
    }

    /// Moves the releases that are due before `to` into the cues.
    fn due(&mut self, to: Tick, wanted: &impl Fn(Slot) -> bool, cues: &mut Vec<Cue>) {
        let performed = &mut self.performed;
        self.releases.retain(|release| {
            let due = release.at < to && wanted(release.slot);
            if due {
                performed.push_back(*release);
                let Release { at, slot, port, channel, key, velocity, voice, .. } = *release;
                let action = Action::Lift { channel, key, velocity, voice };
                cues.push(Cue { at, slot, epoch: 0, port, action });
            }
            !due
        });
    }

    /// Adds the releases still to come, in order: the notes that ring out after the end.
    pub fn ring_out(&mut self, cues: &mut Vec<Cue>) {
        let first = cues.len();
        self.due(Tick::MAX, &|_| true, cues);
        cues[first..].sort_by_key(Cue::order);
    }

    /// The controller moves of a span. `revises` says that slots are performed again from its start.
    fn moves(
        &mut self,
        compiled: &Compiled,
        stay: &Stay,
        span: Span,
        (wanted, revises): (&impl Fn(Slot) -> bool, bool),
        cues: &mut Vec<Cue>,
    ) {
        let begin = span.from.max(stay.entry.at);
        let span = Span::new(begin, span.to.min(stay.entry.until));
        if span.is_empty() {
            return;
        }
        // Where the music begins, and when a section is entered, every controller of the section is considered.
        let enters = begin == stay.entry.at || begin == self.music;
        let mut outgoing: Vec<Outgoing> = Vec::new();
        self.bring_to_rest(compiled, span, enters || revises, wanted, &mut outgoing);
        for (knob, owners) in &compiled.knobs {
            if let Some(slot) = owners.slot.filter(|&slot| wanted(slot)) {
                self.knob(compiled, stay, span, (knob, owners, slot), &mut outgoing);
            }
        }
        send(outgoing, cues);
    }

    /// Sets up the instruments where the count-in begins, so that each has loaded its sound when the music
    /// begins: everything in force there but pedals, wheels and pressure, which the player is to have at rest
    /// until then.
    fn prepare(&mut self, wanted: &impl Fn(Slot) -> bool, cues: &mut Vec<Cue>) {
        let (began, music) = (self.began, self.music);
        let is_first = |stay: &&Stay| stay.entry.at <= music && music < stay.entry.until;
        let Some(stay) = self.stays.iter().find(is_first).copied() else { return };
        let Some(compiled) = self.compiled.remove(&stay.entry.section) else { return };
        let mut outgoing: Vec<Outgoing> = Vec::new();
        self.bring_to_rest(&compiled, Span::new(began, began), true, wanted, &mut outgoing);
        for (knob, owners) in &compiled.knobs {
            let slot = owners.slot.filter(|&slot| wanted(slot) && !comes_to_rest(knob.control));
            let value = controls::value_at(knob.control, owners, &compiled.plan, &stay, music);
            if let (Some(slot), Some(value)) = (slot, value)
                && self.call_for(began, *knob, value, false)
            {
                self.movers.insert(*knob, slot);
                outgoing.push((began, controls::send_order(knob.control), *knob, slot, value));
            }
        }
        self.compiled.insert(stay.entry.section, compiled);
        send(outgoing, cues);
    }

    /// The values to send for a controller in a span of a stay.
    fn knob(
        &mut self,
        compiled: &Compiled,
        stay: &Stay,
        span: Span,
        (knob, owners, slot): (&Knob, &Owners, Slot),
        outgoing: &mut Vec<Outgoing>,
    ) {
        let plan = &compiled.plan;
        let moved = controls::changes(owners, plan, stay, span);
        let banked = compiled.chooses_bank(knob);
        let let_go = self.touched.get(knob).copied();
        let mut ticks = moved.clone();
        ticks.insert(span.from);
        ticks.extend(let_go.filter(|&at| span.contains(at)));
        let retaken = retaken(plan, knob, span);
        ticks.extend(retaken);
        for at in ticks {
            let value = controls::value_at(knob.control, owners, plan, stay, at);
            // The value before the first move is not known; the value of that move is the best guess.
            let first = || owners.first_move(plan).filter(|_| self.sent.get(knob).is_some());
            let Some(value) = value.or_else(first) else { continue };
            // After a bank change, the program takes effect only if it is sent again.
            let again = banked && moved.contains(&at);
            let up = (retaken == Some(at) && value > U14::default()).then(U14::default);
            for value in up.into_iter().chain([value]) {
                if self.call_for(at, *knob, value, again) {
                    self.movers.insert(*knob, slot);
                    outgoing.push((at, controls::send_order(knob.control), *knob, slot, value));
                }
            }
        }
    }

    /// Records the value that the song calls for at a tick, and returns whether to send it: it is not
    /// what was sent last. `again` sends it even then; while the player moves it nothing is sent.
    fn call_for(&mut self, at: Tick, knob: Knob, value: U14, again: bool) -> bool {
        self.called_for.send(at, knob, value);
        if self.touched.get(&knob).is_some_and(|&let_go| at < let_go) {
            return false;
        }
        // A pedal counts as up until a value for it is sent.
        let up = || (knob.control == Control::SUSTAIN).then(U14::default);
        let sent = self.sent.get(&knob).or_else(up);
        self.sent.send(at, knob, value);
        again || sent != Some(value)
    }

    /// Brings controllers to rest that were moved before but that this section neither moves nor sets:
    /// when it is entered, when their layer has just been silenced, and when the player's touch ends.
    /// The slot that moved a controller last sends this.
    fn bring_to_rest(
        &mut self,
        compiled: &Compiled,
        span: Span,
        begins: bool,
        wanted: &impl Fn(Slot) -> bool,
        outgoing: &mut Vec<Outgoing>,
    ) {
        let is_unused = |knob: &Knob| !compiled.knobs.contains_key(knob);
        let unused: Vec<Knob> =
            self.called_for.iter().map(|(knob, _)| knob).filter(is_unused).collect();
        for knob in unused {
            let Some(slot) = self.movers.get(&knob).copied().filter(|&slot| wanted(slot)) else {
                continue;
            };
            let let_go = self.touched.get(&knob).copied().filter(|&at| span.contains(at));
            let begin = begins.then_some(span.from);
            let Some(value) = at_rest(knob.control) else { continue };
            for at in begin.into_iter().chain(let_go) {
                if self.call_for(at, knob, value, false) {
                    outgoing.push((at, controls::send_order(knob.control), knob, slot, value));
                }
            }
        }
    }

    /// The messages that set up the instrument of a track, without what the section that plays moves or
    /// sets: another of its tracks may be on the channel.
    pub fn setup(&self, track: &Track, playing: Option<Letter>) -> Vec<(PortIx, crate::Message)> {
        let settings = self.free_settings(track, playing).into_iter();
        let sends = |(knob, value): (Knob, U7)| {
            moves(knob.channel, knob.control, value.into()).map(move |message| (knob.port, message))
        };
        settings.flat_map(sends).collect()
    }

    /// Those messages are sent at a tick: another track on the channel may have other settings, and has to send
    /// them again where it plays next.
    pub fn was_set_up(&mut self, at: Tick, track: &Track, playing: Option<Letter>) {
        for (knob, value) in self.free_settings(track, playing) {
            self.sent.correct(at, knob, value.into());
        }
    }

    /// The settings of a track that the section that plays neither moves nor sets.
    fn free_settings(&self, track: &Track, playing: Option<Letter>) -> Vec<(Knob, U7)> {
        let port = self.planner.port_of(track);
        let Some(channel) = track.channel else { return Vec::new() };
        let compiled = playing.and_then(|letter| self.compiled.get(&letter));
        let is_free =
            |knob: &Knob| compiled.is_none_or(|compiled| !compiled.knobs.contains_key(knob));
        let settings = controls::settings(track);
        let knobs = settings.map(|(control, value)| (Knob { port, channel, control }, value));
        knobs.filter(|(knob, _)| is_free(knob)).collect()
    }

    /// The messages that change the program of a track: its bank, and the program.
    pub fn program_change(&self, track: &Track, program: U7) -> Vec<(PortIx, crate::Message)> {
        let track = Track { program: Some(program), levels: Levels::default(), ..track.clone() };
        self.setup(&track, None)
    }

    /// Whether a track has anything to play in a section.
    pub fn plays(&self, section: Letter, track: TrackId) -> bool {
        let parts = self.compiled.get(&section).map(|compiled| &compiled.plan.parts);
        parts.is_some_and(|parts| parts.iter().any(|part| part.track.id == track))
    }

    /// The channels of a track in a section, lowest first: its own, or those that its passes play on;
    /// without either, channel 1.
    pub fn channels_of(&self, section: Letter, track: &Track) -> Vec<Channel> {
        let parts = self.compiled.get(&section).map(|compiled| &compiled.plan.parts);
        let part = parts.and_then(|parts| parts.iter().find(|part| part.track.id == track.id));
        let used: Vec<Channel> =
            part.map(|part| part.channels.iter().copied().collect()).unwrap_or_default();
        match track.channel {
            Some(channel) => vec![channel],
            None if used.is_empty() => vec![Channel::default()],
            None => used,
        }
    }

    /// The value last sent to a controller, by the song or the player.
    pub fn value_of(&self, knob: &Knob) -> Option<U14> {
        self.sent.get(knob)
    }

    /// The program last sent to a track's channel.
    pub fn program_of(&self, track: &Track) -> Option<U7> {
        self.sent.get(&self.program_knob(track)?).map(U14::lsb)
    }

    /// Records a program that was sent to a track's channel though no track sets it.
    pub fn overrule_program(&mut self, track: &Track, program: U7) {
        if let Some(knob) = self.program_knob(track) {
            self.called_for.remove(&knob);
            self.sent.overrule(knob, program.into());
        }
    }

    fn program_knob(&self, track: &Track) -> Option<Knob> {
        let (port, channel) = (self.planner.port_of(track), track.channel?);
        Some(Knob { port, channel, control: Control::Program })
    }

    /// The slot of a track.
    pub fn slot_of(&mut self, track: TrackId) -> Slot {
        self.planner.slot_of(track)
    }
}

/// A note that sounds may be in another pass by now, for example because the section got its own copy
/// of a shared pass. It keeps the voice it was struck with. `known` are the releases that were to come.
fn keep_voices(held: &mut [(Occurrence, PortIx)], mut known: Vec<Release>, from: Tick) {
    // Notes that are still to be struck have no voice yet.
    known.retain(|release| release.on < from);
    let struck: BTreeSet<Voice> = known.iter().map(|release| release.voice).collect();
    known.retain(|release| held.iter().all(|(note, _)| note.voice != release.voice));
    for (note, port) in held.iter_mut().filter(|(note, _)| !struck.contains(&note.voice)) {
        let is_same = |release: &Release| {
            let Release { voice, port: at, channel, key, .. } = *release;
            let place = (at, channel, key, voice.note, voice.cycle);
            place == (*port, note.channel, note.key, note.voice.note, note.voice.cycle)
        };
        if let Some(place) = known.iter().position(is_same) {
            note.voice = known.swap_remove(place).voice;
        }
    }
}

/// Adds the messages that send these values, in order.
fn send(mut outgoing: Vec<Outgoing>, cues: &mut Vec<Cue>) {
    outgoing.sort_by_key(|&(at, order, knob, ..)| (at, order, knob));
    for (at, _, knob, slot, value) in outgoing {
        for message in moves(knob.channel, knob.control, value) {
            let action = Action::Send(message);
            cues.push(Cue { at, slot, epoch: 0, port: knob.port, action });
        }
    }
}

/// The system-exclusive messages of a span.
fn messages(
    plan: &Plan,
    stay: &Stay,
    span: Span,
    wanted: &impl Fn(Slot) -> bool,
    cues: &mut Vec<Cue>,
) {
    for item in plan.items.iter().filter(|item| wanted(item.slot)) {
        for (at, bytes) in occurrences::messages(item, stay, span) {
            let action = Action::SysEx(bytes);
            cues.push(Cue { at, slot: item.slot, epoch: 0, port: item.port, action });
        }
    }
}

/// The tick in a span at which keys on the channel of a sustain pedal change. It goes up and down again there:
/// what it holds is in the old key.
fn retaken(plan: &Plan, knob: &Knob, span: Span) -> Option<Tick> {
    let is_on = |item: &&Item| {
        item.port == knob.port && item.channel.is_none_or(|channel| channel == knob.channel)
    };
    let mut items = plan.items.iter().filter(|_| knob.control == Control::SUSTAIN).filter(is_on);
    items.find_map(|item| Some(item.key.span.to).filter(|&at| span.contains(at)))
}

/// Whether anything of a stay can sound in a span. Its notes may start up to `early` ticks before it and
/// `late` ticks after it.
fn reaches(stay: &Stay, (early, late): (Tick, Tick), span: Span) -> bool {
    stay.entry.at - early < span.to && stay.entry.until + late >= span.from
}

#[cfg(test)]
mod tests;
