//! Cues: what the engine hands to the scheduler, before keys are resolved on the ledger.

use crate::Message;
use chaconne_song::{Channel, NoteId, PassId, U7};
use chaconne_time::Tick;
use std::sync::Arc;

/// A port by its place in the list of ports of this run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PortIx(pub u8);

impl PortIx {
    /// The most ports of a run.
    pub const MOST: usize = 32;
}

/// Whom a cue belongs to: a track by its place in this run, or one of the program's own voices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Slot(pub u16);

impl Slot {
    /// Keys held by the player, passed through.
    pub const LIVE: Slot = Slot(u16::MAX);
    /// The click.
    pub const CLICK: Slot = Slot(u16::MAX - 1);
    /// Clock, start and stop.
    pub const CLOCK: Slot = Slot(u16::MAX - 2);
    /// The most tracks of a run.
    pub const MOST: u16 = 8192;
}

/// One sounding of one note: the note, and the cycle of its pass that it belongs to. A press and
/// its lift carry the same voice; no two soundings share one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Voice {
    /// The pass the note is in; [`NO_PASS`](Self::NO_PASS) for what is played by hand.
    pub pass: PassId,
    /// The note (for through-played keys: channel and key).
    pub note: NoteId,
    /// The transport tick at which the cycle starts (for through-played keys: the input).
    pub cycle: Tick,
}

impl Voice {
    /// What is in no pass; ids of passes start at 1.
    pub const NO_PASS: PassId = PassId(0);
}

/// Where a key sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Address {
    /// The port.
    pub port: PortIx,
    /// The channel.
    pub channel: Channel,
    /// The key.
    pub key: U7,
}

/// What happens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Action {
    /// A voice takes a key.
    Press {
        /// The channel.
        channel: Channel,
        /// The key.
        key: U7,
        /// How hard, 1..=127.
        velocity: U7,
        /// Who takes it.
        voice: Voice,
    },
    /// A voice lets a key go.
    Lift {
        /// The channel.
        channel: Channel,
        /// The key.
        key: U7,
        /// How fast.
        velocity: U7,
        /// Who lets go.
        voice: Voice,
    },
    /// A message that is no key.
    Send(Message),
    /// A system-exclusive message, whole.
    SysEx(Arc<[u8]>),
}

/// An action, when, for whom and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cue {
    /// The transport tick it is due at.
    pub at: Tick,
    /// Whom it belongs to.
    pub slot: Slot,
    /// Which epoch of its slot it belongs to; a newer one cancels it.
    pub epoch: u32,
    /// Where it goes.
    pub port: PortIx,
    /// What happens.
    pub action: Action,
}

impl Cue {
    /// The order among cues of one tick: pulses first, then lifts, then controllers (as they
    /// come: bank before program), then presses. Cues of one rank keep the order they came in.
    pub fn rank(&self) -> u8 {
        match &self.action {
            Action::Send(Message::Clock | Message::Start | Message::Stop | Message::Continue) => 0,
            Action::Lift { .. } => 1,
            Action::SysEx(_) => 2,
            Action::Send(_) => 3,
            Action::Press { .. } => 4,
        }
    }
}

/// Where a cue stands among others: by time, rank, and for keys by whose and which.
pub(crate) type CueOrder = (Tick, u8, Option<(Slot, PortIx, Channel, U7, Voice)>);

impl Cue {
    /// The order in which cues are sent. It does not depend on how far ahead of the clock they
    /// were performed. Messages of one tick that are no keys keep the order they came in.
    pub(crate) fn order(&self) -> CueOrder {
        let key = match self.action {
            Action::Press { channel, key, voice, .. }
            | Action::Lift { channel, key, voice, .. } => {
                Some((self.slot, self.port, channel, key, voice))
            }
            _ => None,
        };
        (self.at, self.rank(), key)
    }
}

/// What the engine tells the scheduler, in this order of arrival.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// The transport starts: tick `at` falls at `ns`.
    Roll {
        /// The first tick; negative for a count-in.
        at: Tick,
        /// When it falls, nanoseconds on the shared monotonic clock.
        ns: chaconne_time::Ns,
        /// The tempo there.
        tempo: chaconne_time::Tempo,
        /// The musical time at that tick: nanoseconds since bar one at the song's tempi, negative
        /// in a count-in.
        song: chaconne_time::Ns,
    },
    /// The tempo from a tick on; changes told before for later ticks are void.
    Tempo {
        /// From where.
        at: Tick,
        /// The tempo.
        tempo: chaconne_time::Tempo,
    },
    /// A cue to play when it is due.
    Play(Cue),
    /// A new epoch of a slot begins: what is queued for older ones is void. What sounds for the
    /// slot stays until [`Order::Settle`] says which of it to keep.
    Revise {
        /// Whose.
        slot: Slot,
        /// The new epoch.
        epoch: u32,
    },
    /// This voice goes on sounding in the new epoch, if that has it on the key it holds.
    Keep {
        /// Whose.
        slot: Slot,
        /// Which voice.
        voice: Voice,
        /// The key it sounds on from now on.
        address: Address,
    },
    /// What sounds for the slot and was not kept since its last [`Order::Revise`] is released.
    Settle {
        /// Whose.
        slot: Slot,
    },
    /// A message to be sent at once, whether or not the transport rolls.
    Now {
        /// Where to.
        port: PortIx,
        /// What.
        message: Message,
    },
    /// The transport stops: what is already due is sent, then the queue is emptied, and all but through-played keys are released.
    Halt,
    /// Everything that sounds is released at once, through-played keys too; the queue plays on.
    Silence,
}
