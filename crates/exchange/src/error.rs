//! Why a file could not be read, or a song not be written down: one sentence each.

/// Why the bytes could not be taken for music. Nothing was read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// The bytes do not start as a Standard MIDI File does.
    #[error("not a Standard MIDI File: it does not start with 'MThd'")]
    NotMidi,
    /// The file ends inside its header.
    #[error("the file ends after {found} bytes, inside its header: at least 14 are needed")]
    HeaderCut {
        /// The bytes there are.
        found: usize,
    },
    /// The header says it is shorter than a header can be.
    #[error("the header claims a length of {0} bytes: it must be 6 or more")]
    HeaderLength(u32),
    /// Format 2, or none that is known.
    #[error(
        "the file is of format {0}, which holds patterns without an order: only formats 0 and 1, \
         whose tracks sound together, can be read"
    )]
    Format(u16),
    /// Ticks of no length.
    #[error("the file claims 0 ticks to the quarter note: it must be 1 to 32767")]
    Division,
    /// Positions in seconds instead of beats.
    #[error(
        "the file counts time in frames ({frames} a second, {ticks} ticks a frame) and not in \
         beats, so nothing says where its bars are: save it with ticks per quarter note instead"
    )]
    Smpte {
        /// Frames a second as the file tells them: 24, 25, 29 (30 drop) or 30.
        frames: u8,
        /// Ticks a frame.
        ticks: u8,
    },
    /// There is a header and nothing to play.
    #[error("the file has a header but no track chunk ('MTrk')")]
    NoTrack,
    /// More events than are kept.
    #[error("the file has more than {0} events, the most that can be read")]
    TooManyEvents(usize),
    /// More track chunks than a header can tell of.
    #[error("the file has more than {0} track chunks, the most its header can tell of")]
    TooManyChunks(usize),
    /// More tracks than a song holds.
    #[error("the file has {0} tracks with something to play: a song holds at most 4096")]
    TooManyTracks(usize),
    /// More bars than a section holds.
    #[error("the music is {0} bars long: a section holds at most 999")]
    TooLong(i64),
}

/// Why a route could not be written down.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ExportError {
    /// The route goes round until somebody stops it.
    #[error("the route has no end: give the sections and how often each goes round")]
    Open,
    /// The file's format cannot hold it: more bytes in one track than its length can tell.
    #[error("the music does not fit into a Standard MIDI File: {0}")]
    Refused(String),
}
