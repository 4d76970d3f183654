//! The faults of a file, counted by kind, so that a million equal faults give one line.

use std::collections::BTreeMap;

/// A deviation from the standard that did not stop the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Fault {
    /// The header claims to extend past the end of the file.
    HeaderLength,
    /// The header gives a different number of tracks.
    TrackCount(u16),
    /// Format 0 with several tracks.
    FormatZero,
    /// A chunk of unknown type, which the standard says to skip.
    UnknownChunk,
    /// Bytes between chunks that belong to no chunk.
    Junk,
    /// The file ends inside a track.
    Cut,
    /// Bytes after a track's end mark.
    AfterEnd,
    /// An event runs past its track's end.
    CutEvent,
    /// A track without its end mark.
    NoEnd,
    /// A track continues past its chunk's length.
    TooShort,
    /// A track ends long before its chunk's length.
    TooLong,
    /// Running status continued across a meta or system-exclusive event.
    RunningAcross,
    /// Data bytes without any status.
    NoStatus,
    /// A number of more than four bytes.
    LongNumber,
    /// A data byte above 127.
    WildData,
    /// A message that does not belong in a file: song position, clock and the like.
    SystemBytes,
    /// A system-exclusive message without its end.
    Unterminated,
    /// A system-exclusive message that is too long or contains invalid bytes.
    BadSysEx,
    /// Raw bytes that are not a system-exclusive message.
    Escape,
    /// A meta event too short for its type.
    ShortMeta,
}

/// How often a fault occurred, how many bytes or tracks it affects, and where it occurred first.
#[derive(Debug, Clone, Copy)]
struct Tally {
    times: usize,
    bytes: usize,
    track: usize,
    at: usize,
}

/// The faults of a file.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    tallies: BTreeMap<Fault, Tally>,
}

impl Faults {
    /// Records a fault at a byte of the file, in a track counted from 1 (0 is outside all tracks).
    pub fn note(&mut self, fault: Fault, track: usize, at: usize) {
        self.note_bytes(fault, track, at, 0);
    }

    /// Like [`Faults::note`], with the number of bytes or tracks that the fault affects.
    pub fn note_bytes(&mut self, fault: Fault, track: usize, at: usize, bytes: usize) {
        let fresh = Tally { times: 0, bytes: 0, track, at };
        let tally = self.tallies.entry(fault).or_insert(fresh);
        tally.times += 1;
        tally.bytes += bytes;
    }

    /// One sentence for each kind of fault.
    pub fn sentences(&self) -> impl Iterator<Item = String> + '_ {
        self.tallies.iter().map(|(&fault, tally)| sentence(fault, tally))
    }
}

fn sentence(fault: Fault, tally: &Tally) -> String {
    let Tally { times, bytes, track, at } = *tally;
    let plural = if times == 1 { "" } else { "s" };
    let several = |thing: &str, wrong: &str, done: &str| {
        format!("{times} {thing}{plural} {wrong}: {done} (the first in track {track} at byte {at})")
    };
    match fault {
        Fault::HeaderLength => {
            "the header says that it is longer than the file: read as 6 bytes".into()
        }
        Fault::TrackCount(claimed) => {
            format!(
                "the header says that the file has {claimed} tracks, but there are {bytes}: all were read"
            )
        }
        Fault::FormatZero => {
            format!(
                "the file has format 0, which means one track, but there are {bytes}: all were read"
            )
        }
        Fault::UnknownChunk => {
            format!("{times} chunk{plural} of unknown type: skipped (the first at byte {at})")
        }
        Fault::Junk => format!("{bytes} stray bytes between chunks: skipped, from byte {at}"),
        Fault::Cut => format!(
            "the file breaks off inside track {track}, {bytes} bytes too early: complete events were kept"
        ),
        Fault::AfterEnd => {
            format!("{bytes} bytes after the end mark of track {track}: ignored, from byte {at}")
        }
        Fault::CutEvent => several("event", "cut off at the end of a track", "ignored"),
        Fault::NoEnd => several("track", "without an end mark", "read in full"),
        Fault::TooShort => several("track", "longer than its chunk says", "read to the end mark"),
        Fault::TooLong => several("track", "shorter than its chunk says", "read to the end mark"),
        Fault::RunningAcross => several(
            "event",
            "with running status from before a meta or system-exclusive event",
            "read all the same",
        ),
        Fault::NoStatus => {
            several("track", "with data bytes that have no status", "read up to there")
        }
        Fault::LongNumber => several("number", "of more than four bytes", "read all the same"),
        Fault::WildData => several("data byte", "above 127", "read as 127"),
        Fault::SystemBytes => several("system message", "out of place in a file", "ignored"),
        Fault::Unterminated => several("system-exclusive message", "without an end", "ended there"),
        Fault::BadSysEx => several(
            "system-exclusive message",
            "longer than 65536 bytes or with bytes above 127",
            "ignored",
        ),
        Fault::Escape => several("event", "of raw bytes that are no whole message", "ignored"),
        Fault::ShortMeta => several("meta event", "too short for its type", "ignored"),
    }
}
