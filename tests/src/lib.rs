//! Shared helpers of the whole-program tests: the program, FIFOs for cables, a terminal, and a
//! reader of MIDI bytes that is not the project's own.

#[cfg(unix)]
pub mod fifo;
#[cfg(unix)]
pub mod follow;
pub mod loudness;
pub mod program;
pub mod python;
#[cfg(unix)]
pub mod terminal;
pub mod wav;
pub mod wire;
