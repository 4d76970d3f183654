//! Plays on an audio device: turns times on the clock into frames.
//!
//! | part | what it does |
//! | --- | --- |
//! | [`SoundLine`] | accepts messages from the scheduler, each with the time at which it should sound |
//! | `pending` | holds the messages that wait for their frame |
//! | `stage` | the callback's work: renders the mix, each message at its own frame |
//! | `map` | computes the time of each frame from noisy callback times |
//! | `device` | finds, opens and closes the device |

mod device;
mod line;
mod map;
mod pending;
mod stage;

pub use device::{Live, LiveError, OnEnd};
pub use line::SoundLine;
