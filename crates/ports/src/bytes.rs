//! A byte stream as an output: whole messages, never mixed.
//!
//! A message that the stream took in part is finished before anything else is sent. A stream
//! that is gone is replaced from outside ([`BytesOut::replace`]).

use super::line::{Line, Wrote};
use chaconne_clock::Sent;
use chaconne_midi::parser::SYSEX_MOST;
use std::path::Path;

/// The stream and what is half out.
#[derive(Debug)]
pub(crate) struct BytesOut {
    line: Option<Line>,
    /// The rest of a message, from `done` on. Its capacity is never outgrown.
    rest: Vec<u8>,
    done: usize,
    /// Whether nobody reads the stream any more.
    gone: bool,
}

impl BytesOut {
    /// Opens the stream at `path`; nobody may be there yet.
    pub fn open(path: &Path) -> Result<BytesOut, String> {
        let line = Line::open(path)?;
        let rest = Vec::with_capacity(SYSEX_MOST);
        Ok(BytesOut { line, rest, done: 0, gone: false })
    }

    /// The stream, while somebody is there.
    pub fn line(&self) -> Option<&Line> {
        self.line.as_ref()
    }

    /// Takes another stream, and gives the one it had.
    pub fn replace(&mut self, line: Line) -> Option<Line> {
        self.forget();
        self.gone = false;
        self.line.replace(line)
    }

    /// Nobody reads the stream any more.
    pub fn lose(&mut self) {
        self.forget();
        self.gone = true;
    }

    /// The stream, where nobody reads it any more.
    pub fn take_gone(&mut self) -> Option<Line> {
        self.line.take_if(|_| self.gone)
    }

    /// Whether a message is half out.
    pub fn is_unfinished(&self) -> bool {
        !self.rest.is_empty()
    }

    /// Sends one whole message, of [`SYSEX_MOST`] bytes at most; a longer one never fits.
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

    /// Writes on at a message that is half out.
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

    /// Forgets what is half out.
    fn forget(&mut self) {
        self.rest.clear();
        self.done = 0;
    }

    fn write(&self, bytes: &[u8]) -> Wrote {
        self.line.as_ref().map_or(Wrote::Gone, |line| line.write(bytes))
    }
}
