//! One port as the scheduler serves it: its backlog, and the serial line in which it may end.
//!
//! A message waits in the backlog for its time, or until a full port has room. From there it goes to
//! the port, or through a [`SerialLine`], which keeps the pace of the cable.

use super::backlog::{Backlog, Waiting};
use super::bin::Bin;
use super::wires::Timing;
use crate::key_book::SUSTAIN;
use crate::meter::Kind;
use chaconne_midi::serial::{Clear, Grain, Item, SerialLine};
use chaconne_midi::{Message, Wire};
use chaconne_time::{FrameRate, Ns};

/// How many messages can wait for a port that is full.
const BACKLOG: usize = 128;
/// How many messages can wait for a port that is served later than due.
const DELAYED: usize = 4096;
/// How many messages can wait on a serial line: what it carries in about a tenth of a
/// second, at two bytes a message.
const ON_LINE: usize = 160;

/// How the scheduler serves a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Service {
    /// How much later than due (earlier if negative) everything but through-play is handed to the
    /// port, in nanoseconds.
    pub shift: Ns,
    /// How long before it goes out a message is handed to the port, in nanoseconds, 0 or more.
    pub ahead: Ns,
    /// Whether `ahead` may change: see [`Machine::serve`](super::Machine::serve).
    pub varies: bool,
    /// The pieces in which the port accepts data, if it leads to a serial MIDI cable.
    pub line: Option<Grain>,
    /// The frame rate of its time code; `None` if it receives none.
    pub mtc: Option<FrameRate>,
}

impl Service {
    /// The same service with messages handed over this long before they go out. They still go out at
    /// the same times.
    pub fn with_ahead(self, ahead: Ns) -> Service {
        Service { shift: self.offset() - ahead, ahead, ..self }
    }

    /// How much later than due everything but through-play goes out, in nanoseconds; earlier if
    /// negative.
    pub fn offset(&self) -> Ns {
        self.shift + self.ahead
    }
}

/// The state of one port.
#[derive(Debug)]
pub(crate) struct Outlet {
    pub service: Service,
    pub lost: bool,
    /// Whether it was full at the last attempt.
    pub full: bool,
    pub backlog: Backlog,
    pub line: Option<SerialLine<Kind>>,
}

impl Outlet {
    pub fn new(service: Service) -> Outlet {
        let latest = if service.varies { service.offset() } else { service.shift };
        let backlog = Backlog::new(if latest > 0 { DELAYED } else { BACKLOG });
        Outlet {
            service,
            lost: false,
            full: false,
            backlog,
            line: service.line.map(|grain| SerialLine::new(grain, ON_LINE)),
        }
    }

    /// The time from which a message may be sent.
    pub fn from(&mut self, timing: Timing, message: Option<Message>) -> Ns {
        match timing.kind {
            Kind::Through => message.and_then(|message| self.backlog.key_until(message)),
            Kind::Release => None,
            _ if self.service.shift > 0 => Some(timing.due),
            _ => None,
        }
        .unwrap_or(timing.now)
    }

    /// Removes waiting messages that a release would overtake: presses of its key, moves of its
    /// pedal. The caller updates the key book.
    pub fn cancel(&mut self, message: Message) {
        self.backlog.cancel(|other| match (message, other) {
            (
                Message::Change { channel, controller: SUSTAIN, .. },
                Message::Change { channel: on, controller: SUSTAIN, .. },
            ) => on == channel,
            (
                Message::NoteOn { channel, key, .. } | Message::NoteOff { channel, key, .. },
                Message::NoteOn { channel: on, key: other, .. },
            ) => on == channel && other == key,
            _ => false,
        });
    }

    /// Whether something waits.
    pub fn is_busy(&self) -> bool {
        let line = self.line.as_ref().is_some_and(|line| !line.is_empty());
        line || !self.backlog.is_empty()
    }

    /// When the next waiting message can be sent; `None` if the port is full or nothing waits.
    pub fn next_due(&self) -> Option<Ns> {
        let line = self.line.as_ref().and_then(SerialLine::next_deadline);
        [self.backlog.next(), line].into_iter().flatten().min().filter(|_| !self.full)
    }

    /// Puts a message on the serial line; returns it if there is no room.
    pub fn enter(&mut self, now: Ns, waiting: Waiting) -> Option<Waiting> {
        let Some(line) = self.line.as_mut() else { return Some(waiting) };
        let Waiting { from, due, kind, wire } = waiting;
        let refused = line.push(now, Item { wire, due, tag: kind }).err()?;
        Some(Waiting { from, due: refused.due, kind, wire: refused.wire })
    }

    /// Lets everything that waits be sent at once, except what is useful only at its due time. That is
    /// passed to `dropped`, with whether it was on the line.
    pub fn hurry(&mut self, now: Ns, mut dropped: impl FnMut(Wire, bool)) {
        self.backlog.hurry(now, |waiting| dropped(waiting.wire, false));
        if let Some(line) = &mut self.line {
            line.clear(Clear::Presses, |item| dropped(item.wire, true));
        }
    }

    /// Discards everything that waits.
    pub fn forget(&mut self, bin: &mut Bin) {
        while let Some(waiting) = self.backlog.pop() {
            discard(bin, waiting.wire);
        }
        if let Some(line) = &mut self.line {
            line.clear(Clear::Everything, |item| discard(bin, item.wire));
        }
        self.full = false;
    }
}

/// Puts the bytes of a message that is not sent into the bin.
pub(crate) fn discard(bin: &mut Bin, wire: Wire) {
    if let Wire::SysEx(bytes) = wire {
        bin.put(bytes);
    }
}
