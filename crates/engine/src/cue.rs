//! Cues and orders: what the engine hands to the scheduler, before the ledger turns presses and lifts
//! into notes on and off.

use crate::Message;
use chaconne_song::{Channel, NoteId, PassId, U7};
use chaconne_time::Tick;
use std::sync::Arc;

/// A port by its index in [`Config::ports`](crate::Config::ports).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PortIx(pub u8);

impl PortIx {
    /// The most ports an engine can have.
    pub const MOST: usize = 32;
}

/// The owner of a cue: a track, by a number that stays the same while the engine runs, or one of the
/// sources below.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Slot(pub u16);

impl Slot {
    /// Through-play: keys held by the player.
    pub const LIVE: Slot = Slot(u16::MAX);
    /// The click.
    pub const CLICK: Slot = Slot(u16::MAX - 1);
    /// What other gear follows: pulses, Start and Continue, time code, machine control.
    pub const CLOCK: Slot = Slot(u16::MAX - 2);
    /// The most tracks that get a slot of their own.
    pub const MOST: u16 = 8192;
}

/// One sounding of one note: the note, and the cycle of its pass that it belongs to. A press and
/// its lift carry the same voice, and no two soundings share one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Voice {
    /// The pass the note is in; [`NO_PASS`](Self::NO_PASS) for through-played keys and the click.
    pub pass: PassId,
    /// The note (for through-played keys: channel and key).
    pub note: NoteId,
    /// The transport tick at which the cycle starts (for through-played keys: the input; for a
    /// click: its beat).
    pub cycle: Tick,
}

impl Voice {
    /// The pass of a voice that is in no pass; ids of passes start at 1.
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
    /// A voice presses a key.
    Press {
        /// The channel.
        channel: Channel,
        /// The key.
        key: U7,
        /// The strike velocity, 1..=127.
        velocity: U7,
        /// The voice that presses it.
        voice: Voice,
    },
    /// A voice lifts a key.
    Lift {
        /// The channel.
        channel: Channel,
        /// The key.
        key: U7,
        /// The release velocity, 0..=127.
        velocity: U7,
        /// The voice that lifts it.
        voice: Voice,
    },
    /// A message other than a note on or off.
    Send(Message),
    /// A system-exclusive message, whole.
    SysEx(Arc<[u8]>),
}

/// An action, its tick, its owner and its port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cue {
    /// The transport tick at which it is due.
    pub at: Tick,
    /// Its owner.
    pub slot: Slot,
    /// The epoch of its slot in which it was made; a newer epoch cancels it.
    pub epoch: u32,
    /// The port it goes to.
    pub port: PortIx,
    /// What happens.
    pub action: Action,
}

impl Cue {
    /// The order among cues of one tick: pulses first, then lifts, system-exclusive messages,
    /// controllers (bank before program, as they are made), and presses. Cues of one rank keep the
    /// order in which they were made.
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

/// What cues are sorted by: tick, rank, and for presses and lifts the slot, key and voice.
pub(crate) type CueOrder = (Tick, u8, Option<(Slot, PortIx, Channel, U7, Voice)>);

impl Cue {
    /// What cues are sorted by before they are sent. It does not depend on how far ahead of the clock
    /// they were performed. Other messages of one tick keep the order in which they were made.
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

/// What the engine asks of the scheduler, which must obey in the order of arrival.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// Start the transport: tick `at` falls at `ns`.
    Roll {
        /// The first tick; negative for a count-in.
        at: Tick,
        /// When it falls, in nanoseconds on the shared monotonic clock.
        ns: chaconne_time::Ns,
        /// The tempo there.
        tempo: chaconne_time::Tempo,
        /// The musical time at that tick: nanoseconds since bar one at the song's tempi, negative
        /// in a count-in.
        song: chaconne_time::Ns,
    },
    /// Set the tempo from a tick on. This cancels tempi ordered before for that tick or later ones.
    Tempo {
        /// The first tick at this tempo.
        at: Tick,
        /// The tempo.
        tempo: chaconne_time::Tempo,
    },
    /// Hold the time just before a tick, in place of an earlier hold; `None` lets it go on.
    Hold {
        /// The first tick that does not come yet.
        at: Option<Tick>,
    },
    /// End the hold: the tick falls at `ns`, and goes on at this tempo. This cancels tempi ordered before for
    /// later ticks.
    Go {
        /// The tick.
        at: Tick,
        /// When it falls, in nanoseconds on the shared monotonic clock.
        ns: chaconne_time::Ns,
        /// The tempo from there on.
        tempo: chaconne_time::Tempo,
    },
    /// Play a cue when it is due.
    Play(Cue),
    /// Begin a new epoch of a slot: drop what is queued under older epochs. What sounds for the slot
    /// stays until [`Order::Settle`] releases what was not kept.
    Revise {
        /// The slot.
        slot: Slot,
        /// The new epoch.
        epoch: u32,
    },
    /// Keep a voice sounding in the new epoch, if it sounds on this key.
    Keep {
        /// The slot.
        slot: Slot,
        /// The voice.
        voice: Voice,
        /// The key on which the new epoch has it.
        address: Address,
    },
    /// Release what sounds for the slot and was not kept since its last [`Order::Revise`].
    Settle {
        /// The slot.
        slot: Slot,
    },
    /// Send a message at once, whether or not the transport rolls.
    Now {
        /// The port.
        port: PortIx,
        /// The message.
        message: Message,
    },
    /// Stop the transport: send what is already due, empty the queue, and release everything but
    /// through-played keys.
    Halt,
    /// Release everything that sounds at once, through-played keys too; the queue plays on.
    Silence,
}

#[cfg(test)]
mod tests {
    use super::*;

    const VOICE: Voice = Voice { pass: Voice::NO_PASS, note: NoteId(1), cycle: Tick::ZERO };

    fn cue(at: i64, slot: u16, action: Action) -> Cue {
        Cue { at: Tick(at), slot: Slot(slot), epoch: 0, port: PortIx(0), action }
    }

    fn press(at: i64, slot: u16, key: u8) -> Cue {
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::CENTRE);
        cue(at, slot, Action::Press { channel, key, velocity, voice: VOICE })
    }

    fn lift(at: i64, slot: u16, key: u8) -> Cue {
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::CENTRE);
        cue(at, slot, Action::Lift { channel, key, velocity, voice: VOICE })
    }

    /// A pulse is first, so that it is steady. A key is lifted before it is struck again, and an
    /// instrument is set up before it plays (common practice; no source).
    #[test]
    fn of_one_tick_pulses_go_out_first_then_lifts_messages_controllers_and_presses() {
        let program = Message::Program { channel: Channel::default(), program: U7::MIN };
        let real_time = [Message::Clock, Message::Start, Message::Continue, Message::Stop];
        for pulse in real_time.map(|message| cue(10, 9, Action::Send(message))) {
            let sorted = [
                press(9, 9, 60),
                pulse,
                lift(10, 9, 60),
                cue(10, 9, Action::SysEx([0xF0, 0xF7].into())),
                cue(10, 9, Action::Send(program)),
                press(10, 0, 60),
                cue(11, 0, Action::Send(Message::Clock)),
            ];
            let mut cues = sorted.clone();
            cues.reverse();
            cues.sort_by_key(Cue::order);
            assert_eq!(cues, sorted);
        }
    }

    #[test]
    fn keys_of_one_tick_go_out_in_the_order_of_their_tracks_and_keys() {
        for key in [press, lift] {
            let sorted = [key(10, 0, 62), key(10, 1, 60), key(10, 1, 61)];
            let mut cues = sorted.clone();
            cues.reverse();
            cues.sort_by_key(Cue::order);
            assert_eq!(cues, sorted);
        }
    }

    #[test]
    fn the_sources_that_are_no_tracks_have_the_highest_numbers_without_a_gap() {
        // The scheduler has a table with a place for each of them, after those of the tracks.
        let own = [Slot::LIVE, Slot::CLICK, Slot::CLOCK];
        assert_eq!(own.map(|slot| u16::MAX - slot.0), [0, 1, 2]);
        assert!(own.iter().all(|slot| slot.0 > Slot::MOST));
    }
}
