//! Finds which release ends which note of a performance.
//!
//! In: the events of a performance. Out: for each press its release, and for each release its
//! press. Two tracks may share a port, channel and key, so the track that releases a key need not
//! be the one that pressed it. A file or listing needs the release next to its press.

use chaconne_engine::{Event, Message, PortIx, Wire};
use chaconne_song::{Channel, U7};
use std::collections::{BTreeMap, VecDeque};

/// For each event, the index of its counterpart: the release of a press, the press of a release.
/// `None` for other events and for presses and releases without a counterpart.
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
