//! The bounce: renders timed messages to audio files.
//!
//! In: a [`Score`], which holds every message with its due frame and its stem. Out: the mix and its
//! stems, piece by piece, for exactly the frames asked for. The instrument's delay is compensated:
//! a message due at frame 0 sounds there, to within 6 frames. Memory use is a few pieces, however
//! long the music is. The same score, font and settings give the same samples.
//!
//! * [`Bounce`]: renders (`render.rs`); `cut.rs` keeps only the frames asked for.
//! * [`WavFile`], [`Bits`]: samples as the bytes of a WAV file, dithered at 16 bits.
//! * [`Loudness`]: peak, and loudness by ITU-R BS.1770.

mod cut;
mod loudness;
mod render;
mod score;
mod wav;

pub use cut::Stereo;
pub use loudness::Loudness;
pub use render::{Bounce, LONGEST_TAIL, Settings, Tail};
pub use score::{Score, ScoreEvent};
pub use wav::{Bits, MOST_WAV_BYTES, WavFile};
