//! One port as the scheduler serves it: what waits for it, what is owed to it, and the serial
//! line that it may end in.
//!
//! A message passes from the lane, where it waits for its moment or for a port that is full, to
//! the port, or through a [`SerialLine`], which keeps the pace of the cable.

use super::bin::Bin;
use super::lane::{Lane, Waiting};
use super::owed::Owed;
use super::wires::Timing;
use crate::meter::{Kind, Meter};
use crate::sounding::SUSTAIN;
use chaconne_midi::serial::{Clear, Grain, Item, SerialLine};
use chaconne_midi::{Message, Wire};
use chaconne_time::{FrameRate, Ns};

/// How much can wait for a port that is full.
const BACKLOG: usize = 128;
/// How much can wait for a port that is served later than due.
const DELAYED: usize = 4096;
/// How much can wait on a serial line: what it carries in about a tenth of a second.
const ON_LINE: usize = 160;
/// Keys of a port: 16 channels of 128.
const KEYS: usize = 16 * 128;

/// How the scheduler serves a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Service {
    /// How much later (or, negative, earlier) than due everything but through-play is handed to
    /// it, in nanoseconds.
    pub shift: Ns,
    /// How long before it goes out a message is handed to it, in nanoseconds.
    pub ahead: Ns,
    /// Whether that may change: see [`Machine::serve`](super::Machine::serve).
    pub varies: bool,
    /// Whether it ends in a serial MIDI cable, and in which pieces the port takes what goes there.
    pub line: Option<Grain>,
    /// How many frames a second its time code has; `None` where it gets none.
    pub mtc: Option<FrameRate>,
}

impl Service {
    /// The same, with messages handed over so long before they go out: at other moments, so that
    /// they go out at the same ones.
    pub fn with_ahead(self, ahead: Ns) -> Service {
        Service { shift: self.offset() - ahead, ahead, ..self }
    }

    /// How much later than due everything but through-play goes out; earlier where negative.
    pub fn offset(&self) -> Ns {
        self.shift + self.ahead
    }
}

/// The state of one port.
#[derive(Debug)]
pub(crate) struct Outlet {
    pub service: Service,
    pub lost: bool,
    /// Whether it was full when it was last tried.
    pub full: bool,
    /// Channels on which a key was ever struck.
    pub used: u16,
    pub lane: Lane,
    pub owed: Owed,
    pub line: Option<SerialLine<Kind>>,
    /// How many presses of each key wait in the lane.
    coming: Box<[u8]>,
    /// Presses less releases of each key that are on the line.
    under_way: Box<[i8]>,
}

impl Outlet {
    pub fn new(service: Service) -> Outlet {
        let latest = if service.varies { service.offset() } else { service.shift };
        let lane = Lane::new(if latest > 0 { DELAYED } else { BACKLOG });
        Outlet {
            service,
            lost: false,
            full: false,
            used: 0,
            lane,
            owed: Owed::new(),
            line: service.line.map(|grain| SerialLine::new(grain, ON_LINE)),
            coming: vec![0; KEYS].into(),
            under_way: vec![0; KEYS].into(),
        }
    }

    /// From when on a message may go.
    pub fn from(&mut self, timing: Timing, message: Option<Message>) -> Ns {
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
    pub fn cancel(&mut self, message: Message, meter: &Meter, index: usize) {
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

    /// Counts presses that wait in the lane.
    pub fn expect(&mut self, message: Option<Message>, more: bool) {
        if let Some(message @ Message::NoteOn { .. }) = message
            && let Some(cell) = cell_of(message)
        {
            let count = &mut self.coming[cell];
            *count = if more { count.saturating_add(1) } else { count.saturating_sub(1) };
        }
    }

    /// Whether something waits or is owed.
    pub fn is_busy(&self) -> bool {
        let line = self.line.as_ref().is_some_and(|line| !line.is_empty());
        line || !self.lane.is_empty() || self.owed.is_some()
    }

    /// When the next of what waits is to go; `None` where the port is full.
    pub fn next_due(&self) -> Option<Ns> {
        let line = self.line.as_ref().and_then(SerialLine::next_deadline);
        [self.lane.next(), line].into_iter().flatten().min().filter(|_| !self.full)
    }

    /// Whether a press of the key of a message waits in the lane.
    pub fn is_coming(&self, message: Message) -> bool {
        cell_of(message).is_some_and(|cell| self.coming[cell] > 0)
    }

    /// Presses less releases of the key of a message that are on the line.
    pub fn under_way(&self, message: Message) -> i8 {
        cell_of(message).map_or(0, |cell| self.under_way[cell])
    }

    /// Has the serial line take something; what it has no room for comes back.
    pub fn enter(&mut self, now: Ns, waiting: Waiting) -> Option<Waiting> {
        let Some(line) = self.line.as_mut() else { return Some(waiting) };
        let Waiting { from, due, kind, wire } = waiting;
        let message = wire.message();
        match line.push(now, Item { wire, due, tag: kind }) {
            Ok(()) => {
                weigh(&mut self.under_way, message, 1);
                None
            }
            Err(Item { wire, due, tag }) => Some(Waiting { from, due, kind: tag, wire }),
        }
    }

    /// A message has left the serial line.
    pub fn left(&mut self, message: Message) {
        weigh(&mut self.under_way, Some(message), -1);
    }

    /// Lets all that waits go at once, but for what means something only at its moment.
    pub fn hurry(&mut self, now: Ns, mut dropped: impl FnMut(Wire)) {
        self.lane.hurry(now, |waiting| dropped(waiting.wire));
        self.coming.fill(0);
        if let Some(line) = &mut self.line {
            let under_way = &mut self.under_way;
            line.clear(Clear::Presses, |item| {
                weigh(under_way, item.message(), -1);
                dropped(item.wire);
            });
        }
    }

    /// Forgets all that waits.
    pub fn forget(&mut self, bin: &mut Bin) {
        while let Some(waiting) = self.lane.pop() {
            discard(bin, waiting.wire);
        }
        if let Some(line) = &mut self.line {
            line.clear(Clear::Everything, |item| discard(bin, item.wire));
        }
        self.coming.fill(0);
        self.under_way.fill(0);
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

/// Notes that a message of a key has come onto the line (1) or left it (-1).
fn weigh(keys: &mut [i8], message: Option<Message>, change: i8) {
    let Some(message) = message else { return };
    let Some(cell) = cell_of(message) else { return };
    let is_press = matches!(message, Message::NoteOn { .. });
    let more = if is_press { change } else { -change };
    keys[cell] = keys[cell].saturating_add(more);
}

/// Puts aside what is not sent.
pub(crate) fn discard(bin: &mut Bin, wire: Wire) {
    if let Wire::SysEx(bytes) = wire {
        bin.put(bytes);
    }
}
