//! A track: one part, the port and channel it plays on, and how it is performed.

use crate::{Channel, ChordKeys, Compass, Feel, KeysPlay, TrackId, U7, U14};
use chaconne_time::Tick;

/// The levels a part starts with; for `None` nothing is sent, and the instrument stays as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Levels {
    /// Channel volume, control change 7.
    pub volume: Option<U7>,
    /// Pan, control change 10: 0 left, 64 centre, 127 right.
    pub pan: Option<U7>,
}

/// One part, such as bass or drums.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Track {
    /// Its id, which never changes.
    pub id: TrackId,
    /// The name that musicians give it.
    pub name: String,
    /// The name of the port it plays on; empty for the first one.
    pub port: String,
    /// The channel it plays on; with `None` each note keeps the channel it came in on.
    pub channel: Option<Channel>,
    /// Bank (control changes 0 and 32), sent before the program.
    pub bank: Option<U14>,
    /// Program 0..=127 as sent over MIDI; shown as 1 to 128.
    pub program: Option<U7>,
    /// Whether its keys are pitches (a bass) or sounds (a drum kit).
    pub pitched: bool,
    /// How it is corrected.
    pub feel: Feel,
    /// The levels it starts with.
    pub levels: Levels,
    /// Whether it is silent, in the song and in exports.
    pub mute: bool,
    /// The length of a new pass, if it is not the section's.
    pub pass_length: Option<Tick>,
    /// What its singer or player reaches, if that is known.
    pub compass: Option<Compass>,
    /// What keys sound that are played on it, if it is pitched.
    pub keys_play: KeysPlay,
    /// The chords that keys play, where they play chords.
    pub chord_keys: ChordKeys,
}

impl Track {
    /// A pitched track on channel 1 of the first port, performed as played.
    pub fn pitched(id: TrackId, name: &str) -> Track {
        Track {
            id,
            name: name.to_string(),
            port: String::new(),
            channel: Some(Channel::default()),
            bank: None,
            program: None,
            pitched: true,
            feel: Feel::off(false),
            levels: Levels::default(),
            mute: false,
            pass_length: None,
            compass: None,
            keys_play: KeysPlay::default(),
            chord_keys: ChordKeys::default(),
        }
    }

    /// A drum track on channel 10 of the first port, performed as played, with rolls on.
    pub fn drums(id: TrackId, name: &str) -> Track {
        Track {
            channel: Some(Channel::PERCUSSION),
            pitched: false,
            feel: Feel::off(true),
            ..Track::pitched(id, name)
        }
    }

    /// The channel on which a note that came in on `channel` is played.
    pub fn channel_for(&self, channel: Channel) -> Channel {
        self.channel.unwrap_or(channel)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Drums are on channel 10 (General MIDI System Level 1, RP-003).
    #[test]
    fn drums_are_on_channel_10_and_are_no_pitches() {
        let drums = Track::drums(TrackId(3), "Kit");
        assert_eq!(drums.channel.map(Channel::number), Some(10));
        assert_eq!((drums.id, drums.name.as_str(), drums.pitched), (TrackId(3), "Kit", false));
        assert!(drums.feel.rolls && drums.feel.grid.is_none());
        let bass = Track::pitched(TrackId(4), "Bass");
        assert_eq!(bass.channel.map(Channel::number), Some(1));
        assert!(bass.pitched && !bass.feel.rolls);
    }

    #[test]
    fn a_track_without_a_channel_plays_each_note_on_its_own() {
        let played = Channel::from_number(7).unwrap();
        let track = Track { channel: None, ..Track::pitched(TrackId(1), "Keys") };
        assert_eq!(track.channel_for(played), played);
        let fixed = Track { channel: Channel::from_number(2), ..track };
        assert_eq!(fixed.channel_for(played).number(), 2);
    }
}
