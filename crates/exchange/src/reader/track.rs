//! Reads the events of one track chunk.
//!
//! In: the bytes of the file and where the chunk starts. Out: a [`Track`], and where the next chunk
//! starts. The chunk's length is not trusted: a track is read to its end mark, even past the stated
//! end of its chunk; if another track starts right after an early end mark, reading continues
//! there.

use super::{Body, Event, Fault, Faults, Meta, Track, chunk_at, find_track};
use crate::ImportError;
use chaconne_engine::Message;
use chaconne_song::{Channel, SysEx, U7};

/// The cap on a number: longer than any plausible delta, yet sums of it do not overflow.
const LONGEST_NUMBER: u64 = 1 << 35;

/// Why the next event could not be read.
enum Stop {
    /// The bytes end within it.
    Short,
    /// It is data without a status.
    Lost,
}

/// Whether the track continues after an event.
#[derive(PartialEq)]
enum Flow {
    On,
    End,
}

/// Reads one track.
pub(super) struct Reader<'a, 'f> {
    bytes: &'a [u8],
    at: usize,
    /// Where reading stops: the end of the chunk, or of the file if the chunk's length is wrong.
    limit: usize,
    /// The end of the chunk according to its length.
    claimed: usize,
    number: usize,
    faults: &'f mut Faults,
    track: Track<'a>,
    now: u64,
    running: Option<u8>,
    /// Whether a meta or system-exclusive event has cancelled the running status.
    cancelled: bool,
    prefix: Option<Channel>,
    port: u8,
    /// A system-exclusive message that continues in a later packet.
    packet: Option<(u64, Vec<u8>)>,
}

impl<'a, 'f> Reader<'a, 'f> {
    /// A reader for the chunk whose data starts at `at` and, according to its length, ends at
    /// `claimed`.
    pub fn new(
        bytes: &'a [u8],
        at: usize,
        claimed: usize,
        number: usize,
        faults: &'f mut Faults,
    ) -> Reader<'a, 'f> {
        Reader {
            bytes,
            at,
            limit: claimed.min(bytes.len()),
            claimed,
            number,
            faults,
            track: Track::default(),
            now: 0,
            running: None,
            cancelled: false,
            prefix: None,
            port: 0,
            packet: None,
        }
    }

    /// Reads to the end of the track. Returns where the next chunk starts.
    pub fn read(&mut self, budget: &mut usize) -> Result<usize, ImportError> {
        loop {
            let stretched = self.limit > self.claimed;
            if stretched && self.bytes[self.at..].starts_with(b"MTrk") {
                self.fault(Fault::NoEnd);
                return Ok(self.at);
            }
            if self.at >= self.limit && (stretched || self.length_is_plausible()) {
                return Ok(self.end_unmarked());
            }
            let (start, before) = (self.at, self.now);
            match self.event() {
                Ok(Flow::End) => return Ok(self.after_end()),
                Ok(Flow::On) => {
                    *budget = budget
                        .checked_sub(1)
                        .ok_or(ImportError::TooManyEvents(super::MOST_EVENTS))?;
                }
                Err(Stop::Short) if !stretched && !self.length_is_plausible() => {
                    (self.at, self.now) = (start, before);
                    self.fault(Fault::TooShort);
                    self.limit = self.bytes.len();
                }
                Err(Stop::Short) => {
                    self.now = before;
                    return Ok(self.end_cut(start));
                }
                Err(Stop::Lost) => {
                    self.faults.note(Fault::NoStatus, self.number, start);
                    return Ok(self.next_after(start));
                }
            }
        }
    }

    /// The track. An unfinished system-exclusive message is closed.
    pub fn finish(mut self) -> Track<'a> {
        self.close_packet();
        self.track.end = self.now;
        self.track
    }

    /// Whether the chunk's length is plausible: it ends at the end of the file or before another
    /// chunk.
    fn length_is_plausible(&self) -> bool {
        self.claimed >= self.bytes.len() || chunk_at(self.bytes, self.claimed).is_some()
    }

    fn end_unmarked(&mut self) -> usize {
        if self.claimed > self.bytes.len() {
            let missing = self.claimed - self.bytes.len();
            self.faults.note_bytes(Fault::Cut, self.number, self.at, missing);
        } else {
            self.fault(Fault::NoEnd);
        }
        self.at
    }

    fn end_cut(&mut self, start: usize) -> usize {
        if self.claimed > self.bytes.len() {
            let missing = self.claimed - self.bytes.len();
            self.faults.note_bytes(Fault::Cut, self.number, start, missing);
        } else {
            self.faults.note(Fault::CutEvent, self.number, start);
        }
        self.next_after(start)
    }

    /// Where to continue after the end mark.
    fn after_end(&mut self) -> usize {
        if self.at >= self.claimed {
            return self.at;
        }
        if self.claimed > self.bytes.len() || self.bytes[self.at..].starts_with(b"MTrk") {
            self.fault(Fault::TooLong);
            return self.at;
        }
        self.faults.note_bytes(Fault::AfterEnd, self.number, self.at, self.claimed - self.at);
        self.claimed
    }

    /// Where to continue after an unreadable event at `start`.
    fn next_after(&self, start: usize) -> usize {
        if self.limit == self.claimed && self.length_is_plausible() {
            return self.claimed;
        }
        find_track(self.bytes, start)
    }

    fn event(&mut self) -> Result<Flow, Stop> {
        let delta = self.number()?;
        let status = self.peek()?;
        self.now += delta;
        if status >= 0x80 {
            self.at += 1;
        }
        match status {
            0xFF => return self.meta(),
            0xF0 | 0xF7 => self.sysex(status)?,
            0x80..=0xEF => {
                (self.running, self.cancelled) = (Some(status), false);
                self.message(status)?;
            }
            0..=0x7F => {
                let running = self.running.ok_or(Stop::Lost)?;
                if self.cancelled {
                    self.fault(Fault::RunningAcross);
                    self.cancelled = false;
                }
                self.message(running)?;
            }
            _ => self.system(status)?,
        }
        Ok(Flow::On)
    }

    fn message(&mut self, status: u8) -> Result<(), Stop> {
        let a = self.data()?;
        let b = if matches!(status & 0xF0, 0xC0 | 0xD0) { U7::MIN } else { self.data()? };
        self.close_packet();
        self.prefix = None;
        if let Some(message) = Message::channel_voice(status, a, b) {
            self.keep(self.now, Body::Message(message));
        }
        Ok(())
    }

    fn keep(&mut self, at: u64, body: Body) {
        self.track.events.push(Event { at, port: self.port, body });
    }

    fn meta(&mut self) -> Result<Flow, Stop> {
        let kind = self.peek()?;
        self.at += 1;
        let start = self.at;
        let data = self.block()?;
        self.cancelled = true;
        if data.len() < Meta::least(kind) {
            self.faults.note(Fault::ShortMeta, self.number, start);
            return Ok(Flow::On);
        }
        match kind {
            Meta::END => return Ok(Flow::End),
            Meta::PREFIX => self.prefix = Channel::from_number(data[0].saturating_add(1)),
            Meta::PORT => self.port = data[0],
            _ => self.track.metas.push(Meta { at: self.now, kind, channel: self.prefix, data }),
        }
        Ok(Flow::On)
    }

    fn sysex(&mut self, status: u8) -> Result<(), Stop> {
        let start = self.at;
        let data = self.block()?;
        self.cancelled = true;
        match (status, self.packet.take()) {
            (0xF7, Some((at, mut whole))) => {
                whole.extend_from_slice(data);
                self.keep_packet(at, whole);
            }
            (0xF7, None) if SysEx::is_whole(data) => self.keep_sysex(self.now, data.to_vec()),
            (0xF7, None) => self.faults.note(Fault::Escape, self.number, start),
            (_, waiting) => {
                self.packet = waiting;
                self.close_packet();
                let mut whole = vec![0xF0];
                whole.extend_from_slice(data);
                self.keep_packet(self.now, whole);
            }
        }
        Ok(())
    }

    fn keep_packet(&mut self, at: u64, bytes: Vec<u8>) {
        if bytes.last() == Some(&0xF7) {
            self.keep_sysex(at, bytes);
        } else {
            self.packet = Some((at, bytes));
        }
    }

    fn close_packet(&mut self) {
        if let Some((at, mut bytes)) = self.packet.take() {
            self.fault(Fault::Unterminated);
            bytes.push(0xF7);
            self.keep_sysex(at, bytes);
        }
    }

    fn keep_sysex(&mut self, at: u64, bytes: Vec<u8>) {
        if !SysEx::is_whole(&bytes) {
            self.fault(Fault::BadSysEx);
            return;
        }
        let place = self.track.sysex.len() as u32;
        self.track.sysex.push(bytes.into());
        self.keep(at, Body::SysEx(place));
    }

    /// Skips a system message, which does not belong in a file (MIDI 1.0, table V), with its data.
    fn system(&mut self, status: u8) -> Result<(), Stop> {
        self.fault(Fault::SystemBytes);
        let count = match status {
            0xF1 | 0xF3 => 1,
            0xF2 => 2,
            _ => 0,
        };
        for _ in 0..count {
            self.data()?;
        }
        Ok(())
    }

    fn fault(&mut self, fault: Fault) {
        self.faults.note(fault, self.number, self.at);
    }

    fn peek(&self) -> Result<u8, Stop> {
        self.bytes[..self.limit].get(self.at).copied().ok_or(Stop::Short)
    }

    fn data(&mut self) -> Result<U7, Stop> {
        let byte = self.peek()?;
        if byte > 127 {
            self.fault(Fault::WildData);
        }
        self.at += 1;
        Ok(U7::new(byte).unwrap_or(U7::MAX))
    }

    /// Reads a variable-length number: seven bits per byte, the last byte below 128. The standard
    /// allows four bytes (Standard MIDI Files 1.0, p. 2).
    fn number(&mut self) -> Result<u64, Stop> {
        let start = self.at;
        let mut value = 0u64;
        loop {
            let byte = self.peek()?;
            self.at += 1;
            value = (value << 7 | u64::from(byte & 0x7F)).min(LONGEST_NUMBER);
            if byte < 0x80 {
                break;
            }
        }
        if self.at - start > 4 {
            self.faults.note(Fault::LongNumber, self.number, start);
        }
        Ok(value)
    }

    /// Reads a length and that many bytes.
    fn block(&mut self) -> Result<&'a [u8], Stop> {
        let length = self.number()? as usize;
        let end = self.at.checked_add(length).filter(|&end| end <= self.limit);
        let end = end.ok_or(Stop::Short)?;
        let data = &self.bytes[self.at..end];
        self.at = end;
        Ok(data)
    }
}
