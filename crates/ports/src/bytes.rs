//! A byte stream as an output. Messages are written whole and in order: if the stream accepts only
//! part of a message, the rest is written before anything else. If the reader has gone, the caller
//! replaces the stream ([`BytesOut::replace`]).

use super::stream::{ByteStream, Wrote};
use chaconne_clock::Sent;
use chaconne_midi::parser::SYSEX_MOST;
use std::path::Path;

/// A stream, and the message that is half written to it.
#[derive(Debug)]
pub(crate) struct BytesOut {
    stream: Option<ByteStream>,
    /// The rest of a half-written message, from `done` on. It never grows past its capacity.
    rest: Vec<u8>,
    done: usize,
    /// Whether the reader has gone.
    gone: bool,
}

impl BytesOut {
    /// Opens the stream at `path`; it may have no reader yet.
    pub fn open(path: &Path) -> Result<BytesOut, String> {
        let stream = ByteStream::open(path)?;
        let rest = Vec::with_capacity(SYSEX_MOST);
        Ok(BytesOut { stream, rest, done: 0, gone: false })
    }

    /// The stream, while it has a reader.
    pub fn stream(&self) -> Option<&ByteStream> {
        self.stream.as_ref()
    }

    /// Uses another stream from now on, and returns the old one.
    pub fn replace(&mut self, stream: ByteStream) -> Option<ByteStream> {
        self.forget();
        self.gone = false;
        self.stream.replace(stream)
    }

    /// Records that the reader has gone.
    pub fn lose(&mut self) {
        self.forget();
        self.gone = true;
    }

    /// The stream, if its reader has gone.
    pub fn take_gone(&mut self) -> Option<ByteStream> {
        self.stream.take_if(|_| self.gone)
    }

    /// Whether a message is half written.
    pub fn is_unfinished(&self) -> bool {
        !self.rest.is_empty()
    }

    /// Sends one whole message of at most [`SYSEX_MOST`] bytes; a longer one is never accepted.
    pub fn send(&mut self, bytes: &[u8]) -> Sent {
        match self.finish() {
            Sent::Done if bytes.len() <= SYSEX_MOST => {}
            Sent::Done => return Sent::Full,
            other => return other,
        }
        match self.write(bytes) {
            Wrote::Some(count) => {
                self.rest.extend_from_slice(&bytes[count..]);
                Sent::Done
            }
            Wrote::Nothing => Sent::Full,
            Wrote::Gone => {
                self.lose();
                Sent::Lost
            }
        }
    }

    /// Writes the rest of a half-written message.
    pub fn finish(&mut self) -> Sent {
        while self.is_unfinished() {
            match self.write(&self.rest[self.done..]) {
                Wrote::Some(count) => self.done += count,
                Wrote::Nothing => return Sent::Full,
                Wrote::Gone => {
                    self.lose();
                    return Sent::Lost;
                }
            }
            if self.done == self.rest.len() {
                self.forget();
            }
        }
        Sent::Done
    }

    /// Forgets a half-written message.
    fn forget(&mut self) {
        self.rest.clear();
        self.done = 0;
    }

    fn write(&self, bytes: &[u8]) -> Wrote {
        self.stream.as_ref().map_or(Wrote::Gone, |stream| stream.write(bytes))
    }
}
