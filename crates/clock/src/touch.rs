//! Notes and controllers played on an input with through-play, as the scheduler receives them.

use chaconne_engine::{Address, PortIx, Voice};
use chaconne_midi::{Message, U7};
use chaconne_time::Ns;

/// A touch that is to be sent on at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ThruEvent {
    /// When it was played, in nanoseconds.
    pub stamp: Ns,
    /// What the player did.
    pub touch: Touch,
}

/// What a player did on an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// A key is struck.
    Press {
        /// The port, channel and key on which it sounds.
        address: Address,
        /// The velocity, 1..=127.
        velocity: U7,
        /// Identifies the input and its key.
        voice: Voice,
    },
    /// A key is released.
    Lift {
        /// The port, channel and key on which it sounds.
        address: Address,
        /// The release velocity, 0..=127.
        velocity: U7,
        /// Identifies the input and its key.
        voice: Voice,
    },
    /// A message other than a note.
    Send {
        /// The port that gets it.
        port: PortIx,
        /// The message.
        message: Message,
    },
}
