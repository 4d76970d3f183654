//! Reads a Standard MIDI File as one performance: the messages of all tracks, in playing order.
//!
//! In: the bytes of a Standard MIDI File. Out: messages at ticks, which the recorder treats as if
//! someone were playing them. The beats line up, not the milliseconds: the file's tempo is only
//! reported, and the song's tempo applies.

use crate::reader::{self, Body, Meta};
use crate::scale::Scale;
use crate::{ImportError, import};
use chaconne_engine::{Message, Wire};
use chaconne_song::{Channel, U7};
use chaconne_time::{Tempo, Tick};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// A message and its position.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakeEvent {
    /// Ticks from the start of the file; never negative.
    pub at: Tick,
    /// A channel message or a system-exclusive message.
    pub wire: Wire,
}

/// A whole performance.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Take {
    /// The messages in order of time; at one tick, track by track. Every key that goes down is
    /// released.
    pub events: Vec<TakeEvent>,
    /// Where the last track ends. No event is later.
    pub length: Tick,
    /// The tempo at the start of the file; 120 if it gives none.
    pub tempo: Tempo,
    /// What was wrong with the file or could not be kept; one sentence each.
    pub remarks: Vec<String>,
}

/// Reads a Standard MIDI File of format 0 or 1 as one performance.
///
/// # Errors
/// [`ImportError`] if the bytes are not such a file or count time in frames.
pub fn take(bytes: &[u8]) -> Result<Take, ImportError> {
    let file = reader::read(bytes)?;
    let mut scale = Scale::new(file.ppq);
    let mut raw: Vec<(u64, usize, Body)> = Vec::new();
    for (index, track) in file.tracks.iter().enumerate() {
        raw.extend(track.events.iter().map(|event| (event.at, index, event.body)));
    }
    raw.sort_by_key(|&(at, _, _)| at);
    let mut played = Played::default();
    for (at, index, body) in raw {
        match body {
            Body::Message(message) => played.add(scale.tick(at), message),
            Body::SysEx(place) => {
                let bytes = file.tracks[index].sysex[place as usize].clone();
                played.push(scale.tick(at), Wire::SysEx(bytes));
            }
        }
    }
    let end = file.tracks.iter().map(|track| track.end).max().unwrap_or(0);
    let length = scale.tick(end);
    let held: usize =
        (0..16).map(|wire| played.release_all(length, Channel::from_wire(wire))).sum();
    let mut remarks: Vec<String> = file.faults.sentences().collect();
    remarks.extend(scale.remark());
    remarks.extend(import::held_remark(held));
    Ok(Take { events: played.events, length, tempo: first_tempo(&file), remarks })
}

/// The messages so far, and the keys that are down.
#[derive(Default)]
struct Played {
    events: Vec<TakeEvent>,
    /// How many presses of each key have not been released.
    down: BTreeMap<(Channel, U7), usize>,
}

impl Played {
    fn push(&mut self, at: Tick, wire: Wire) {
        self.events.push(TakeEvent { at, wire });
    }

    /// Adds a message. One that implies "all notes off" first releases the keys of its channel
    /// (MIDI 1.0, "Channel Mode").
    fn add(&mut self, at: Tick, message: Message) {
        match message {
            Message::NoteOn { channel, key, .. } => {
                *self.down.entry((channel, key)).or_default() += 1;
            }
            Message::NoteOff { channel, key, .. } => {
                if let Entry::Occupied(mut held) = self.down.entry((channel, key)) {
                    *held.get_mut() -= 1;
                    if *held.get() == 0 {
                        held.remove();
                    }
                }
            }
            Message::Change { channel, controller, .. } if import::ends_notes(controller) => {
                self.release_all(at, channel);
            }
            _ => {}
        }
        self.push(at, Wire::Message(message));
    }

    /// Releases the held keys of a channel. Returns how many notes that ended.
    fn release_all(&mut self, at: Tick, channel: Channel) -> usize {
        let mut ended = 0;
        let keys = (channel, U7::MIN)..=(channel, U7::MAX);
        while let Some((&(_, key), &count)) = self.down.range(keys.clone()).next() {
            self.down.remove(&(channel, key));
            let off = Message::NoteOff { channel, key, velocity: U7::CENTRE };
            for _ in 0..count {
                self.push(at, Wire::Message(off));
            }
            ended += count;
        }
        ended
    }
}

fn first_tempo(file: &reader::File) -> Tempo {
    let mut metas = file.tracks.iter().flat_map(|track| &track.metas);
    let first = metas.rfind(|meta| meta.kind == Meta::TEMPO && meta.at == 0);
    first.map_or(Tempo::DEFAULT, |meta| import::tempo_of(meta.data).0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worked;

    fn spelled(take: &Take) -> Vec<(i64, String)> {
        let text = |wire: &Wire| match wire {
            Wire::Message(message) => {
                message.bytes().iter().map(|byte| format!("{byte:02X}")).collect()
            }
            Wire::SysEx(bytes) => bytes.iter().map(|byte| format!("{byte:02X}")).collect(),
        };
        take.events.iter().map(|event| (event.at.0, text(&event.wire))).collect()
    }

    #[test]
    fn the_published_example_is_played_in_order() {
        // Standard MIDI Files 1.0, pp. 12-14: 96 ticks to the quarter, so ours are ten times as
        // many.
        let expected: Vec<(i64, String)> = [
            (0, "C005"),
            (0, "C12E"),
            (0, "C246"),
            (0, "923060"),
            (0, "923C60"),
            (960, "914340"),
            (1920, "904C20"),
            (3840, "823040"),
            (3840, "823C40"),
            (3840, "814340"),
            (3840, "804C40"),
        ]
        .map(|(at, bytes)| (at, bytes.to_string()))
        .to_vec();
        for bytes in [worked::a(), worked::a1()] {
            let take = take(&bytes).unwrap();
            assert_eq!(take.length, Tick(3840));
            assert_eq!(take.tempo.to_string(), "120");
            assert!(take.remarks.is_empty(), "{:?}", take.remarks);
            let mut found = spelled(&take);
            // Format 1 stores track by track; at one tick only the order of tracks differs.
            let mut expected = expected.clone();
            found.sort();
            expected.sort();
            assert_eq!(found, expected);
        }
    }

    #[test]
    fn a_system_exclusive_message_is_one_event() {
        let take = take(&worked::e()).unwrap();
        assert_eq!(
            spelled(&take),
            [(0, "F07E7F0901F7".into()), (0, "904564".into()), (960, "804540".into())]
        );
    }

    #[test]
    fn a_held_key_is_released_at_the_end() {
        let take = take(&worked::track("00903C40 8360FF2F00")).unwrap();
        assert_eq!(spelled(&take), [(0, "903C40".into()), (4800, "803C40".into())]);
        assert_eq!(take.remarks.len(), 1, "{:?}", take.remarks);
        assert!(take.remarks[0].contains("1 note"), "{:?}", take.remarks);
    }

    #[test]
    fn all_notes_off_releases_the_keys() {
        // MIDI 1.0, "Channel Mode": 123 on channel 1 leaves channel 2 alone.
        let take = take(&worked::track("00903C40 00913C40 60B07B00 60813C40 00FF2F00")).unwrap();
        let texts: Vec<String> = spelled(&take).into_iter().map(|(_, bytes)| bytes).collect();
        assert_eq!(texts, ["903C40", "913C40", "803C40", "B07B00", "813C40"]);
        assert!(take.remarks.is_empty(), "{:?}", take.remarks);
    }

    use midly::num::{u4, u7, u14, u15, u28};
    use midly::{Format, Header, MetaMessage, MidiMessage, Timing, TrackEvent, TrackEventKind};
    use proptest::prelude::*;

    /// Any channel message, as an independent library represents it.
    fn message() -> impl Strategy<Value = TrackEventKind<'static>> {
        (0u8..16, 0u8..7, 0u8..128, 1u8..128).prop_map(|(channel, kind, a, b)| {
            let (a, b) = (u7::new(a), u7::new(b));
            let message = match kind {
                0 => MidiMessage::NoteOff { key: a, vel: b },
                1 => MidiMessage::NoteOn { key: a, vel: b },
                2 => MidiMessage::Aftertouch { key: a, vel: b },
                3 => MidiMessage::Controller { controller: a, value: b },
                4 => MidiMessage::ProgramChange { program: a },
                5 => MidiMessage::ChannelAftertouch { vel: a },
                _ => {
                    let bend = u16::from(a.as_int()) << 7 | u16::from(b.as_int());
                    MidiMessage::PitchBend { bend: midly::PitchBend(u14::new(bend)) }
                }
            };
            TrackEventKind::Midi { channel: u4::new(channel), message }
        })
    }

    fn event() -> impl Strategy<Value = TrackEvent<'static>> {
        let kind = prop_oneof![
            8 => message(),
            1 => Just(TrackEventKind::SysEx(&[0x43, 0x12, 0x00, 0xF7])),
            1 => Just(TrackEventKind::Meta(MetaMessage::Lyric(b"la"))),
        ];
        (0u32..200_000, kind).prop_map(|(delta, kind)| TrackEvent { delta: u28::new(delta), kind })
    }

    proptest! {
        #[test]
        fn files_written_by_another_library_are_read_in_full(
            mut tracks in prop::collection::vec(prop::collection::vec(event(), 0..40), 1..5),
        ) {
            let end = TrackEventKind::Meta(MetaMessage::EndOfTrack);
            let mut expected: Vec<(i64, String)> = Vec::new();
            for track in &mut tracks {
                let mut now = 0;
                for event in track.iter() {
                    now += i64::from(event.delta.as_int());
                    let mut bytes = Vec::new();
                    match event.kind {
                        TrackEventKind::Midi { .. } => {
                            let live = event.kind.as_live_event().unwrap();
                            live.write_std(&mut bytes).unwrap();
                        }
                        TrackEventKind::SysEx(data) => bytes = [&[0xF0], data].concat(),
                        _ => continue,
                    }
                    let text = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
                    expected.push((now, text));
                }
                track.push(TrackEvent { delta: u28::new(0), kind: end });
            }
            let header = Header::new(Format::Parallel, Timing::Metrical(u15::new(960)));
            let mut bytes = Vec::new();
            midly::write_std(&header, &tracks, &mut bytes).unwrap();
            let take = take(&bytes).unwrap();
            prop_assert!(take.events.is_sorted_by_key(|event| event.at));
            let mut found = spelled(&take);
            for event in &expected {
                let place = found.iter().position(|known| known == event);
                prop_assert!(place.is_some(), "{:?} is missing", event);
                found.remove(place.unwrap());
            }
            // Held keys are released; nothing else is added.
            let is_release = |bytes: &str| bytes.starts_with('8') && bytes.ends_with("40");
            prop_assert!(found.iter().all(|(_, bytes)| is_release(bytes)), "{:?}", found);
        }
    }
}
