//! A pass: what one round, one import or one generated part added to a track.

use crate::{Feel, Lane, LaneId, Note, NoteId, PassId, SysEx, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// What one round, import or generated part added to a track. It has its own length, and repeats
/// from the moment its section is entered. It is a layer of one section, or of several that share
/// it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Pass {
    /// Its id, which never changes.
    pub id: PassId,
    /// The track it belongs to.
    pub track: TrackId,
    /// Its length: a whole number of beats of every section that contains it; it may be shorter or
    /// longer than the section.
    pub length: Tick,
    /// A feel of its own, in place of the track's.
    pub feel: Option<Feel>,
    /// Where it silences the lower passes of its track, counted from its own start: in order,
    /// without overlaps, from one pass length before its start to its end.
    pub covers: Vec<Span>,
    /// Its notes and controller moves.
    pub content: Content,
}

/// The content of a pass. Its length, covers and layers do not depend on the kind of content.
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
    /// The controller moves, in [`Lane::order`]; no two lanes have the same id.
    pub lanes: Vec<Lane>,
    /// System-exclusive messages, in time order.
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

    /// Sorts notes, lanes and messages into the order in which they are kept and written.
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

    /// The lane with this id.
    pub fn lane(&self, id: LaneId) -> Option<&Lane> {
        let lanes = self.lanes();
        lanes.get(lanes.binary_search_by_key(&id, Lane::order).ok()?)
    }

    /// The system-exclusive messages, in time order.
    pub fn sysex(&self) -> &[SysEx] {
        let Content::Notes(content) = &self.content;
        &content.sysex
    }

    /// The notes, lanes and messages, to be changed. Call [`sort`](Self::sort) after adding any.
    pub fn notes_mut(&mut self) -> &mut Notes {
        let Content::Notes(content) = &mut self.content;
        content
    }

    /// An id that no note of the pass has: one more than the highest, or, if the highest possible
    /// id is taken, the lowest free one.
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

    /// Whether it has nothing to play.
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

    /// Sorts the content into the order in which it is kept and written.
    pub fn sort(&mut self) {
        match &mut self.content {
            Content::Notes(notes) => notes.sort(),
        }
    }
}

/// A pass as a song stores it: copies of the song share it until one of them changes it.
pub type SharedPass = Arc<Pass>;
