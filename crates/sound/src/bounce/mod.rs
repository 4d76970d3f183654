//! The bounce: timed messages as files of sound.
//!
//! In: a [`Score`], which is every message with the frame it is due at and the stem it belongs to.
//! Out: the mix and its stems, a piece at a time, from the frame that is asked for on, and nothing
//! else: what it costs in delay is taken off, so that a message due at frame 0 sounds there, give or
//! take 6 frames. It holds a few pieces and no more, however long the music is. The same score, font
//! and settings give the same samples.
//!
//! * [`Bounce`]: renders (`render.rs`); `cut.rs` lets through what is asked for.
//! * [`WavFile`], [`Bits`]: samples as the bytes of a WAV file, dithered where they are short.
//! * [`Loudness`]: peak, and loudness by ITU-R BS.1770.

mod cut;
mod loudness;
mod render;
mod score;
mod wav;

pub use cut::Stereo;
pub use loudness::Loudness;
pub use render::{Bounce, LONGEST_TAIL, Settings, Tail};
pub use score::{Cue, Score};
pub use wav::{Bits, MOST_WAV_BYTES, WavFile};
