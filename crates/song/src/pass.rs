//! A pass: what one round, one import or one generated part added to a track.

use crate::{Feel, Lane, LaneId, Note, NoteId, PassId, SysEx, TrackId};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;
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
    /// What musicians call it, such as "hats"; empty if it has no name.
    pub name: String,
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
        let (name, feel) = (String::new(), None);
        Pass { id, track, name, length, feel, covers: Vec::new(), content }
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
        let used: BTreeSet<u32> = self.notes().iter().map(|note| note.id.0).collect();
        let below_first_gap = std::iter::zip(&used, 1..).take_while(|(id, next)| **id == *next);
        NoteId(1 + below_first_gap.count() as u32)
    }

    /// Whether it has nothing to play.
    pub fn is_empty(&self) -> bool {
        match &self.content {
            Content::Notes(notes) => notes.is_empty(),
        }
    }

    /// Whether it moves controllers and does nothing else.
    pub fn is_only_moves(&self) -> bool {
        let has_more = !self.notes().is_empty() || !self.sysex().is_empty();
        !has_more && !self.lanes().is_empty()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Channel, Control, Placed, Point, Song, Stroke, U7, U14};

    fn note(id: u32, start: i64) -> Note {
        let (length, key, velocity, release) = (Tick(90), U7::CENTRE, U7::CENTRE, U7::CENTRE);
        let played = Stroke { start: Tick(start), length, key, velocity, release };
        Note { id: NoteId(id), channel: Channel::default(), played, placed: Placed::UNCHANGED }
    }

    fn lane(control: Control, from: i64) -> Lane {
        let (from, to) = (Tick(from), Tick(from + 90));
        let points = vec![Point::step(from, U14::CENTRE)];
        Lane { channel: Channel::default(), control, span: Span::new(from, to), points }
    }

    fn sysex(at: i64) -> SysEx {
        SysEx { at: Tick(at), bytes: vec![0xF0, 0xF7] }
    }

    fn pass(notes: Vec<Note>, lanes: Vec<Lane>, sysex: Vec<SysEx>) -> Pass {
        let content = Content::Notes(Notes { notes, lanes, sysex });
        Pass { content, ..Pass::empty(PassId(1), TrackId(2), Tick(960)) }
    }

    #[test]
    fn a_pass_with_a_note_a_lane_or_a_message_has_something_to_play() {
        assert!(pass(vec![], vec![], vec![]).is_empty());
        assert!(!pass(vec![note(1, 0)], vec![], vec![]).is_empty());
        assert!(!pass(vec![], vec![lane(Control::Bend, 0)], vec![]).is_empty());
        assert!(!pass(vec![], vec![], vec![sysex(0)]).is_empty());
    }

    #[test]
    fn notes_lanes_and_messages_are_each_kept_in_order() {
        let bend = |from| lane(Control::Bend, from);
        let sorted =
            pass(vec![note(2, 0), note(1, 9)], vec![bend(0), bend(9)], vec![sysex(0), sysex(9)]);
        assert!(sorted.is_in_order());
        let swapped = |swap: fn(&mut Notes)| {
            let mut pass = sorted.clone();
            swap(pass.notes_mut());
            pass
        };
        for mut unsorted in [
            swapped(|content| content.notes.swap(0, 1)),
            swapped(|content| content.lanes.swap(0, 1)),
            swapped(|content| content.sysex.swap(0, 1)),
        ] {
            assert!(!unsorted.is_in_order());
            unsorted.sort();
            assert_eq!(unsorted, sorted);
        }
    }

    #[test]
    fn a_lane_is_found_by_its_id() {
        let lanes = [lane(Control::Bend, 0), lane(Control::Bend, 200), lane(Control::SUSTAIN, 0)];
        let mut pass = pass(vec![], lanes.to_vec(), vec![]);
        pass.sort();
        for lane in &lanes {
            assert_eq!(pass.lane(lane.id()), Some(lane));
        }
        assert_eq!(pass.lane(lane(Control::Bend, 100).id()), None);
    }

    #[test]
    fn a_new_note_gets_the_id_after_the_highest_or_else_the_lowest_that_is_free() {
        let free = |ids: &[u32]| {
            pass(ids.iter().map(|&id| note(id, 0)).collect(), vec![], vec![]).free_note_id().0
        };
        assert_eq!((free(&[]), free(&[3, 9, 4])), (1, 10));
        assert_eq!(free(&[Song::LAST_ID - 1]), Song::LAST_ID);
        assert_eq!(free(&[Song::LAST_ID]), 1);
        assert_eq!(free(&[2, Song::LAST_ID, 1, 4]), 3);
    }
}
