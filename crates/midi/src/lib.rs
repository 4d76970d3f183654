//! MIDI itself: what its bytes mean, how they travel on a cable, and the values they can carry.
//!
//! Bytes or messages go in, messages or bytes come out. The crate knows no song, no tempo, no
//! thread and no device; whoever speaks MIDI uses it.
//!
//! * [`Message`], [`Control`], [`moves`]: messages as values, and their bytes.
//! * [`Wire`]: a message or a system-exclusive one.
//! * [`U7`], [`U14`], [`Channel`]: legal values by type.
//! * [`parser`]: bytes as they arrive, split anywhere, as messages.
//! * [`Parameters`]: registered parameters, gathered from the control changes that make them up.
//! * [`serial`]: a serial cable as a model, for pacing a port and for forecasts.
//! * [`time_code`], [`QuarterFrames`], [`MachineControl`]: what recorders that follow receive.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod control;
mod machine_control;
mod message;
mod parameters;
pub mod parser;
mod quarter_frames;
pub mod serial;
pub mod time_code;
mod values;
mod wire;

pub use control::Control;
pub use machine_control::MachineControl;
pub use message::{Bytes, Message, moves};
pub use parameters::{Gathered, Parameters};
pub use quarter_frames::QuarterFrames;
pub use values::{Channel, RangeError, U7, U14};
pub use wire::Wire;
