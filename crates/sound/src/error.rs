//! What can be wrong with what this crate is given, a sentence each.

/// Why there is no sound to be had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SoundError {
    /// The file of a font cannot be read.
    #[error("the font '{path}' cannot be read: {reason}")]
    Unreadable {
        /// The file.
        path: String,
        /// What the system said.
        reason: String,
    },
    /// A font larger than [`MAX_FONT_BYTES`](crate::MAX_FONT_BYTES).
    #[error("the font has {0} bytes, and at most 1 GB (1,000,000,000 bytes) can be read")]
    TooLarge(u64),
    /// What is read is not a SoundFont 2 file, or is a broken one.
    #[error("this is not a SoundFont 2 file that can be played: {0}")]
    Font(String),
    /// A sample rate that cannot be rendered at.
    #[error("{0} samples a second is outside 16000 to 192000")]
    Rate(u32),
}
