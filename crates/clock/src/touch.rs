//! What is played on an input with through-play, as the scheduler receives it.

use chaconne_engine::{Address, PortIx, Voice};
use chaconne_midi::{Message, U7};
use chaconne_time::Ns;

/// Something played, to be sent at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ThruEvent {
    /// When it was played.
    pub stamp: Ns,
    /// What was done.
    pub touch: Touch,
}

/// What was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// A key is struck.
    Press {
        /// Where it sounds.
        address: Address,
        /// How hard.
        velocity: U7,
        /// Which input's which key.
        voice: Voice,
    },
    /// A key is released.
    Lift {
        /// Where it sounds.
        address: Address,
        /// How fast.
        velocity: U7,
        /// Which input's which key.
        voice: Voice,
    },
    /// A message other than a note.
    Send {
        /// The port.
        port: PortIx,
        /// The message.
        message: Message,
    },
}
