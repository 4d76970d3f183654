//! Shared helpers of the whole-program tests: the program, FIFOs for cables, a terminal, and
//! independent readers of MIDI bytes, WAV files and loudness.

#[cfg(unix)]
pub mod fifo;
#[cfg(unix)]
pub mod follow;
pub mod loudness;
pub mod program;
pub mod python;
pub mod song_copy;
#[cfg(unix)]
pub mod terminal;
pub mod wav;
pub mod wire;
