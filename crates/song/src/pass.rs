//! A pass: what one round, one import or one generated part added to a track.

use crate::{Feel, Lane, LaneId, Note, NoteId, PassId, SysEx, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// What was added to a track in one round. It has its own length; its phase counts from the entry
/// into a section. It is a layer of one section, or of several that share it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Pass {
    /// Its name for as long as the song lives.
    pub id: PassId,
    /// The track it belongs to.
    pub track: TrackId,
    /// Its length: a whole number of beats of every section that has it, shorter or longer than
    /// the section.
    pub length: Tick,
    /// A feel of its own, in place of the track's.
    pub feel: Option<Feel>,
    /// Where it silences the lower passes of its track, from its own start; in order, apart. From
    /// a pass length early at most, up to its end.
    pub covers: Vec<Span>,
    /// What is in it.
    pub content: Content,
}

/// What a pass holds. Its length, covers and layers do not depend on the kind.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Content {
    /// Notes and controller moves.
    Notes(Notes),
}

/// Notes, controller moves and system-exclusive messages.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Notes {
    /// The notes, in [`Note::order`]; their ids are unique within the pass.
    pub notes: Vec<Note>,
    /// The controller moves, in [`Lane::order`], no two with the same.
    pub lanes: Vec<Lane>,
    /// System-exclusive messages, in order of time.
    pub sysex: Vec<SysEx>,
}

impl Notes {
    /// Whether there is nothing to play.
    pub fn is_empty(&self) -> bool {
        self.notes.is_empty() && self.lanes.is_empty() && self.sysex.is_empty()
    }

    /// Whether [`sort`](Self::sort) would leave everything as it is.
    pub fn is_in_order(&self) -> bool {
        self.notes.is_sorted_by_key(Note::order)
            && self.lanes.is_sorted_by_key(Lane::order)
            && self.sysex.is_sorted_by_key(|message| message.at)
    }

    /// Puts notes, lanes and messages into the order in which they are kept and written.
    pub fn sort(&mut self) {
        self.notes.sort_by_key(Note::order);
        self.lanes.sort_by_key(Lane::order);
        self.sysex.sort_by_key(|message| message.at);
    }
}

impl Pass {
    /// A pass without content.
    pub fn empty(id: PassId, track: TrackId, length: Tick) -> Pass {
        let content = Content::Notes(Notes::default());
        Pass { id, track, length, feel: None, covers: Vec::new(), content }
    }

    /// The notes, in [`Note::order`].
    pub fn notes(&self) -> &[Note] {
        let Content::Notes(content) = &self.content;
        &content.notes
    }

    /// The controller moves, in [`Lane::order`].
    pub fn lanes(&self) -> &[Lane] {
        let Content::Notes(content) = &self.content;
        &content.lanes
    }

    /// A lane by its id.
    pub fn lane(&self, id: LaneId) -> Option<&Lane> {
        let lanes = self.lanes();
        lanes.get(lanes.binary_search_by_key(&id, Lane::order).ok()?)
    }

    /// The system-exclusive messages, in order of time.
    pub fn sysex(&self) -> &[SysEx] {
        let Content::Notes(content) = &self.content;
        &content.sysex
    }

    /// The notes, lanes and messages, for changing; whoever adds some calls [`sort`](Self::sort).
    pub fn notes_mut(&mut self) -> &mut Notes {
        let Content::Notes(content) = &mut self.content;
        content
    }

    /// An id that no note of the pass has: one more than the highest, or the lowest that is free
    /// where the highest there can be is taken.
    pub fn free_note_id(&self) -> NoteId {
        let highest = self.notes().iter().map(|note| note.id.0).max().unwrap_or(0);
        if highest < crate::Song::LAST_ID {
            return NoteId(highest + 1);
        }
        let mut used: Vec<u32> = self.notes().iter().map(|note| note.id.0).collect();
        used.sort_unstable();
        let gap = used.iter().zip(1u32..).find(|(id, next)| **id != *next);
        NoteId(gap.map_or(used.len() as u32 + 1, |(_, next)| next))
    }

    /// Whether there is nothing to play in it.
    pub fn is_empty(&self) -> bool {
        match &self.content {
            Content::Notes(notes) => notes.is_empty(),
        }
    }

    /// Whether [`sort`](Self::sort) would leave the pass as it is.
    pub fn is_in_order(&self) -> bool {
        match &self.content {
            Content::Notes(notes) => notes.is_in_order(),
        }
    }

    /// Puts the content into the order in which it is kept and written.
    pub fn sort(&mut self) {
        match &mut self.content {
            Content::Notes(notes) => notes.sort(),
        }
    }
}

/// A pass as the song shares it.
pub type SharedPass = Arc<Pass>;
