//! Playing to a device: the clock's moments become frames.
//!
//! | part | what it does |
//! | --- | --- |
//! | [`Line`] | takes messages from the scheduler, each with the moment it is to be heard |
//! | `stage` | the callback: asks the mix for frames, each message at its own |
//! | `map` | which moment a frame stands for, filtered |
//! | `device` | opens the device and keeps it |

mod device;
mod line;
mod map;
mod pending;
mod stage;

pub use device::{Live, LiveError, OnEnd};
pub use line::Line;
