//! Sends messages to the ports, and keeps what waits for each port and what it is owed.
//!
//! In: messages to send, from the key book or the queue. Out: calls to the sink. A port with a
//! positive offset gets its messages that much later; a full port gets them once it has room. Until
//! then they wait in a [`Backlog`](super::backlog::Backlog), which is small. A message that finds no
//! room there is dropped and counted, unless it is a note-off, a pedal going up or a stop: the port
//! is owed those. If the sink reports a port as lost, its keys leave the key book in the same call.
//! No port waits for another. A key is released only if its note-on went out, so no port gets an
//! extra note-off; a press that is still waiting when its key must fall silent is removed.

use super::backlog::Waiting;
use super::bin::Bin;
use super::outlet::{Outlet, Service, discard};
use super::{Sent, Sink};
use crate::PortState;
use crate::key_book::{KeyBook, SUSTAIN, channels};
use crate::meter::{Kind, Meter};
use chaconne_engine::PortIx;
use chaconne_midi::{Message, U7, Wire};
use chaconne_time::Ns;
use std::sync::Arc;

/// How many system-exclusive messages can wait to be freed elsewhere.
const RETIRED: usize = 1024;

/// The present time, when a message is due, and how it is counted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Timing {
    pub now: Ns,
    /// When its port should get it.
    pub due: Ns,
    pub kind: Kind,
}

impl Timing {
    /// A release without a due time.
    pub fn release(now: Ns) -> Timing {
        Timing { now, due: now, kind: Kind::Release }
    }
}

/// The wires of all ports.
#[derive(Debug)]
pub(crate) struct Wires {
    outlets: Box<[Outlet]>,
    pub book: KeyBook,
    meter: Arc<Meter>,
    bin: Bin,
}

impl Wires {
    /// Wires for as many ports as `meter` counts for, and this many voices at a time. Ports that
    /// `services` leaves out get the default service.
    pub fn new(services: &[Service], meter: Arc<Meter>, voices: usize) -> Wires {
        let ports = meter.ports().min(PortIx::MOST);
        let service = |port| services.get(port).copied().unwrap_or_default();
        let outlets = (0..ports).map(|port| Outlet::new(service(port))).collect();
        let (book, bin) = (KeyBook::new(ports, voices), Bin::new(RETIRED));
        Wires { outlets, book, meter, bin }
    }

    /// Whether there is such a port.
    pub fn knows(&self, port: PortIx) -> bool {
        usize::from(port.0) < self.outlets.len()
    }

    /// Whether the port is gone, or was never there.
    pub fn is_lost(&self, port: PortIx) -> bool {
        self.outlets.get(usize::from(port.0)).is_none_or(|outlet| outlet.lost)
    }

    /// Whether something is waiting for some port, or owed to it.
    pub fn is_busy(&self) -> bool {
        (0..self.outlets.len()).any(|index| self.has_work(index))
    }

    fn has_work(&self, index: usize) -> bool {
        self.outlets[index].is_busy() || self.book.owes(index)
    }

    /// When the next waiting message can be sent.
    pub fn next_due(&self) -> Option<Ns> {
        self.outlets.iter().filter_map(Outlet::next_due).min()
    }

    /// Whether some port is full and must be retried.
    pub fn is_full(&self) -> bool {
        let mut outlets = self.outlets.iter().enumerate();
        outlets.any(|(index, outlet)| outlet.full || self.book.owes(index))
    }

    /// Sends a message. Returns whether it was sent or will be.
    pub fn send(
        &mut self,
        timing: Timing,
        port: PortIx,
        message: Message,
        sink: &mut impl Sink,
    ) -> bool {
        let index = usize::from(port.0);
        if self.is_lost(port) {
            self.drop_for_lost(index, message);
            return false;
        }
        if self.has_work(index) {
            self.pump(timing.now, index, sink);
        }
        if timing.kind == Kind::Release {
            self.cancel(index, message);
        }
        if self.book.is_idle(index, message) && !self.book.is_waiting(index, message) {
            return false;
        }
        let wire = Wire::Message(message);
        match self.pass(timing, index, wire, sink) {
            Ok(()) => true,
            Err(_) if !self.is_lost(port) && self.book.owe(index, message) => true,
            Err(_) => {
                self.meter.drop_message(index);
                false
            }
        }
    }

    /// Removes the waiting messages that a release would overtake.
    fn cancel(&mut self, index: usize, message: Message) {
        let is_pedal = matches!(message, Message::Change { controller: SUSTAIN, .. });
        if is_pedal || self.book.is_waiting(index, message) {
            self.outlets[index].cancel(message);
        }
        for _ in 0..self.book.cancel(index, message) {
            self.meter.drop_message(index);
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
            Err(Wire::SysEx(bytes))
        } else {
            self.pump(timing.now, index, sink);
            self.pass(timing, index, Wire::SysEx(bytes), sink)
        };
        if let Err(wire) = passed {
            self.meter.drop_message(index);
            if let Wire::SysEx(bytes) = wire {
                self.bin.put(bytes);
            }
        }
    }

    /// Sends pedal up, all notes off and all sound off to every channel that was ever used (MIDI 1.0,
    /// "Channel Mode Messages"), for notes that hang without our knowledge.
    pub fn all_off(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.outlets.len() {
            self.port_off(now, index, sink);
        }
    }

    fn port_off(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        for channel in channels(self.book.used(index)) {
            for controller in [64, 123, 120].map(U7::low_bits) {
                let off = Message::Change { channel, controller, value: U7::MIN };
                self.send(Timing::release(now), PortIx(index as u8), off, sink);
            }
        }
    }

    /// Sends what was waiting for this time, and as much of the rest as full ports take.
    pub fn pump_all(&mut self, now: Ns, sink: &mut impl Sink) {
        for index in 0..self.outlets.len() {
            if self.has_work(index) {
                self.pump(now, index, sink);
            }
        }
    }

    /// Lets everything that is waiting be sent at once, except presses, pulses and quarter frames,
    /// which it drops.
    pub fn hurry(&mut self, now: Ns) {
        let Wires { outlets, book, bin, meter } = self;
        for (index, outlet) in outlets.iter_mut().enumerate().filter(|(_, outlet)| outlet.is_busy())
        {
            outlet.hurry(now, |wire, was_on_line| {
                if let (Some(message), true) = (wire.message(), was_on_line) {
                    book.leave_line(index, message);
                }
                meter.drop_message(index);
                discard(bin, wire);
            });
            book.cancel_all(index);
        }
    }

    /// The port is gone: removes its keys from the book, and sends nothing there until the port is
    /// [found](Wires::find) again.
    pub fn lose(&mut self, port: PortIx) {
        let index = usize::from(port.0);
        let Some(outlet) = self.outlets.get_mut(index).filter(|outlet| !outlet.lost) else {
            return;
        };
        outlet.lost = true;
        outlet.forget(&mut self.bin);
        self.book.lose(index);
        if self.meter.state(index) == PortState::Open {
            self.meter.set_state(index, PortState::Lost);
        }
        self.meter.set_sounding(self.book.down());
    }

    /// Changes the service of a port that is lost, for which nothing can be waiting.
    pub fn serve(&mut self, port: PortIx, service: Service) {
        if let Some(outlet) = self.outlets.get_mut(usize::from(port.0)) {
            outlet.service = service;
        }
    }

    /// The port is connected (again). Silences whatever may still be sounding at its far end.
    pub fn find(&mut self, now: Ns, port: PortIx, sink: &mut impl Sink) {
        if let Some(outlet) = self.outlets.get_mut(usize::from(port.0)) {
            outlet.lost = false;
            self.meter.set_state(usize::from(port.0), PortState::Open);
            self.port_off(now, usize::from(port.0), sink);
        }
    }

    /// System-exclusive bytes that are no longer needed, to be freed elsewhere.
    pub fn bin(&mut self) -> &mut Bin {
        &mut self.bin
    }

    /// Counts a message for a port that is gone, except a note-off: no key is down there.
    fn drop_for_lost(&self, index: usize, message: Message) {
        if !matches!(message, Message::NoteOff { .. }) {
            self.meter.drop_message(index);
        }
    }

    /// Sends a message at once if it is due and nothing waits before it; otherwise it waits. Returns
    /// it if there is no room or the port is lost.
    fn pass(
        &mut self,
        timing: Timing,
        index: usize,
        wire: Wire,
        sink: &mut impl Sink,
    ) -> Result<(), Wire> {
        let Timing { now, due, kind } = timing;
        let outlet = &mut self.outlets[index];
        if outlet.lost || self.book.owes(index) {
            return Err(wire);
        }
        let message = wire.message();
        let from = outlet.from(timing, message);
        let waiting = Waiting { from, due, kind, wire };
        let waiting = if from <= now && outlet.backlog.is_empty() {
            match self.put_out(now, index, waiting, sink) {
                None => return Ok(()),
                Some(waiting) if self.outlets[index].lost => return Err(waiting.wire),
                Some(waiting) => waiting,
            }
        } else {
            waiting
        };
        let outlet = &mut self.outlets[index];
        outlet.backlog.put(waiting).map_err(|waiting| waiting.wire)?;
        self.expect(index, message, true);
        Ok(())
    }

    /// Sends the waiting messages whose time has come, and then what the port is owed.
    fn pump(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        while self.outlets[index].backlog.ready(now).is_some()
            && let Some(waiting) = self.outlets[index].backlog.pop()
        {
            let message = waiting.message();
            self.expect(index, message, false);
            if waiting.is_stale(now) {
                self.meter.drop_message(index);
                discard(&mut self.bin, waiting.wire);
            } else if message.is_some_and(|message| self.book.is_idle(index, message)) {
                // Its press was dropped, so the release is not needed.
            } else if let Some(waiting) = self.put_out(now, index, waiting, sink) {
                if self.outlets[index].lost {
                    self.meter.drop_message(index);
                    return discard(&mut self.bin, waiting.wire);
                }
                self.expect(index, message, true);
                return self.outlets[index].backlog.put_back(waiting);
            }
        }
        if self.outlets[index].backlog.is_empty() {
            self.pay(now, index, sink);
        }
        self.run(now, index, sink);
    }

    /// Sends a port what it is owed, until it is full.
    fn pay(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        while let Some(message) = self.book.next_owed(index) {
            let (due, kind, wire) = (now, Kind::Release, Wire::Message(message));
            let waiting = Waiting { from: now, due, kind, wire };
            // If the press was dropped, its release is not needed.
            if !self.book.is_idle(index, message)
                && self.put_out(now, index, waiting, sink).is_some()
            {
                return;
            }
            self.book.pay(index, message);
        }
    }

    /// Hands a message to the port. Returns it if the port does not take it.
    fn put_out(
        &mut self,
        now: Ns,
        index: usize,
        waiting: Waiting,
        sink: &mut impl Sink,
    ) -> Option<Waiting> {
        if self.outlets[index].line.is_some() {
            let message = waiting.message();
            let refused = self.outlets[index].enter(now, waiting);
            if let (None, Some(message)) = (&refused, message) {
                self.book.enter_line(index, message);
            }
            self.run(now, index, sink);
            return refused;
        }
        // Without a due moment, a message goes out as soon as the port can take it.
        let ahead = if waiting.kind.is_timed() { self.outlets[index].service.ahead } else { 0 };
        let due = waiting.due + ahead;
        let moment = sink.moment(now);
        let (sent, count) = match &waiting.wire {
            Wire::Message(message) => {
                let bytes = message.bytes();
                (self.write(index, due, &bytes, sink), bytes.len())
            }
            Wire::SysEx(bytes) => (self.write(index, due, bytes, sink), bytes.len()),
        };
        if sent != Sent::Done {
            return Some(waiting);
        }
        let late = waiting.kind.late(moment, waiting.due);
        self.meter.sent(index, count, waiting.kind, late);
        match waiting.wire {
            Wire::Message(message) => self.took(index, message),
            Wire::SysEx(bytes) => self.bin.put(bytes),
        }
        None
    }

    /// Sends as much from a serial line as may be sent now.
    fn run(&mut self, now: Ns, index: usize, sink: &mut impl Sink) {
        // The line is taken out so that its bytes can be lent to the sink.
        let Some(mut line) = self.outlets[index].line.take() else { return };
        while let Some(bytes) = line.peek(now) {
            let (count, moment) = (bytes.len(), sink.moment(now));
            let due = now + self.outlets[index].service.ahead;
            if self.write(index, due, bytes, sink) != Sent::Done {
                break;
            }
            self.meter.add_bytes(index, count);
            let took = line.took(now);
            if let Some(began) = took.began {
                let late = began.tag.late(moment, began.due);
                self.meter.sent(index, 0, began.tag, late);
            }
            match took.ended.map(|ended| ended.item.wire) {
                Some(Wire::Message(message)) => {
                    self.book.leave_line(index, message);
                    self.took(index, message);
                }
                Some(Wire::SysEx(bytes)) => self.bin.put(bytes),
                None => {}
            }
        }
        self.meter.set_thinned(index, line.counts().thinned);
        self.outlets[index].line = Some(line);
        if self.outlets[index].lost {
            self.outlets[index].forget(&mut self.bin);
        }
    }

    /// Passes bytes to the sink, and records whether the port is full or lost.
    fn write(&mut self, index: usize, due: Ns, bytes: &[u8], sink: &mut impl Sink) -> Sent {
        let port = PortIx(index as u8);
        let sent = sink.send(port, due, bytes);
        self.outlets[index].full = sent == Sent::Full;
        if sent == Sent::Lost {
            self.lose(port);
        }
        sent
    }

    /// Records that a port has taken a message.
    fn took(&mut self, index: usize, message: Message) {
        self.book.took(index, message);
        self.meter.set_sounding(self.book.down());
    }

    /// Records that a press is waiting, or no longer is.
    fn expect(&mut self, index: usize, message: Option<Message>, waits: bool) {
        if let Some(message) = message {
            self.book.wait(index, message, waits);
        }
    }
}

/// Whether a message is a note-on or note-off; only the key book may send those.
pub(crate) fn is_key(message: Message) -> bool {
    matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. })
}
