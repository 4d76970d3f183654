//! Items that wait for a serial line, and which of them must keep their order.
//!
//! In: messages. Out: their kind (what they must not overtake) and their favour (what they may
//! overtake). See the table in [`super`].

use crate::{Channel, Message, U7, Wire};
use chaconne_time::Ns;

/// How long something waits before later items lose their priority over it: 100 ms.
pub const PATIENCE: Ns = 100_000_000;

/// Something to be sent, when it is due, and a tag of the caller's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item<T> {
    /// What.
    pub wire: Wire,
    /// When its first byte should go out, in nanoseconds on the caller's clock.
    pub due: Ns,
    /// The caller's own; returned unchanged.
    pub tag: T,
}

impl<T> Item<T> {
    /// The message; `None` for a system-exclusive one.
    pub fn message(&self) -> Option<Message> {
        self.wire.message()
    }
}

/// What an item must not overtake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A press, or a pressure on a key that a note on that key came after.
    Note(Channel, U7),
    /// A release.
    Release(Channel, U7),
    /// What changes how a channel's other messages are meant, and values that came before it.
    State(Channel),
    /// A continuous value: only the newest of each [`Knob`] waits.
    Value(Channel, Knob),
    /// A system-exclusive message, which may mean anything.
    Whole,
    /// System common, time code and machine control: in their own order, before the rest.
    System,
}

/// What a continuous value moves, on its channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Knob {
    Controller(u8),
    Key(U7),
    Pressure,
    Bend,
}

/// What an item may overtake: the lower goes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Favour {
    System,
    /// Releases, pedals going up, percussion.
    First,
    /// Other presses, and state.
    Plain,
    /// Continuous values.
    Last,
}

/// An item that waits.
#[derive(Debug)]
pub(super) struct Waiting<T> {
    pub item: Item<T>,
    pub kind: Kind,
    pub favour: Favour,
    /// Since when it, or the value it took the place of, has waited.
    pub since: Ns,
}

impl<T> Waiting<T> {
    /// The item as one that waits; it comes back where it is no message for a queue: real-time,
    /// or system-exclusive without its F0 and F7.
    pub fn new(item: Item<T>, since: Ns) -> Result<Waiting<T>, Item<T>> {
        let Some(kind) = kind_of(&item.wire) else { return Err(item) };
        let favour = favour_of(kind, &item);
        Ok(Waiting { item, kind, favour, since })
    }

    /// Where it stands among others that may go: the lower first, of equals the earlier.
    pub fn rank(&self, now: Ns) -> u8 {
        match self.favour {
            Favour::System => 0,
            _ if now.saturating_sub(self.since) >= PATIENCE => 1,
            Favour::First => 2,
            Favour::Plain => 3,
            Favour::Last => 4,
        }
    }

    /// From now on it keeps its place before whatever comes after it, as a state would.
    pub fn settle(&mut self) {
        if let Kind::Value(channel, _) = self.kind {
            self.kind = Kind::State(channel);
            self.favour = self.favour.min(Favour::Plain);
        }
    }

    /// From now on it keeps its place before notes on its key.
    pub fn settle_on_key(&mut self, favour: Favour) {
        if let Kind::Value(channel, Knob::Key(key)) = self.kind {
            self.kind = Kind::Note(channel, key);
            self.favour = self.favour.min(favour);
        }
    }

    /// Whether it ends sound, and is kept a place for.
    pub fn silences(&self) -> bool {
        silences(&self.item.wire)
    }
}

/// Whether it is a single byte that may go between the bytes of others.
pub(super) fn is_real_time(wire: &Wire) -> bool {
    matches!(wire, Wire::Message(message) if message.bytes()[0] >= 0xF8)
}

/// Whether it ends sound: a release, a pedal going up, all sound or all notes off, a stop.
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

/// The coarse half of a value of 14 bits (MIDI 1.0, "Control Change": 0 to 31, with the fine
/// half 32 above); the fine half's number.
pub(super) fn fine_half(knob: Knob) -> Option<Knob> {
    match knob {
        Knob::Controller(number @ 0..=31) => Some(Knob::Controller(number + 32)),
        _ => None,
    }
}

/// Whether controller 121 sets it anew (MMA RP-015, "Response to Reset All Controllers").
pub(super) fn is_reset(knob: Knob) -> bool {
    match knob {
        Knob::Controller(number) => matches!(number, 1 | 11 | 33 | 43),
        Knob::Key(_) | Knob::Pressure | Knob::Bend => true,
    }
}

/// What it must not overtake; `None` where it does not wait in the queue: real-time, or
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

fn favour_of<T>(kind: Kind, item: &Item<T>) -> Favour {
    match kind {
        Kind::System => Favour::System,
        _ if silences(&item.wire) => Favour::First,
        // All of percussion's state, so that no stroke waits behind less favoured state.
        Kind::Note(channel, _) | Kind::State(channel) if channel == Channel::PERCUSSION => {
            Favour::First
        }
        Kind::Value(..) => Favour::Last,
        _ => Favour::Plain,
    }
}

/// Controllers that change what others mean: bank, data entry, portamento's source key, the
/// high-resolution velocity prefix, switches, parameter numbers, channel mode.
fn is_state(controller: U7) -> bool {
    matches!(controller.get(), 0 | 6 | 32 | 38 | 64..=69 | 84 | 88 | 96..=101 | 120..=127)
}

/// Whether a system-exclusive message is MIDI Time Code or Machine Control (universal real-time,
/// sub-ids 01, 06 and 07).
fn is_control(bytes: &[u8]) -> bool {
    matches!(bytes, [0xF0, 0x7F, _, 0x01 | 0x06 | 0x07, ..])
}
