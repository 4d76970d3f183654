//! MIDI itself: what its bytes mean, how a cable carries them, and which values are legal.
//!
//! Bytes or messages go in, messages or bytes come out. The crate knows no song, no tempo, no
//! thread and no device.
//!
//! * [`Message`], [`Control`], [`moves`]: messages as values, and their bytes.
//! * [`Wire`]: either a short message or a system-exclusive message.
//! * [`U7`], [`U14`], [`Channel`]: values that are legal by type.
//! * [`parser`]: turns bytes, split anywhere, into messages.
//! * [`Parameters`]: assembles registered parameters from the control changes they are made of.
//! * [`serial`]: a model of a serial cable, for pacing a port and predicting its delays.
//! * [`time_code`], [`QuarterFrames`], [`MachineControl`]: what a recorder that follows us
//!   receives.

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
