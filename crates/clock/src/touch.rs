//! What a hand does on an input that is played through, as the scheduler gets it.

use chaconne_engine::{Address, PortIx, Voice};
use chaconne_midi::{Message, U7};
use chaconne_time::Ns;

/// What through-play asks of the scheduler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ThruEvent {
    /// When it was played.
    pub stamp: Ns,
    /// What was done.
    pub touch: Touch,
}

/// What a hand did.
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
    /// A key is let go.
    Lift {
        /// Where it sounds.
        address: Address,
        /// How fast.
        velocity: U7,
        /// Which input's which key.
        voice: Voice,
    },
    /// A message that is no key.
    Send {
        /// The port.
        port: PortIx,
        /// The message.
        message: Message,
    },
}
