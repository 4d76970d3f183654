//! Notes: what was played, and where an edit has put it.

use crate::{Channel, NoteId, U7};
use chaconne_time::Tick;

/// One stroke of a key: where, how long, how hard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stroke {
    /// The start, from the pass's start; negative for an early note. Nearer to the pass's start
    /// than a pass length, either way.
    pub start: Tick,
    /// The length, from 1 tick to the length of the pass.
    pub length: Tick,
    /// The key, 0..=127; 60 is middle C.
    pub key: U7,
    /// How hard it was struck, 1..=127.
    pub velocity: U7,
    /// How fast it was let go, 64 where nobody measured.
    pub release: U7,
}

impl Stroke {
    /// The end.
    pub fn end(&self) -> Tick {
        self.start + self.length
    }
}

/// A note keeps what was played for ever, and beside it where an edit has put it, if any did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Note {
    /// Its name for as long as the song lives.
    pub id: NoteId,
    /// The channel it came in on.
    pub channel: Channel,
    /// As it was played.
    pub played: Stroke,
    /// Where an edit has put it.
    pub placed: Option<Stroke>,
}

impl Note {
    /// What counts: where it was put, else what was played.
    pub fn stroke(&self) -> &Stroke {
        self.placed.as_ref().unwrap_or(&self.played)
    }

    /// The order in which notes of a pass are kept and written: by what was played.
    pub fn order(&self) -> (Tick, U7, NoteId) {
        (self.played.start, self.played.key, self.id)
    }
}
