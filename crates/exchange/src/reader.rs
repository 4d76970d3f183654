//! Reads a Standard MIDI File as chunks and events. It is lenient, but reports every fault.
//!
//! In: any bytes. Out: the events of each track, and every deviation from the standard as a
//! [`Fault`]; even a strict reader would accept a file without faults. A fault never shortens a
//! track silently. The length of the file, [`MOST_EVENTS`] and [`MOST_CHUNKS`] bound time and
//! memory.
//!
//! We have our own reader because the library that writes our files offers two modes, fixed at
//! compile time: refuse a file with a fault, or silently drop the rest of the track.

mod faults;
mod track;

pub(crate) use faults::{Fault, Faults};

use crate::ImportError;
use chaconne_engine::Message;
use chaconne_song::Channel;
use std::sync::Arc;

/// The most events in a file.
pub(crate) const MOST_EVENTS: usize = 2_000_000;

/// The most track chunks: the header counts them in two bytes.
const MOST_CHUNKS: usize = 65_535;

/// A file that has been read.
#[derive(Debug)]
pub(crate) struct File<'a> {
    /// Its format, 0 or 1.
    pub format: u16,
    /// Ticks to the quarter note, 1..=32767.
    pub ppq: u16,
    /// The track chunks, in order; at least one.
    pub tracks: Vec<Track<'a>>,
    /// What was wrong with it.
    pub faults: Faults,
}

/// A track chunk that has been read.
#[derive(Debug, Default)]
pub(crate) struct Track<'a> {
    /// The messages, in order.
    pub events: Vec<Event>,
    /// The meta events, in order.
    pub metas: Vec<Meta<'a>>,
    /// The system-exclusive messages, F0 to F7, that [`Body::SysEx`] points to.
    pub sysex: Vec<Arc<[u8]>>,
    /// Where the track ends, in the file's ticks.
    pub end: u64,
}

/// A message and its position.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Event {
    /// Its position in the file's ticks.
    pub at: u64,
    /// The last port that the track has named so far, 0..=255; 0 if it has named none.
    pub port: u8,
    /// The message.
    pub body: Body,
}

/// A message of a track.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Body {
    /// A channel message.
    Message(Message),
    /// An index into [`Track::sysex`].
    SysEx(u32),
}

/// A meta event, other than the end of the track, the channel prefix and the port.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meta<'a> {
    /// Its position in the file's ticks.
    pub at: u64,
    /// Its type byte.
    pub kind: u8,
    /// The channel that a channel prefix gave it.
    pub channel: Option<Channel>,
    /// Its data, at least as long as the type requires.
    pub data: &'a [u8],
}

impl Meta<'_> {
    pub const TEXT: u8 = 0x01;
    pub const COPYRIGHT: u8 = 0x02;
    pub const NAME: u8 = 0x03;
    pub const INSTRUMENT: u8 = 0x04;
    pub const MARKER: u8 = 0x06;
    pub const PREFIX: u8 = 0x20;
    /// The port of the events that follow in the track: one byte. Standard MIDI Files 1.0 does not
    /// list it, but writers use it and readers of other projects know it (as `midi_port` in
    /// Python's mido, as `MidiPort` in midly).
    pub const PORT: u8 = 0x21;
    pub const END: u8 = 0x2F;
    pub const TEMPO: u8 = 0x51;
    pub const METRE: u8 = 0x58;
    pub const KEY: u8 = 0x59;

    /// The fewest data bytes of a type. Further bytes are ignored (Standard MIDI Files 1.0,
    /// "Meta-Events").
    fn least(kind: u8) -> usize {
        match kind {
            Meta::PREFIX | Meta::PORT => 1,
            Meta::TEMPO => 3,
            Meta::METRE => 4,
            Meta::KEY => 2,
            _ => 0,
        }
    }
}

/// Reads a file.
pub(crate) fn read(bytes: &[u8]) -> Result<File<'_>, ImportError> {
    let mut faults = Faults::default();
    let header = read_header(bytes, &mut faults)?;
    let mut tracks = Vec::new();
    let mut budget = MOST_EVENTS;
    let mut at = header.end;
    while at < bytes.len() {
        let Some(chunk) = chunk_at(bytes, at) else {
            let next = find_track(bytes, at + 1);
            faults.note_bytes(Fault::Junk, tracks.len(), at, next - at);
            at = next;
            continue;
        };
        if chunk.is_track {
            if tracks.len() == MOST_CHUNKS {
                return Err(ImportError::TooManyChunks(MOST_CHUNKS));
            }
            let number = tracks.len() + 1;
            let mut reader = track::Reader::new(bytes, chunk.body, chunk.end, number, &mut faults);
            at = reader.read(&mut budget)?;
            tracks.push(reader.finish());
        } else {
            faults.note(Fault::UnknownChunk, tracks.len(), at);
            // A length beyond the end is wrong, and skipping that far might skip tracks.
            at = if chunk.end > bytes.len() { find_track(bytes, at + 1) } else { chunk.end };
        }
    }
    check_count(&header, tracks.len(), &mut faults)?;
    Ok(File { format: header.format, ppq: header.ppq, tracks, faults })
}

/// The contents of the header.
struct Header {
    format: u16,
    tracks: u16,
    ppq: u16,
    /// Where the header ends in the file.
    end: usize,
}

fn read_header(bytes: &[u8], faults: &mut Faults) -> Result<Header, ImportError> {
    if !bytes.starts_with(b"MThd") {
        return Err(ImportError::NotMidi);
    }
    let cut = ImportError::HeaderCut { found: bytes.len() };
    let fixed: &[u8; 10] = bytes.get(4..14).and_then(|part| part.try_into().ok()).ok_or(cut)?;
    let [a, b, c, d, format @ .., t, u, v, w] = *fixed;
    let length = u32::from_be_bytes([a, b, c, d]);
    let format = u16::from_be_bytes(format);
    if length < 6 {
        return Err(ImportError::HeaderLength(length));
    }
    if format > 1 {
        return Err(ImportError::Format(format));
    }
    if v & 0x80 != 0 {
        return Err(ImportError::Smpte { frames: v.wrapping_neg(), ticks: w });
    }
    let ppq = u16::from_be_bytes([v, w]);
    if ppq == 0 {
        return Err(ImportError::Division);
    }
    let mut end = (length as usize).saturating_add(8);
    if end > bytes.len() {
        faults.note(Fault::HeaderLength, 0, 4);
        end = 14;
    }
    Ok(Header { format, tracks: u16::from_be_bytes([t, u]), ppq, end })
}

fn check_count(header: &Header, found: usize, faults: &mut Faults) -> Result<(), ImportError> {
    if found == 0 {
        return Err(ImportError::NoTrack);
    }
    if found != usize::from(header.tracks) {
        faults.note_bytes(Fault::TrackCount(header.tracks), found, 10, found);
    }
    if header.format == 0 && found > 1 {
        faults.note_bytes(Fault::FormatZero, found, 8, found);
    }
    Ok(())
}

/// A chunk of the file; its type is four printable letters (Standard MIDI Files 1.0, p. 2).
struct Chunk {
    is_track: bool,
    body: usize,
    /// Where it ends according to its length; this may be past the end of the file.
    end: usize,
}

fn chunk_at(bytes: &[u8], at: usize) -> Option<Chunk> {
    let head: &[u8; 8] = bytes.get(at..at + 8)?.try_into().ok()?;
    let [name @ .., a, b, c, d] = *head;
    let name: [u8; 4] = name;
    let printable = name.iter().all(|byte| (0x20..0x7F).contains(byte));
    printable.then(|| Chunk {
        is_track: name == *b"MTrk",
        body: at + 8,
        end: (at + 8).saturating_add(u32::from_be_bytes([a, b, c, d]) as usize),
    })
}

/// Where the next track chunk starts, at or after `from`; the end of the file if there is none.
fn find_track(bytes: &[u8], from: usize) -> usize {
    let rest = bytes.get(from..).unwrap_or_default();
    rest.windows(4).position(|four| four == b"MTrk").map_or(bytes.len(), |found| from + found)
}
