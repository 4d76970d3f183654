//! Plays on an audio device: moments on the clock become frames.
//!
//! | part | what it does |
//! | --- | --- |
//! | [`SoundLine`] | takes messages from the scheduler, each with the moment at which it is due to sound |
//! | `pending` | the messages that wait for their frame |
//! | `stage` | the callback's work: renders the mix, each message at its own frame |
//! | `map` | finds the moment of each frame, from noisy callback times |
//! | `device` | finds, opens and closes the device |

mod device;
mod line;
mod map;
mod pending;
mod stage;

pub use device::{Live, LiveError, OnEnd};
pub use line::SoundLine;
