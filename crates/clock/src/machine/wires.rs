//! What is on the wire of each port, what waits for it, and what is owed to it.
//!
//! In: messages the ledger or the queue wants sent. Out: calls to the sink. A port with a positive
//! offset gets its messages that much later; one that is full, when it takes them again. Until
//! then they wait in a [`Lane`], which is small: what finds no room there is dropped and counted,
//! but for a release, the lifting of a pedal and a stop, which are [`Owed`]. No port waits for
//! another. A key is released only if its note-on went out, so a wire never carries a note-off too
//! many; a press that still waits when its key is to be silent is taken out.

use super::bin::Bin;
use super::lane::{Lane, Load, Waiting};
use super::owed::Owed;
use super::{Sent, Sink};
use crate::meter::{Kind, Meter};
use crate::ports::PortState;
use crate::sounding::{SUSTAIN, Sounding, channels};
use chaconne_engine::{Message, PortIx};
use chaconne_song::U7;
use chaconne_time::Ns;
use std::sync::Arc;

/// How much can wait for a port that is full.
const BACKLOG: usize = 128;
/// How much can wait for a port that is served later than due.
const DELAYED: usize = 4096;
/// How many system-exclusive messages can wait to be dropped elsewhere.
const RETIRED: usize = 1024;
/// Keys of a port: 16 channels of 128.
const KEYS: usize = 16 * 128;

/// When a message was due, when that is, and how it is counted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Timing {
    pub now: Ns,
    /// When it is to be handed to its port.
    pub due: Ns,
    pub kind: Kind,
}

impl Timing {
    /// A release that nothing was due for.
    pub fn release(now: Ns) -> Timing {
        Timing { now, due: now, kind: Kind::Release }
    }
}

/// How the scheduler serves a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Service {
    /// How much later (or, negative, earlier) than due everything but through-play is handed to
    /// it, in nanoseconds.
    pub shift: Ns,
    /// How long before it goes out a message is handed to it, in nanoseconds.
    pub ahead: Ns,
}

/// The state of one port.
#[derive(Debug)]
struct Wire {
    service: Service,
    lost: bool,
    /// Whether it was full when it was last tried.
    full: bool,
    /// Channels on which a key was ever struck.
    used: u16,
    lane: Lane,
    /// How many presses of each key wait.
    coming: Box<[u8]>,
    owed: Owed,
}

impl Wire {
    fn new(service: Service) -> Wire {
        let lane = Lane::new(if service.shift > 0 { DELAYED } else { BACKLOG });
        let (owed, coming) = (Owed::new(), vec![0; KEYS].into());
        Wire { service, lost: false, full: false, used: 0, lane, coming, owed }
    }

    /// From when on a message may go.
    fn from(&mut self, timing: Timing, message: Option<Message>) -> Ns {
        match timing.kind {
            Kind::Through => message.and_then(|message| self.lane.key_until(message)),
            Kind::Release => None,
            _ if self.service.shift > 0 => Some(timing.due),
            _ => None,
        }
        .unwrap_or(timing.now)
    }

    /// Takes out of what waits what a release would come before: presses of its key, treading on
    /// its pedal.
    fn cancel(&mut self, message: Message, meter: &Meter, index: usize) {
        if let Message::Change { channel, controller: SUSTAIN, .. } = message {
            self.lane.cancel(|other| {
                matches!(other, Message::Change { channel: on, controller: SUSTAIN, .. }
                    if on == channel)
            });
        }
        let Some(cell) = cell_of(message).filter(|&cell| self.coming[cell] > 0) else { return };
        self.lane.cancel(|other| {
            matches!(other, Message::NoteOn { .. }) && cell_of(other) == Some(cell)
        });
        for _ in 0..std::mem::take(&mut self.coming[cell]) {
            meter.drop_message(index);
        }
    }

    /// Counts presses that wait.
    fn expect(&mut self, message: Option<Message>, more: bool) {
        if let Some(message @ Message::NoteOn { .. }) = message
            && let Some(cell) = cell_of(message)
        {
            let count = &mut self.coming[cell];
            *count = if more { count.saturating_add(1) } else { count.saturating_sub(1) };
        }
    }

    /// Whether something waits or is owed.
    fn is_busy(&self) -> bool {
        !self.lane.is_empty() || self.owed.is_some()
    }

    /// Forgets all that waits.
    fn forget(&mut self, bin: &mut Bin) {
        while let Some(waiting) = self.lane.pop() {
            discard(bin, waiting);
        }
        self.coming.fill(0);
        (self.owed, self.full) = (Owed::new(), false);
    }
}

fn cell_of(message: Message) -> Option<usize> {
    match message {
        Message::NoteOn { channel, key, .. } | Message::NoteOff { channel, key, .. } => {
            Some(usize::from(channel.wire()) * 128 + usize::from(key.get()))
        }
        _ => None,
    }
}

fn discard(bin: &mut Bin, waiting: Waiting) {
    if let Load::SysEx(bytes) = waiting.load {
        bin.put(bytes);
    }
}

/// The wires of all ports.
#[derive(Debug)]
pub(crate) struct Wires {
    wires: Box<[Wire]>,
    sounding: Arc<Sounding>,
    meter: Arc<Meter>,
    down: usize,
    /// Ports that were lost since this was last asked, a bit each.
    fresh_losses: u32,
    bin: Bin,
}

impl Wires {
    /// Wires for as many ports as `meter` counts for; those that `services` leaves out are served
    /// plainly.
    pub fn new(services: &[Service], meter: Arc<Meter>) -> Wires {
        let ports = meter.ports().min(PortIx::MOST);
        let service = |port| services.get(port).copied().unwrap_or_default();
        let wires = (0..ports).map(|port| Wire::new(service(port))).collect();
        let (sounding, bin) = (Arc::new(Sounding::new(ports)), Bin::new(RETIRED));
        Wires { wires, sounding, meter, down: 0, fresh_losses: 0, bin }
    }

    pub fn sounding(&self) -> &Arc<Sounding> {
        &self.sounding
    }

    /// Whether there is such a port.
    pub fn knows(&self, port: PortIx) -> bool {
        usize::from(port.0) < self.wires.len()
    }

    /// Whether the port is gone, or was never there.
    pub fn is_lost(&self, port: PortIx) -> bool {
        self.wires.get(usize::from(port.0)).is_none_or(|wire| wire.lost)
    }

    /// How many keys are down.
    pub fn down(&self) -> usize {
        self.down
    }

    /// Whether something waits for some port, or is owed to it.
    pub fn is_busy(&self) -> bool {
        self.wires.iter().any(Wire::is_busy)
    }

    /// When the next message that waits for its moment is to go.
    pub fn next_due(&self) -> Option<Ns> {
        let waits = |wire: &&Wire| !wire.full;
        self.wires.iter().filter(waits).filter_map(|wire| wire.lane.next()).min()
    }

    /// Whether some port is full, and so to be tried again.
    pub fn is_full(&self) -> bool {
        self.wires.iter().any(|wire| wire.full || wire.owed.is_some())
    }

    /// Sends a message. Whether it is out or will be.
    pub fn send(
        &mut self,
        timing: Timing,
        port: PortIx,
        message: Message,
        sink: &mut impl Sink,
    ) -> bool {
        let index = usize::from(port.0);
        if self.is_lost(port) {
            self.drop_unless_idle(index, message);
            return false;
        }
        if self.wires[index].is_busy() {
            self.pump(timing.now, index, sink);
        }
        if timing.kind == Kind::Release {
            self.wires[index].cancel(message, &self.meter, index);
        }
        if self.is_idle_release(index, message) && !self.is_coming(index, message) {
            return false;
        }
        let load = Load::Message(message);
        match self.pass(timing, index, load, sink) {
            Ok(()) => true,
            Err(_) if !self.is_lost(port) && self.wires[index].owed.owe(message) => true,
            Err(_) => {
                self.meter.drop_message(index);
                false
            }
        }
    }

    /// Sends a system-exclusive message.
    pub fn send_bytes(
        &mut self,
        timing: Timing,
        port: PortIx,
        bytes: Arc<[u8]>,
        sink: &mut impl Sink,
    ) {
        let index = usize::from(port.0);
        let passed = if self.is_lost(port) {
            Err(Load::SysEx(bytes))
        } else {
            self.pump(timing.now, index, sink);
            self.pass(timing, index, Load::SysEx(bytes), sink)
        };
        if let Err(load) = passed {
            self.meter.drop_message(index);
            if let Load::SysEx(bytes) = load {
                self.bin.put(bytes);
            }
        }
    }

    /// Sends to every channel that was ever used that its pedal is up, all notes and all sound
    /// are off (MIDI 1.0, "Channel Mode Messages"): for what hangs beyond our knowledge.
    pub fn all_off(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.wires.len() {
            self.port_off(now, index, sink);
        }
    }

    fn port_off(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        for channel in channels(self.wires[index].used) {
            for controller in [64, 123, 120].map(U7::low_bits) {
                let off = Message::Change { channel, controller, value: U7::MIN };
                self.send(Timing::release(now), PortIx(index as u8), off, sink);
            }
        }
    }

    /// Sends what waited for this moment, and what full ports take of what waits and is owed.
    pub fn pump_all(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.wires.len() {
            if self.wires[index].is_busy() {
                self.pump(now, index, sink);
            }
        }
    }

    /// Lets all that waits go at once, but for presses and pulses, which are dropped.
    pub fn hurry(&mut self, now: Ns) {
        let Wires { wires, bin, meter, .. } = self;
        for (index, wire) in wires.iter_mut().enumerate().filter(|(_, wire)| wire.is_busy()) {
            wire.lane.hurry(now, |waiting| {
                meter.drop_message(index);
                discard(bin, waiting);
            });
            wire.coming.fill(0);
        }
    }

    /// The port is gone: what sounded there is forgotten, and nothing is sent there until it is
    /// [found](Wires::find) again.
    pub fn lose(&mut self, port: PortIx) {
        let index = usize::from(port.0);
        let Some(wire) = self.wires.get_mut(index).filter(|wire| !wire.lost) else { return };
        wire.lost = true;
        wire.forget(&mut self.bin);
        self.down -= self.sounding.forget(index);
        self.fresh_losses |= 1 << index;
        if self.meter.state(index) == PortState::Open {
            self.meter.set_state(index, PortState::Lost);
        }
        self.meter.set_sounding(self.down);
    }

    /// The port is there (again). What may have gone on sounding at its far end is silenced.
    pub fn find(&mut self, now: Ns, port: PortIx, sink: &mut impl Sink) {
        if let Some(wire) = self.wires.get_mut(usize::from(port.0)) {
            wire.lost = false;
            self.meter.set_state(usize::from(port.0), PortState::Open);
            self.port_off(now, usize::from(port.0), sink);
        }
    }

    /// The ports that were lost since the last call.
    pub fn take_losses(&mut self) -> impl Iterator<Item = PortIx> + use<> {
        let mask = std::mem::take(&mut self.fresh_losses);
        (0..32).filter(move |bit| mask >> bit & 1 == 1).map(PortIx)
    }

    /// System-exclusive bytes that are done with, to be dropped elsewhere.
    pub fn bin(&mut self) -> &mut Bin {
        &mut self.bin
    }

    /// Whether a message releases a key that is not down.
    fn is_idle_release(&self, index: usize, message: Message) -> bool {
        match message {
            Message::NoteOff { channel, key, .. } => !self.sounding.is_down(index, channel, key),
            _ => false,
        }
    }

    /// Whether a press of the key of a message waits.
    fn is_coming(&self, index: usize, message: Message) -> bool {
        cell_of(message).is_some_and(|cell| self.wires[index].coming[cell] > 0)
    }

    /// Counts a message for a port that is gone, but for releases of what is not down there.
    fn drop_unless_idle(&self, index: usize, message: Message) {
        if !matches!(message, Message::NoteOff { .. }) {
            self.meter.drop_message(index);
        }
    }

    /// Sends something at once where nothing waits before it, or has it wait.
    fn pass(
        &mut self,
        timing: Timing,
        index: usize,
        load: Load,
        sink: &mut impl Sink,
    ) -> Result<(), Load> {
        let Timing { now, due, kind } = timing;
        let wire = &mut self.wires[index];
        if wire.lost || wire.owed.is_some() {
            return Err(load);
        }
        let message = match load {
            Load::Message(message) => Some(message),
            Load::SysEx(_) => None,
        };
        let from = wire.from(timing, message);
        let waiting = Waiting { from, due, kind, load };
        let waiting = if from <= now && wire.lane.is_empty() {
            match self.put_out(now, index, waiting, sink) {
                None => return Ok(()),
                Some(waiting) if self.wires[index].lost => return Err(waiting.load),
                Some(waiting) => waiting,
            }
        } else {
            waiting
        };
        let wire = &mut self.wires[index];
        wire.lane.put(waiting).map_err(|waiting| waiting.load)?;
        wire.expect(message, true);
        Ok(())
    }

    /// Sends what waits and may go, and then what is owed.
    fn pump(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        while self.wires[index].lane.ready(now).is_some()
            && let Some(waiting) = self.wires[index].lane.pop()
        {
            let message = waiting.message();
            self.wires[index].expect(message, false);
            if waiting.is_stale(now) {
                self.meter.drop_message(index);
                discard(&mut self.bin, waiting);
            } else if message.is_some_and(|message| self.is_idle_release(index, message)) {
                // Its press was dropped.
            } else if let Some(waiting) = self.put_out(now, index, waiting, sink) {
                if self.wires[index].lost {
                    self.meter.drop_message(index);
                    return discard(&mut self.bin, waiting);
                }
                self.wires[index].expect(message, true);
                return self.wires[index].lane.put_back(waiting);
            }
        }
        if self.wires[index].lane.is_empty() {
            self.pay(now, index, sink);
        }
    }

    /// Pays what a port is owed, as far as it takes it.
    fn pay(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        while self.wires[index].owed.is_some()
            && let Some(message) = self.wires[index].owed.next()
        {
            let (due, kind, load) = (now, Kind::Release, Load::Message(message));
            let waiting = Waiting { from: now, due, kind, load };
            // The press of what was owed a release may have been dropped.
            if !self.is_idle_release(index, message)
                && self.put_out(now, index, waiting, sink).is_some()
            {
                return;
            }
            self.wires[index].owed.pay(message);
        }
    }

    /// Hands something to the port. What it does not take comes back.
    fn put_out(
        &mut self,
        now: Ns,
        index: usize,
        waiting: Waiting,
        sink: &mut impl Sink,
    ) -> Option<Waiting> {
        let port = PortIx(index as u8);
        let ahead = self.wires[index].service.ahead;
        let due = waiting.due + ahead;
        let moment = sink.moment(now);
        let (sent, count) = match &waiting.load {
            Load::Message(message) => {
                let bytes = message.bytes();
                (sink.send(port, due, &bytes), bytes.len())
            }
            Load::SysEx(bytes) => (sink.send(port, due, bytes), bytes.len()),
        };
        self.wires[index].full = sent == Sent::Full;
        match sent {
            Sent::Full => return Some(waiting),
            Sent::Lost => {
                self.lose(port);
                return Some(waiting);
            }
            Sent::Done => {}
        }
        let late = if waiting.kind == Kind::Release { 0 } else { moment - waiting.due };
        self.meter.sent(index, count, waiting.kind, late);
        match waiting.load {
            Load::Message(message) => self.took(index, message),
            Load::SysEx(bytes) => self.bin.put(bytes),
        }
        None
    }

    /// Notes what a port has taken.
    fn took(&mut self, index: usize, message: Message) {
        if let Message::NoteOn { channel, .. } = message {
            self.wires[index].used |= 1 << channel.wire();
        }
        let more = self.sounding.note(index, message);
        if more != 0 {
            self.down = self.down.saturating_add_signed(more);
            self.meter.set_sounding(self.down);
        }
    }
}

/// Whether a message is a key's, which only the ledger may send.
pub(crate) fn is_key(message: Message) -> bool {
    matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. })
}
