//! Which release ends which note of a performance.
//!
//! Two tracks may share a port, channel and key; then the one that lets go need not be the one
//! that struck. What is written down belongs to the note: its release goes with its press.

use chaconne_engine::{Event, Message, PortIx, Wire};
use chaconne_song::{Channel, U7};
use std::collections::{BTreeMap, VecDeque};

/// The other end of each press and release of `events`, by their places; `None` for what is
/// neither, or has no other end.
pub(crate) fn pairs(events: &[Event]) -> Vec<Option<usize>> {
    let mut others = vec![None; events.len()];
    let mut down: BTreeMap<(PortIx, Channel, U7), VecDeque<usize>> = BTreeMap::new();
    for (index, event) in events.iter().enumerate() {
        match event.wire {
            Wire::Message(Message::NoteOn { channel, key, .. }) => {
                down.entry((event.port, channel, key)).or_default().push_back(index);
            }
            Wire::Message(Message::NoteOff { channel, key, .. }) => {
                let held = down.get_mut(&(event.port, channel, key));
                if let Some(press) = held.and_then(VecDeque::pop_front) {
                    others[press] = Some(index);
                    others[index] = Some(press);
                }
            }
            _ => {}
        }
    }
    others
}
