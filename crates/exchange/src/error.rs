//! The errors of reading a file and writing a song, each one sentence.

/// Why the bytes could not be read as music. Nothing was imported.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// The bytes do not start like a Standard MIDI File.
    #[error("this is not a Standard MIDI File: it does not begin with 'MThd'")]
    NotMidi,
    /// The file ends inside its header.
    #[error("the file ends after {found} bytes, inside its header: at least 14 are needed")]
    HeaderCut {
        /// The length of the file in bytes.
        found: usize,
    },
    /// The header claims to be shorter than any header.
    #[error("the header says that it has {0} bytes: it must have 6 or more")]
    HeaderLength(u32),
    /// Format 2 or an unknown format.
    #[error(
        "the file has format {0}: only formats 0 and 1, whose tracks sound together, can be read"
    )]
    Format(u16),
    /// A quarter note of zero ticks.
    #[error("the file has 0 ticks to the quarter note: it must have 1 to 32767")]
    Division,
    /// Positions in seconds instead of beats.
    #[error(
        "the file counts time in frames ({frames} per second, {ticks} ticks per frame), so its bars are \
         unknown: save it with ticks per quarter note instead"
    )]
    Smpte {
        /// Frames per second as the file gives them: 24, 25, 29 (30 drop) or 30.
        frames: u8,
        /// Ticks per frame.
        ticks: u8,
    },
    /// The file has a header but no track.
    #[error("the file has a header but no track chunk ('MTrk')")]
    NoTrack,
    /// More events than the reader accepts.
    #[error("the file has more than {0} events, the most that can be read")]
    TooManyEvents(usize),
    /// More track chunks than a header can count.
    #[error("the file has more than {0} track chunks, the most its header can count")]
    TooManyChunks(usize),
    /// More tracks than a song holds.
    #[error("the file has {0} tracks with something to play: a song holds at most 4096")]
    TooManyTracks(usize),
    /// More bars than a section holds.
    #[error("the music is {0} bars long: a section holds at most 999")]
    TooLong(i64),
}

/// Why a route could not be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ExportError {
    /// The route loops until someone stops it.
    #[error("the route has no end: give the sections and how often each repeats")]
    Open,
    /// More ports than a file can tell apart.
    #[error("the song plays on {0} ports: a Standard MIDI File can tell 128 apart")]
    TooManyPorts(usize),
    /// The format cannot hold it: one track has more bytes than its length field can count.
    #[error("the music does not fit into a Standard MIDI File: {0}")]
    Refused(String),
}
