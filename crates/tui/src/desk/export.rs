//! Exports: what the screen asks for, and how they are going.

/// What is exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ExportKind {
    /// A Standard MIDI File.
    Midi,
    /// A WAV file.
    Wav,
}

/// An export of the whole song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportSpec {
    /// What is exported.
    pub kind: ExportKind,
    /// The file, as it was typed.
    pub file: String,
    /// Whether to export each track to a file of its own, too.
    pub tracks: bool,
    /// Whether to replace files that exist.
    pub replace: bool,
}

/// How exports are going.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Export {
    /// The one that runs.
    pub running: Option<ExportRun>,
    /// Goes up by one whenever an export has ended, well or not.
    pub ended: u64,
    /// How the last one ended.
    pub outcome: ExportOutcome,
}

/// An export that runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportRun {
    /// The name of its file.
    pub file: String,
    /// How much of it is done, in hundredths, 0..=100.
    pub percent: u8,
}

/// How an export ended.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum ExportOutcome {
    /// There was none, or it was cancelled: no file was written.
    #[default]
    Nothing,
    /// The files are written: what they are, in a sentence or two.
    Written(String),
    /// A file is in the way that may be replaced if the user says so: one sentence.
    InTheWay(String),
    /// It failed: one sentence.
    Failed(String),
}
