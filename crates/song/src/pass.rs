//! A pass: what one round, one import or one generated part added to a track.

use crate::{Feel, Lane, Note, PassId, SysEx, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// One layer of a track in a section. It has its own length; its phase counts from the entry
/// into the section.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Pass {
    /// Its name for as long as the song lives.
    pub id: PassId,
    /// The track it belongs to.
    pub track: TrackId,
    /// Its length: a whole number of beats or bars, shorter or longer than the section.
    pub length: Tick,
    /// Whether it is silent.
    pub mute: bool,
    /// A feel of its own, in place of the track's.
    pub feel: Option<Feel>,
    /// Where it silences the lower passes of its track, from its own start; in order, apart. From
    /// a pass length early at most, up to its end.
    pub covers: Vec<Span>,
    /// The notes, in [`Note::order`].
    pub notes: Vec<Note>,
    /// The controller moves, ordered by channel and control.
    pub lanes: Vec<Lane>,
    /// System-exclusive messages, in order of time.
    pub sysex: Vec<SysEx>,
}

impl Pass {
    /// A pass without content.
    pub fn empty(id: PassId, track: TrackId, length: Tick) -> Pass {
        Pass {
            id,
            track,
            length,
            mute: false,
            feel: None,
            covers: Vec::new(),
            notes: Vec::new(),
            lanes: Vec::new(),
            sysex: Vec::new(),
        }
    }

    /// Whether there is nothing to play in it.
    pub fn is_empty(&self) -> bool {
        self.notes.is_empty() && self.lanes.is_empty() && self.sysex.is_empty()
    }

    /// Whether [`sort`](Self::sort) would leave the pass as it is.
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

/// A pass as the song shares it.
pub type SharedPass = Arc<Pass>;
