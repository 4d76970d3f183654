//! The errors of this crate, each one sentence.

/// Why something cannot be played.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SoundError {
    /// The font file cannot be read.
    #[error("the font '{path}' cannot be read: {reason}")]
    Unreadable {
        /// The file.
        path: String,
        /// The system's reason.
        reason: String,
    },
    /// A font larger than [`MAX_FONT_BYTES`](crate::MAX_FONT_BYTES).
    #[error("the font has {0} bytes; the limit is 1 GB (1,000,000,000 bytes)")]
    TooLarge(u64),
    /// The file is not a SoundFont 2 file, or is broken.
    #[error("this is not a playable SoundFont 2 file: {0}")]
    Font(String),
    /// A sample rate outside [`RATES`](crate::RATES).
    #[error("the sample rate {0} Hz is outside 16000 to 192000 Hz")]
    Rate(u32),
}
