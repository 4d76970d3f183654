//! The scheduler without its thread: time goes in, due messages come out.
//!
//! In: [`Order`]s, [`ThruEvent`]s and the time. Out: messages to a [`Sink`], each with the time at
//! which it was due, even if it is sent later. The same orders give the same messages in the same
//! order, however late the machine is called.
//!
//! | call | what it does |
//! | --- | --- |
//! | [`Machine::handle`] | plays what is due (unless the order is a cue or a keep), then carries out an order |
//! | [`Machine::thru`] | plays what is due, then what was just played by hand |
//! | [`Machine::poll`] | plays what is due, and sends full ports what they are owed |
//! | [`Machine::next_deadline`] | returns when to poll next |
//!
//! While the time is held before a tick, cues from there on are due never; they wait in the queue.
//!
//! Cues of one tick are sent in the order pulses, lifts, controllers, presses; a lift whose press is
//! at the same tick is sent after the presses. While the transport is stopped a cue is due at once.
//! Quarter frames of time code are generated here, counted in nanoseconds from the start, because
//! time code does not depend on the tempo.
//!
//! For one slot, the engine sends `Revise`, then a `Keep` for each voice that continues and the new
//! epoch's cues, then `Settle`. A press of the new epoch at a tick that was already played is not
//! played again: if its voice is sounding, it continues, otherwise the press is dropped. Lifts and
//! controllers are played late.
//!
//! Nothing is allocated after [`Machine::new`], and nothing blocks. Overflows are counted: a press or
//! controller that finds no room is dropped. A lift is never dropped: if it finds no room, it is
//! played early and its press is removed. [`Machine::retired`] returns used system-exclusive bytes,
//! to be freed on another thread.

mod backlog;
mod bin;
mod outlet;
mod queue;
mod sink;
mod streams;
mod time_codes;
mod wires;

pub use self::outlet::Service;
pub use self::sink::{Sent, Sink};

use crate::key_book::{Press, Sounding};
use crate::meter::{Kind, Meter};
use crate::touch::{ThruEvent, Touch};
use bin::Bin;
use chaconne_engine::{Action, Address, Cue, Hand, Order, PortIx, Releases, Slot, Voice};
use chaconne_midi::{Message, U7};
use chaconne_time::{Ns, Tempo, Tick, Timeline};
use queue::Entry;
use std::sync::Arc;
use streams::{Stream, Streams};
use time_codes::TimeCodes;
use wires::{Timing, Wires, is_key};

/// How long until a full port is retried: 2 ms.
const RETRY: Ns = 2_000_000;
/// How many cues one poll plays at most, so that even a flood of cues leaves time for through-play
/// and for the switch that silences everything.
const BURST: usize = 256;
/// The time at which held cues are due, whatever their port's shift: later than any other.
const NEVER: Ns = Ns::MAX / 4;
/// How many tempo changes can be stored: those of the last second and those to come.
const TEMPI: usize = 4096;
/// How many system-exclusive messages can wait to be freed elsewhere.
const RETIRED: usize = 1024;
/// The number of slots: those of tracks, and the program's own three.
const SLOTS: usize = Slot::MOST as usize + 3;

/// The sizes of a machine's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// How many cues can wait for their time; a quarter of the places is reserved for lifts.
    pub cues: usize,
    /// How many voices can hold keys at a time.
    pub voices: usize,
}

/// The scheduler without its thread. See the crate's documentation for the rules that the engine
/// keeps.
#[derive(Debug)]
pub struct Machine {
    wires: Wires,
    streams: Streams,
    time_codes: TimeCodes,
    services: Box<[Service]>,
    timeline: Timeline,
    rolling: bool,
    shut: bool,
    /// The ports that were sent pulses or a start since their last stop, a bit each.
    clocked: u32,
    /// The time of the last call.
    now: Ns,
    /// The epoch of each slot.
    epochs: Box<[u32]>,
    /// The last tick that older epochs have played, for each slot in each stream.
    floors: Box<[Tick]>,
    /// Whether the queues may contain void cues.
    stale: bool,
    /// Whether the sink still has the rest of a message to send.
    unfinished: bool,
    retired: Bin,
    meter: Arc<Meter>,
}

impl Machine {
    /// A stopped machine for the ports of `meter`. Ports that `services` leaves out get the default
    /// service.
    pub fn new(meter: Arc<Meter>, limits: Limits, services: &[Service]) -> Machine {
        let streams = Streams::new(services, limits.cues);
        let floors = vec![Tick::MIN; SLOTS * streams.count()].into();
        let mut known = vec![Service::default(); PortIx::MOST];
        known.iter_mut().zip(services).for_each(|(place, &service)| *place = service);
        meter.set_early(streams.earliest());
        Machine {
            wires: Wires::new(services, meter.clone(), limits.voices),
            streams,
            time_codes: TimeCodes::new(services),
            services: known.into(),
            timeline: Timeline::with_capacity(Tick::ZERO, 0, Tempo::DEFAULT, TEMPI),
            rolling: false,
            shut: false,
            clocked: 0,
            now: 0,
            epochs: vec![0; SLOTS].into(),
            floors,
            stale: false,
            unfinished: false,
            retired: Bin::new(RETIRED),
            meter,
        }
    }

    /// Carries out an order.
    pub fn handle(&mut self, now: Ns, order: Order, sink: &mut impl Sink) {
        self.now = now;
        match order {
            Order::Play(cue) => return self.take(cue, sink),
            Order::Keep { slot, voice, address } => {
                self.wires.book.keep(slot, voice, address);
                return;
            }
            _ => self.play_due(usize::MAX, sink),
        }
        match order {
            Order::Roll { at, ns, tempo, song } => {
                self.roll(at, ns, tempo);
                self.time_codes.start(ns, song);
            }
            Order::Tempo { at, tempo } => self.change_tempo(|line| line.push(at, tempo)),
            Order::Hold { at } => self.timeline.hold(at),
            Order::Go { at, ns, tempo } => {
                self.change_tempo(|line| line.go(at, ns, tempo));
                // Even if there was no room for the tempo.
                self.timeline.hold(None);
            }
            Order::Revise { slot, epoch } => self.revise(slot, epoch),
            Order::Settle { slot } => self.release(Releases::unkept(slot), sink),
            Order::Now { port, message } => self.send_now(port, message, sink),
            Order::Halt => {
                self.stop();
                self.wires.hurry(now);
                self.release(Releases::played(), sink);
                self.wires.pump_all(now, sink);
            }
            Order::Silence => {
                self.release(Releases::all(), sink);
                self.wires.all_off(now, sink);
            }
            Order::Play(_) | Order::Keep { .. } => {}
        }
    }

    /// Plays what is due, then sends on what was played by hand.
    pub fn thru(&mut self, now: Ns, event: ThruEvent, sink: &mut impl Sink) {
        self.now = now;
        self.play_due(BURST, sink);
        let timing = Timing { now, due: event.stamp, kind: Kind::Through };
        match event.touch {
            Touch::Press { address, velocity, voice } => {
                self.press(timing, address, velocity, Slot::LIVE, voice, sink);
            }
            Touch::Lift { address, velocity, voice } => {
                self.lift(timing, address, velocity, Slot::LIVE, voice, sink);
            }
            Touch::Send { port, message } => self.send(timing, port, message, sink),
        }
    }

    /// Plays what is due, at most 256 cues, and sends full ports what they are owed.
    pub fn poll(&mut self, now: Ns, sink: &mut impl Sink) {
        self.now = now;
        self.wires.pump_all(now, sink);
        self.play_due(BURST, sink);
        self.unfinished = sink.flush();
    }

    /// When to poll next; `None` if nothing waits. May be in the past.
    pub fn next_deadline(&self) -> Option<Ns> {
        [self.next_due(), self.next_try()].into_iter().flatten().min()
    }

    /// When the next message is due, in nanoseconds; `None` if there is none.
    pub fn next_due(&self) -> Option<Ns> {
        let cue = self.streams.first(|stream, cue| self.due(cue.at) + stream.shift);
        let all = [
            cue.map(|(_, due)| due).filter(|&due| due < NEVER),
            self.time_codes.next_due(),
            self.wires.next_due(),
        ];
        all.into_iter().flatten().min()
    }

    /// When to try a full port again.
    fn next_try(&self) -> Option<Ns> {
        (self.unfinished || self.wires.is_full()).then_some(self.now + RETRY)
    }

    /// Stops without playing what is due: empties the queue, releases everything, and sends a stop to
    /// the ports that follow our clock. Until [`Machine::reopen`] only releases are sent.
    pub fn shut(&mut self, now: Ns, sink: &mut impl Sink) {
        self.now = now;
        self.shut = true;
        self.stop();
        self.wires.hurry(now);
        self.release(Releases::all(), sink);
        self.stop_clocks(sink);
        self.wires.pump_all(now, sink);
    }

    /// Lets messages out again after [`Machine::shut`].
    pub fn reopen(&mut self) {
        self.shut = false;
    }

    /// Whether the transport is rolling.
    pub fn is_rolling(&self) -> bool {
        self.rolling
    }

    /// Whether only releases are sent.
    pub fn is_shut(&self) -> bool {
        self.shut
    }

    /// Whether no key is down at any port, nothing waits for a port, and no message is half sent.
    pub fn is_silent(&self) -> bool {
        self.wires.book.down() == 0 && !self.wires.is_busy() && !self.unfinished
    }

    /// Takes notice that a port is gone: forgets its keys, and drops messages for it.
    pub fn lose(&mut self, port: PortIx) {
        self.wires.lose(port);
    }

    /// Takes notice that a port is open (again): silences notes that may still sound at its far end.
    pub fn find(&mut self, now: Ns, port: PortIx, sink: &mut impl Sink) {
        self.now = now;
        self.wires.find(now, port, sink);
    }

    /// Sets how long before they go out, in nanoseconds, a port gets its messages. Only a lost port
    /// whose [`Service`] varies is changed, for when it is [found](Machine::find) again. The meter
    /// then reports how early the engine must order cues.
    pub fn serve(&mut self, port: PortIx, ahead: Ns) {
        let Some(service) = self.services.get_mut(usize::from(port.0)) else { return };
        if !service.varies || service.ahead == ahead || !self.wires.is_lost(port) {
            return;
        }
        *service = service.with_ahead(ahead);
        self.wires.serve(port, *service);
        self.time_codes.set_shift(port, service.shift);
        let stream = self.streams.of(port);
        let ports = (0..self.meter.ports().min(PortIx::MOST) as u8).map(PortIx);
        let all = ports.filter(|&other| {
            let is_served = other == port || !self.wires.is_lost(other);
            is_served && self.streams.of(other) == stream
        });
        let shifts = all.map(|port| self.services[usize::from(port.0)].shift);
        let shift = shifts.fold(0, Ns::min);
        self.streams.get(stream).shift = shift;
        self.meter.set_early(self.streams.earliest());
    }

    /// Returns used system-exclusive bytes, one message at a time, to be freed on another thread.
    pub fn retired(&mut self) -> Option<Arc<[u8]>> {
        self.retired.take().or_else(|| self.wires.bin().take())
    }

    /// How many cues are waiting in the queues.
    pub fn queued(&self) -> usize {
        self.streams.len()
    }

    /// The keys and pedals that are down, for silencing the ports without this machine.
    pub fn sounding(&self) -> &Arc<Sounding> {
        self.wires.book.sounding()
    }

    fn roll(&mut self, at: Tick, ns: Ns, tempo: Tempo) {
        self.timeline.restart(at, ns, tempo);
        self.rolling = true;
        self.forget_played();
    }

    fn change_tempo(&mut self, change: impl FnOnce(&mut Timeline)) {
        if self.timeline.len() >= TEMPI {
            self.timeline.prune(self.timeline.tick_at(self.now - 1_000_000_000));
        }
        if self.timeline.len() < TEMPI {
            change(&mut self.timeline);
        } else {
            self.meter.drop_order();
        }
    }

    fn revise(&mut self, slot: Slot, number: u32) {
        let index = index(slot);
        let Some(epoch) = self.epochs.get_mut(index) else { return };
        *epoch = number;
        let floors = self.floors.iter_mut().skip(index * self.streams.count());
        for (floor, stream) in floors.zip(self.streams.iter()) {
            *floor = stream.played;
        }
        self.stale = true;
        self.wires.book.revise(slot);
    }

    /// Stops the clock and empties the queue.
    fn stop(&mut self) {
        for cue in self.streams.iter_mut().flat_map(|stream| stream.queue.drain()) {
            retire(&mut self.retired, cue);
        }
        self.stale = false;
        self.rolling = false;
        self.time_codes.stop();
        self.forget_played();
    }

    fn forget_played(&mut self) {
        self.streams.iter_mut().for_each(|stream| stream.played = Tick::MIN);
        self.floors.fill(Tick::MIN);
    }

    /// Takes a cue into the queue.
    fn take(&mut self, cue: Cue, sink: &mut impl Sink) {
        let slot = index(cue.slot);
        let Some(&epoch) = self.epochs.get(slot).filter(|_| self.wires.knows(cue.port)) else {
            self.meter.refuse();
            return retire(&mut self.retired, cue);
        };
        if self.shut || cue.epoch < epoch {
            return retire(&mut self.retired, cue);
        }
        let stream = self.streams.of(cue.port);
        if let Action::Press { voice, channel, key, .. } = cue.action
            && cue.at <= self.floors[slot * self.streams.count() + stream]
        {
            // An older epoch has played it. If it is still sounding, it continues.
            self.wires.book.keep(cue.slot, voice, Address { port: cue.port, channel, key });
            return;
        }
        if self.stale && !self.streams.get(stream).queue.has_room(&cue) {
            self.sweep();
        }
        if let Err(cue) = self.streams.get(stream).queue.push(cue) {
            self.meter.drop_order();
            self.overflow(cue, sink);
        }
    }

    /// Handles a cue that found no room: a lift is played at once, and its press is removed.
    fn overflow(&mut self, cue: Cue, sink: &mut impl Sink) {
        let Action::Lift { channel, key, velocity, voice } = cue.action else {
            return retire(&mut self.retired, cue);
        };
        let stream = self.streams.of(cue.port);
        self.streams.get(stream).queue.retain(|queued| {
            queued.slot != cue.slot
                || !matches!(queued.action, Action::Press { voice: other, .. } if other == voice)
        });
        let address = Address { port: cue.port, channel, key };
        self.lift(Timing::release(self.now), address, velocity, cue.slot, voice, sink);
    }

    /// Removes the void cues from the queue.
    fn sweep(&mut self) {
        let (epochs, retired) = (&self.epochs, &mut self.retired);
        for stream in self.streams.iter_mut() {
            stream.queue.retain(|cue| {
                let void = is_void(epochs, cue);
                if let (true, Action::SysEx(bytes)) = (void, &cue.action) {
                    // This clone outlives the cue, so dropping the cue frees nothing.
                    retired.put(bytes.clone());
                }
                !void
            });
        }
        self.stale = false;
    }

    fn due(&self, at: Tick) -> Ns {
        match self.rolling {
            true if self.timeline.is_held(at) => NEVER * 2,
            true => self.timeline.ns_at(at),
            false => self.now,
        }
    }

    /// Plays what is due by now, at most `most` cues.
    fn play_due(&mut self, most: usize, sink: &mut impl Sink) {
        for _ in 0..most {
            let Machine { streams, epochs, retired, .. } = self;
            streams.shed(|cue| is_void(epochs, cue), |entry| retire(retired, entry.cue));
            let next = self.streams.first(|stream, cue| self.due(cue.at) + stream.shift);
            let next = next.filter(|&(_, due)| due <= self.now);
            // Time code is sent before cues that are due at the same time, as pulses are.
            let first = next.map_or(self.now, |(_, due)| due);
            if let Some((due, port, message)) = self.time_codes.take(first) {
                let timing = Timing { now: self.now, due, kind: Kind::Other };
                self.send(timing, port, message, sink);
                continue;
            }
            let Some((stream, due)) = next else { break };
            let Stream { shift, queue, played } = self.streams.get(stream);
            let Some(entry) = queue.pop() else { break };
            *played = entry.cue.at.max(*played);
            let nominal = due - *shift;
            self.play(nominal, entry, sink);
        }
        self.mark_played();
    }

    /// Records how far each stream has played, if no cue of it is still due.
    fn mark_played(&mut self) {
        if !self.rolling {
            return;
        }
        let Machine { streams, timeline, now, .. } = self;
        for Stream { shift, queue, played } in streams.iter_mut() {
            let reached = *now - *shift;
            let waits = |at| timeline.is_held(at) || timeline.ns_at(at) > reached;
            if queue.peek().is_none_or(|cue| waits(cue.at)) {
                *played = timeline.tick_at(reached).max(*played);
            }
        }
    }

    /// Plays a cue that is due at `nominal`, plus the shift of its port.
    fn play(&mut self, nominal: Ns, entry: Entry, sink: &mut impl Sink) {
        let Cue { slot, port, .. } = entry.cue;
        let shift = self.services.get(usize::from(port.0)).map_or(0, |service| service.shift);
        // While stopped, a cue is due at once.
        let due = if self.rolling { nominal + shift } else { self.now };
        let timing = |kind| Timing { now: self.now, due, kind };
        match &entry.cue.action {
            &Action::Press { channel, key, velocity, voice } => {
                let address = Address { port, channel, key };
                self.press(timing(Kind::Note), address, velocity, slot, voice, sink);
            }
            &Action::Lift { voice, channel, key, .. }
                if !entry.is_deferred()
                    && !self.wires.book.keep(slot, voice, Address { port, channel, key }) =>
            {
                let stream = self.streams.of(port);
                self.streams.get(stream).queue.defer(entry);
            }
            &Action::Lift { channel, key, velocity, voice } => {
                let address = Address { port, channel, key };
                self.lift(timing(Kind::Note), address, velocity, slot, voice, sink);
            }
            &Action::Send(message) => {
                let kind = if message == Message::Clock { Kind::Pulse } else { Kind::Other };
                self.send(timing(kind), port, message, sink);
            }
            Action::SysEx(_) => {
                let timing = timing(Kind::Other);
                if let Action::SysEx(bytes) = entry.cue.action {
                    self.wires.send_bytes(timing, port, bytes, sink);
                }
            }
        }
    }

    fn press(
        &mut self,
        timing: Timing,
        address: Address,
        velocity: U7,
        slot: Slot,
        voice: Voice,
        sink: &mut impl Sink,
    ) {
        if self.shut || self.wires.is_lost(address.port) {
            return self.meter.drop_message(usize::from(address.port.0));
        }
        // A note-on of velocity 0 would be a release.
        let velocity = velocity.max(U7::low_bits(1));
        match self.wires.book.press(address, velocity, slot, voice) {
            Press::Send(messages) => {
                for message in messages.into_iter().flatten() {
                    self.wires.send(timing, address.port, message, sink);
                }
            }
            Press::Held => {}
            Press::Refused => self.meter.refuse(),
        }
    }

    fn lift(
        &mut self,
        timing: Timing,
        address: Address,
        velocity: U7,
        slot: Slot,
        voice: Voice,
        sink: &mut impl Sink,
    ) {
        if let Some(release) = self.wires.book.lift(address, velocity, slot, voice) {
            self.wires.send(timing, address.port, release, sink);
        }
    }

    fn send(&mut self, timing: Timing, port: PortIx, message: Message, sink: &mut impl Sink) {
        if is_key(message) || !self.wires.knows(port) {
            return self.meter.refuse();
        }
        if self.shut {
            return self.meter.drop_message(usize::from(port.0));
        }
        if !self.follows_clock(port, message) {
            return;
        }
        let hand = if timing.kind == Kind::Through { Hand::Live } else { Hand::Song };
        let is_lost = self.wires.is_lost(port);
        let noted = if is_lost { Some(message) } else { self.wires.book.note(port, message, hand) };
        if let Some(message) = noted {
            self.wires.send(timing, port, message, sink);
        }
    }

    /// Records which ports follow our clock. Returns whether to send the message: a port that was
    /// already sent a stop needs no other.
    fn follows_clock(&mut self, port: PortIx, message: Message) -> bool {
        let bit = 1 << port.0;
        match message {
            Message::Clock | Message::Start | Message::Continue => self.clocked |= bit,
            Message::Stop if self.clocked & bit == 0 => return false,
            Message::Stop => self.clocked &= !bit,
            _ => {}
        }
        true
    }

    /// Sends a stop to the ports that follow our clock.
    fn stop_clocks(&mut self, sink: &mut impl Sink) {
        let clocked = std::mem::take(&mut self.clocked);
        for port in (0..PortIx::MOST as u8).filter(|port| clocked >> port & 1 == 1) {
            let timing = Timing { now: self.now, due: self.now, kind: Kind::Prompt };
            self.wires.send(timing, PortIx(port), Message::Stop, sink);
        }
    }

    fn send_now(&mut self, port: PortIx, message: Message, sink: &mut impl Sink) {
        self.send(Timing { now: self.now, due: self.now, kind: Kind::Prompt }, port, message, sink);
    }

    /// Releases keys, then brings controllers to rest.
    fn release(&mut self, mut releases: Releases, sink: &mut impl Sink) {
        while let Some((port, message)) = self.wires.book.next_release(&mut releases) {
            self.wires.send(Timing::release(self.now), port, message, sink);
        }
    }
}

/// The index of a slot in the list of epochs; past its end for slots that do not exist.
fn index(slot: Slot) -> usize {
    match slot {
        Slot(track) if track < Slot::MOST => usize::from(track),
        Slot(own) if own >= Slot::CLOCK.0 => usize::from(Slot::MOST + (Slot::LIVE.0 - own)),
        _ => usize::MAX,
    }
}

/// Whether a newer epoch of its slot has begun.
fn is_void(epochs: &[u32], cue: &Cue) -> bool {
    epochs.get(index(cue.slot)).is_some_and(|&epoch| cue.epoch < epoch)
}

/// Keeps the system-exclusive bytes of a cue, to be freed on another thread.
fn retire(retired: &mut Bin, cue: Cue) {
    if let Action::SysEx(bytes) = cue.action {
        retired.put(bytes);
    }
}

#[cfg(test)]
mod tests;
