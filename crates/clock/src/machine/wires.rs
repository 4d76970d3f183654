//! What is on the wire of each port, and what is still owed to it.
//!
//! In: messages the ledger or the queue wants sent. Out: calls to the sink. A release that a
//! full port could not take is owed: it waits in a bitmap, not in a queue, and is paid before
//! anything else goes to that port, and at each poll. So are the lifting of a pedal and a stop.
//! Other messages that a full port could not take are dropped and counted. A key is released
//! only if its note-on went out, so a wire never carries a note-off too many.

use super::{Sent, Sink};
use crate::meter::{Kind, Meter};
use crate::ports::PortState;
use crate::sounding::{SUSTAIN, Sounding, WORDS, channels, offs, pedal_up, place};
use chaconne_engine::{Message, PortIx};
use chaconne_song::U7;
use chaconne_time::Ns;
use std::sync::Arc;

/// When a message was due, when that is, and how it is counted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Timing {
    pub now: Ns,
    pub due: Ns,
    pub kind: Kind,
}

impl Timing {
    /// A release that nothing was due for.
    pub fn release(now: Ns) -> Timing {
        Timing { now, due: now, kind: Kind::Release }
    }
}

/// The state of one port.
#[derive(Debug, Clone)]
struct Wire {
    lost: bool,
    /// Channels on which a key was ever struck.
    used: u16,
    keys: [u64; WORDS],
    pedals: u16,
    stop: bool,
    owes: bool,
}

impl Wire {
    fn new() -> Wire {
        Wire { lost: false, used: 0, keys: [0; WORDS], pedals: 0, stop: false, owes: false }
    }

    /// Notes what a full port could not take; whether it is owed from now on.
    fn owe(&mut self, message: Message) -> bool {
        match message {
            Message::NoteOff { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                self.keys[word] |= bit;
            }
            Message::Change { channel, controller: SUSTAIN, value: U7::MIN } => {
                self.pedals |= 1 << channel.wire();
            }
            Message::Stop => self.stop = true,
            _ => return false,
        }
        self.owes = true;
        true
    }

    /// The next message owed.
    fn next_owed(&self) -> Option<Message> {
        let key = self.keys.iter().enumerate().find_map(|(word, &bits)| offs(word, bits).next());
        let pedal = || channels(self.pedals).next().map(pedal_up);
        key.or_else(pedal).or_else(|| self.stop.then_some(Message::Stop))
    }

    /// Crosses off what was owed.
    fn pay(&mut self, message: Message) {
        match message {
            Message::NoteOff { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                self.keys[word] &= !bit;
            }
            Message::Change { channel, .. } => self.pedals &= !(1 << channel.wire()),
            _ => self.stop = false,
        }
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
}

impl Wires {
    pub fn new(ports: usize, meter: Arc<Meter>) -> Wires {
        let ports = ports.min(PortIx::MOST);
        let sounding = Arc::new(Sounding::new(ports));
        Wires { wires: vec![Wire::new(); ports].into(), sounding, meter, down: 0, fresh_losses: 0 }
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

    /// Whether some port is owed something.
    pub fn owes(&self) -> bool {
        self.wires.iter().any(|wire| wire.owes)
    }

    /// Sends a message. Whether it is out, or owed and will be.
    pub fn send(
        &mut self,
        timing: Timing,
        port: PortIx,
        message: Message,
        sink: &mut impl Sink,
    ) -> bool {
        let index = usize::from(port.0);
        // What is owed goes first, and may be this very release.
        if self.wires.get(index).is_some_and(|wire| wire.owes) {
            self.pay(timing.now, port, sink);
        }
        if let Message::NoteOff { channel, key, .. } = message
            && !self.sounding.is_down(index, channel, key)
        {
            return false;
        }
        match self.try_send(timing, port, &message.bytes(), sink) {
            Sent::Done => self.took(index, message),
            Sent::Full if self.wires[index].owe(message) => {}
            _ => {
                self.meter.drop_message(index);
                return false;
            }
        }
        true
    }

    /// Sends a system-exclusive message.
    pub fn send_bytes(&mut self, timing: Timing, port: PortIx, bytes: &[u8], sink: &mut impl Sink) {
        if self.try_send(timing, port, bytes, sink) != Sent::Done {
            self.meter.drop_message(usize::from(port.0));
        }
    }

    /// Sends to every channel that was ever used that its pedal is up, all notes and all sound
    /// are off (MIDI 1.0, "Channel Mode Messages"): for what hangs beyond our knowledge.
    pub fn all_off(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.wires.len() {
            self.port_off(now, PortIx(index as u8), sink);
        }
    }

    fn port_off(&mut self, now: Ns, port: PortIx, sink: &mut impl Sink) {
        for channel in channels(self.wires[usize::from(port.0)].used) {
            for controller in [64, 123, 120].map(U7::low_bits) {
                let off = Message::Change { channel, controller, value: U7::MIN };
                self.send(Timing::release(now), port, off, sink);
            }
        }
    }

    /// Pays what is owed as far as the ports take it.
    pub fn pay_all(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.wires.len() {
            if self.wires[index].owes {
                self.pay(now, PortIx(index as u8), sink);
            }
        }
    }

    /// The port is gone: what sounded there is forgotten, and nothing is sent there until it is
    /// [found](Wires::find) again.
    pub fn lose(&mut self, port: PortIx) {
        let index = usize::from(port.0);
        let Some(wire) = self.wires.get_mut(index).filter(|wire| !wire.lost) else { return };
        *wire = Wire { lost: true, used: wire.used, ..Wire::new() };
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
            self.port_off(now, port, sink);
        }
    }

    /// The ports that were lost since the last call.
    pub fn take_losses(&mut self) -> impl Iterator<Item = PortIx> + use<> {
        let mask = std::mem::take(&mut self.fresh_losses);
        (0..32).filter(move |bit| mask >> bit & 1 == 1).map(PortIx)
    }

    fn try_send(
        &mut self,
        timing: Timing,
        port: PortIx,
        bytes: &[u8],
        sink: &mut impl Sink,
    ) -> Sent {
        let index = usize::from(port.0);
        if self.is_lost(port) {
            return Sent::Lost;
        }
        if self.wires[index].owes && !self.pay(timing.now, port, sink) {
            return if self.is_lost(port) { Sent::Lost } else { Sent::Full };
        }
        let sent = sink.send(port, timing.due, bytes);
        match sent {
            Sent::Done => self.count(timing, index, bytes.len(), sink),
            Sent::Lost => self.lose(port),
            Sent::Full => {}
        }
        sent
    }

    /// Pays what a port is owed; whether all of it is paid.
    fn pay(&mut self, now: Ns, port: PortIx, sink: &mut impl Sink) -> bool {
        let index = usize::from(port.0);
        while let Some(message) = self.wires[index].next_owed() {
            let bytes = message.bytes();
            match sink.send(port, now, &bytes) {
                Sent::Full => return false,
                Sent::Lost => {
                    self.lose(port);
                    return false;
                }
                Sent::Done => {
                    self.count(Timing::release(now), index, bytes.len(), sink);
                    self.wires[index].pay(message);
                    self.took(index, message);
                }
            }
        }
        self.wires[index].owes = false;
        true
    }

    fn count(&self, timing: Timing, index: usize, bytes: usize, sink: &impl Sink) {
        let late = match timing.kind {
            Kind::Release => 0,
            _ => sink.sent_at(timing.now) - timing.due,
        };
        self.meter.sent(index, bytes, timing.kind, late);
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
