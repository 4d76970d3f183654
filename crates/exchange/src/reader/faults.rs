//! What was wrong with a file, tallied by kind, so that a million faults are one line each.

use std::collections::BTreeMap;

/// A departure from the standard that the reader got over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Fault {
    /// The header's length leads past the end of the file.
    HeaderLength,
    /// The header promised another number of tracks.
    TrackCount(u16),
    /// Format 0 with several tracks.
    FormatNought,
    /// A chunk of a type that is not known; the standard says to skip it.
    AlienChunk,
    /// Bytes between chunks that are none.
    Junk,
    /// The file ends inside a track.
    Cut,
    /// Bytes after a track's end mark.
    AfterEnd,
    /// An event runs past its track's end.
    CutEvent,
    /// A track without its end mark.
    NoEnd,
    /// A track goes on after the length its chunk tells.
    TooShort,
    /// A track ends long before the length its chunk tells.
    TooLong,
    /// Running status carried across a meta or system-exclusive event.
    RunningAcross,
    /// Data bytes where nothing says what they belong to.
    NoStatus,
    /// A number of more than four bytes.
    LongNumber,
    /// A data byte above 127.
    WildData,
    /// A message that has no place in a file: song position, clock and the like.
    SystemBytes,
    /// A system-exclusive message without its end.
    Unterminated,
    /// A system-exclusive message that is too long or holds bytes it must not.
    BadSysEx,
    /// Raw bytes that are no system-exclusive message.
    Escape,
    /// A meta event too short for what it means to tell.
    ShortMeta,
}

/// How often, how much, and where first.
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
    /// Notes a fault in the track of that number (0: outside of tracks), at a byte of the file.
    pub fn note(&mut self, fault: Fault, track: usize, at: usize) {
        self.note_bytes(fault, track, at, 0);
    }

    /// The same, with how much it concerns: bytes, or tracks.
    pub fn note_bytes(&mut self, fault: Fault, track: usize, at: usize, bytes: usize) {
        let fresh = Tally { times: 0, bytes: 0, track, at };
        let tally = self.tallies.entry(fault).or_insert(fresh);
        tally.times += 1;
        tally.bytes += bytes;
    }

    /// One sentence for each kind.
    pub fn sentences(&self) -> impl Iterator<Item = String> + '_ {
        self.tallies.iter().map(|(&fault, tally)| sentence(fault, tally))
    }
}

fn sentence(fault: Fault, tally: &Tally) -> String {
    let Tally { times, bytes, track, at } = *tally;
    let several = |thing: &str, rest: &str| {
        let plural = if times == 1 { "" } else { "s" };
        format!("{times} {thing}{plural} {rest}; the first in track {track} at byte {at}")
    };
    match fault {
        Fault::HeaderLength => {
            "the header's length leads past the end of the file: taken as 6 bytes".into()
        }
        Fault::TrackCount(told) => {
            format!("the header tells of {told} tracks, but there are {bytes}: all were read")
        }
        Fault::FormatNought => {
            format!("format 0 has one track, but this file has {bytes}: all were read")
        }
        Fault::AlienChunk => {
            let plural = if times == 1 { "" } else { "s" };
            format!("{times} chunk{plural} of unknown type skipped; the first at byte {at}")
        }
        Fault::Junk => format!("{bytes} bytes that belong to no chunk skipped, from byte {at}"),
        Fault::Cut => format!(
            "the file ends inside track {track}, {bytes} bytes too early: what is whole was kept"
        ),
        Fault::AfterEnd => {
            format!("{bytes} bytes after the end mark of track {track} left out, from byte {at}")
        }
        Fault::CutEvent => several("event", "past the end of its track left out"),
        Fault::NoEnd => several("track", "without an end mark, read whole"),
        Fault::TooShort => several("track", "longer than its chunk tells, read to the end mark"),
        Fault::TooLong => several("track", "shorter than its chunk tells, read to the end mark"),
        Fault::RunningAcross => several(
            "time",
            "running status went on after a meta or system-exclusive event: followed",
        ),
        Fault::NoStatus => several(
            "track",
            "with data bytes that belong to nothing: what comes after them could not be read",
        ),
        Fault::LongNumber => several("number", "of more than four bytes taken as it stands"),
        Fault::WildData => several("data byte", "above 127 taken as 127"),
        Fault::SystemBytes => several("system message", "that has no place in a file left out"),
        Fault::Unterminated => several("system-exclusive message", "without an end closed"),
        Fault::BadSysEx => several(
            "system-exclusive message",
            "longer than 65536 bytes or with bytes above 127 inside left out",
        ),
        Fault::Escape => several("event", "of raw bytes that make no whole message left out"),
        Fault::ShortMeta => several("meta event", "too short for its type left out"),
    }
}
