//! Notes: how each was played, and what edits have changed about it.

use crate::{Channel, NoteId, U7};
use chaconne_time::Tick;

/// One stroke of a key: its start, length, key and velocities.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stroke {
    /// The start, from the pass's start; negative for an early note. Always less than a pass length
    /// before or after the pass's start.
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
    /// The tick at which the key is released, from the pass's start.
    pub fn end(&self) -> Tick {
        self.start + self.length
    }
}

/// What edits have changed about a note, field by field. A field that is `None` is as it was
/// played. The ranges are those of [`Stroke`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Placed {
    /// The new start.
    pub start: Option<Tick>,
    /// The new length.
    pub length: Option<Tick>,
    /// The new key.
    pub key: Option<U7>,
    /// The new velocity.
    pub velocity: Option<U7>,
    /// The new release velocity.
    pub release: Option<U7>,
}

impl Placed {
    /// No field changed: the note is as it was played.
    pub const UNCHANGED: Placed =
        Placed { start: None, length: None, key: None, velocity: None, release: None };

    /// Whether no field is changed.
    pub fn is_unchanged(&self) -> bool {
        *self == Placed::UNCHANGED
    }
}

/// A note: how it was played, which is kept for good, and what edits have changed about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Note {
    /// Its id within its pass, which never changes.
    pub id: NoteId,
    /// The channel it came in on.
    pub channel: Channel,
    /// How it was played.
    pub played: Stroke,
    /// What edits have changed.
    pub placed: Placed,
}

impl Note {
    /// The stroke to perform: each field as edits have placed it, otherwise as it was played.
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

    /// The sort key of notes in a pass: the start and key as played, then the id.
    pub fn order(&self) -> (Tick, U7, NoteId) {
        (self.played.start, self.played.key, self.id)
    }
}
