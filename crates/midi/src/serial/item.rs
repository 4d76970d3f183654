//! Items waiting for a serial line, and which of them must keep their order.
//!
//! In: messages. Out: their kind (what they must not overtake) and their priority (what they may
//! overtake). See the table in [`super`].

use crate::{Channel, Message, U7, Wire};
use chaconne_time::Ns;

/// How long an item waits before later items can no longer overtake it by priority: 100 ms.
pub const PATIENCE: Ns = 100_000_000;

/// A message to send, its due time, and the caller's tag.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item<T> {
    /// The message.
    pub wire: Wire,
    /// When its first byte should be sent, in nanoseconds on the caller's clock.
    pub due: Ns,
    /// The caller's value, returned unchanged.
    pub tag: T,
}

impl<T> Item<T> {
    /// The message; `None` if it is system-exclusive.
    pub fn message(&self) -> Option<Message> {
        self.wire.message()
    }
}

/// What an item must not overtake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A note-on, or a key pressure that is followed by a note on its key.
    Note(Channel, U7),
    /// A note-off.
    Release(Channel, U7),
    /// A message that changes what the channel's other messages mean, or a value that arrived
    /// before one.
    State(Channel),
    /// A continuous value; only the newest of each [`Knob`] waits.
    Value(Channel, Knob),
    /// A system-exclusive message, which can mean anything.
    Whole,
    /// System common, time code and machine control: in order among themselves, before everything
    /// else.
    System,
}

/// What a continuous value changes on its channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Knob {
    Controller(u8),
    Key(U7),
    Pressure,
    Bend,
}

/// An item's priority: lower values are sent first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Priority {
    System,
    /// Note-offs, pedals going up, percussion.
    First,
    /// Other note-ons, and state.
    Plain,
    /// Continuous values.
    Last,
}

/// A waiting item.
#[derive(Debug)]
pub(super) struct Waiting<T> {
    pub item: Item<T>,
    pub kind: Kind,
    pub priority: Priority,
    /// When it, or the value it replaced, started waiting.
    pub since: Ns,
}

impl<T> Waiting<T> {
    /// Puts an item in a form that can wait. Returns it as an error if it does not belong in the queue:
    /// a real-time message, or a system-exclusive message without its F0 and F7.
    pub fn new(item: Item<T>, since: Ns) -> Result<Waiting<T>, Item<T>> {
        let Some(kind) = kind_of(&item.wire) else { return Err(item) };
        let priority = priority_of(kind, &item);
        Ok(Waiting { item, kind, priority, since })
    }

    /// Its rank among items that may be sent now: lower first, then earlier.
    pub fn rank(&self, now: Ns) -> u8 {
        match self.priority {
            Priority::System => 0,
            _ if now.saturating_sub(self.since) >= PATIENCE => 1,
            Priority::First => 2,
            Priority::Plain => 3,
            Priority::Last => 4,
        }
    }

    /// Keeps it, like state, before everything that arrives later on its channel.
    pub fn settle(&mut self) {
        if let Kind::Value(channel, _) = self.kind {
            self.kind = Kind::State(channel);
            self.priority = self.priority.min(Priority::Plain);
        }
    }

    /// Keeps it before notes on its key that arrive later.
    pub fn settle_on_key(&mut self, priority: Priority) {
        if let Kind::Value(channel, Knob::Key(key)) = self.kind {
            self.kind = Kind::Note(channel, key);
            self.priority = self.priority.min(priority);
        }
    }

    /// Whether it ends a sound, and may use the places that the queue reserves for that.
    pub fn silences(&self) -> bool {
        silences(&self.item.wire)
    }
}

/// Whether it is a single byte that may be sent between the bytes of another message.
pub(super) fn is_real_time(wire: &Wire) -> bool {
    matches!(wire, Wire::Message(message) if message.bytes()[0] >= 0xF8)
}

/// Whether it ends a sound: a note-off, a pedal going up, all sound or all notes off, a stop.
pub(super) fn silences(wire: &Wire) -> bool {
    match wire {
        Wire::Message(Message::NoteOff { .. } | Message::Stop) => true,
        Wire::Message(Message::Change { controller, value, .. }) => match controller.get() {
            64..=69 => value.get() < 64,
            120 | 123 => true,
            _ => false,
        },
        _ => false,
    }
}

/// The number of the fine half, if this is the coarse half of a 14-bit value (MIDI 1.0, "Control
/// Change": coarse 0 to 31, fine 32 above).
pub(super) fn fine_half(knob: Knob) -> Option<Knob> {
    match knob {
        Knob::Controller(number @ 0..=31) => Some(Knob::Controller(number + 32)),
        _ => None,
    }
}

/// Whether controller 121 resets it (MMA RP-015, "Response to Reset All Controllers").
pub(super) fn is_reset(knob: Knob) -> bool {
    match knob {
        Knob::Controller(number) => matches!(number, 1 | 11 | 33 | 43),
        Knob::Key(_) | Knob::Pressure | Knob::Bend => true,
    }
}

/// What it must not overtake; `None` if it does not wait in the queue: real-time, or
/// system-exclusive without its F0 or F7.
pub(super) fn kind_of(wire: &Wire) -> Option<Kind> {
    let message = match wire {
        Wire::Message(message) => *message,
        Wire::SysEx(bytes) => {
            let whole = bytes.len() >= 2 && bytes[0] == 0xF0 && bytes[bytes.len() - 1] == 0xF7;
            let kind = if is_control(bytes) { Kind::System } else { Kind::Whole };
            return whole.then_some(kind);
        }
    };
    Some(match message {
        Message::NoteOn { channel, key, .. } => Kind::Note(channel, key),
        Message::NoteOff { channel, key, .. } => Kind::Release(channel, key),
        Message::KeyPressure { channel, key, .. } => Kind::Value(channel, Knob::Key(key)),
        Message::Change { channel, controller, .. } if is_state(controller) => Kind::State(channel),
        Message::Change { channel, controller, .. } => {
            Kind::Value(channel, Knob::Controller(controller.get()))
        }
        Message::Program { channel, .. } => Kind::State(channel),
        Message::Pressure { channel, .. } => Kind::Value(channel, Knob::Pressure),
        Message::Bend { channel, .. } => Kind::Value(channel, Knob::Bend),
        Message::QuarterFrame(_)
        | Message::SongPosition(_)
        | Message::SongSelect(_)
        | Message::TuneRequest => Kind::System,
        _ => return None,
    })
}

fn priority_of<T>(kind: Kind, item: &Item<T>) -> Priority {
    match kind {
        Kind::System => Priority::System,
        _ if silences(&item.wire) => Priority::First,
        // All percussion state too, so that no drum note waits behind state of lower priority.
        Kind::Note(channel, _) | Kind::State(channel) if channel == Channel::PERCUSSION => {
            Priority::First
        }
        Kind::Value(..) => Priority::Last,
        _ => Priority::Plain,
    }
}

/// Controllers that change what other messages mean: bank, data entry, portamento's source key, the
/// high-resolution velocity prefix, switches, parameter numbers, channel mode.
fn is_state(controller: U7) -> bool {
    matches!(controller.get(), 0 | 6 | 32 | 38 | 64..=69 | 84 | 88 | 96..=101 | 120..=127)
}

/// Whether a system-exclusive message is MIDI Time Code or Machine Control (universal real-time,
/// sub-ids 01, 06 and 07).
fn is_control(bytes: &[u8]) -> bool {
    matches!(bytes, [0xF0, 0x7F, _, 0x01 | 0x06 | 0x07, ..])
}
