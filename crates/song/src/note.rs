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
    /// The release velocity; 64 if it was not measured.
    pub release: U7,
}

impl Stroke {
    /// The end.
    pub fn end(&self) -> Tick {
        self.start + self.length
    }
}

/// What edits have changed about a note, field by field; what is `None` is as it was played.
/// Ranges are those of [`Stroke`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Placed {
    /// Another start.
    pub start: Option<Tick>,
    /// Another length.
    pub length: Option<Tick>,
    /// Another key.
    pub key: Option<U7>,
    /// Another velocity.
    pub velocity: Option<U7>,
    /// Another release velocity.
    pub release: Option<U7>,
}

impl Placed {
    /// Nothing changed: the note is as it was played.
    pub const NOWHERE: Placed =
        Placed { start: None, length: None, key: None, velocity: None, release: None };

    /// Whether nothing is changed.
    pub fn is_nothing(&self) -> bool {
        *self == Placed::NOWHERE
    }
}

/// A note keeps what was played for ever, and beside it what edits have changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Note {
    /// Its name inside its pass, for as long as the song lives.
    pub id: NoteId,
    /// The channel it came in on.
    pub channel: Channel,
    /// As it was played.
    pub played: Stroke,
    /// What edits have changed.
    pub placed: Placed,
}

impl Note {
    /// What counts: as it was placed, field by field, else as it was played.
    pub fn stroke(&self) -> Stroke {
        let Placed { start, length, key, velocity, release } = self.placed;
        Stroke {
            start: start.unwrap_or(self.played.start),
            length: length.unwrap_or(self.played.length),
            key: key.unwrap_or(self.played.key),
            velocity: velocity.unwrap_or(self.played.velocity),
            release: release.unwrap_or(self.played.release),
        }
    }

    /// The order in which notes of a pass are kept and written: by what was played.
    pub fn order(&self) -> (Tick, U7, NoteId) {
        (self.played.start, self.played.key, self.id)
    }
}
