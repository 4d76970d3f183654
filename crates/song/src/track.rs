//! A track: one part, where it goes and how it is performed.

use crate::{Channel, Feel, TrackId, U7, U14};
use chaconne_time::Tick;

/// The levels a part starts from; `None` sends nothing and leaves the instrument as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Levels {
    /// Channel volume, control change 7.
    pub volume: Option<U7>,
    /// Pan, control change 10: 0 left, 64 centre, 127 right.
    pub pan: Option<U7>,
}

/// One part: bass, drums.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Track {
    /// Its name for as long as the song lives.
    pub id: TrackId,
    /// What musicians call it.
    pub name: String,
    /// The name of the port it plays on; empty for the first one.
    pub port: String,
    /// The channel it plays on; `None` keeps the channel each note came in on.
    pub channel: Option<Channel>,
    /// Bank (control changes 0 and 32), sent before the program.
    pub bank: Option<U14>,
    /// Program 0..=127 as on the wire; shown as 1 to 128.
    pub program: Option<U7>,
    /// Whether its keys are pitches (a bass) or sounds (a drum kit).
    pub pitched: bool,
    /// How it is corrected.
    pub feel: Feel,
    /// What its levels are set to.
    pub levels: Levels,
    /// Whether it is silent, in the song and in exports.
    pub mute: bool,
    /// The length of a new pass where it is not the section's.
    pub pass_length: Option<Tick>,
}

impl Track {
    /// A pitched track on channel 1 of the first port, as played.
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
        }
    }

    /// A drum track on channel 10 of the first port, as played, rolls kept.
    pub fn drums(id: TrackId, name: &str) -> Track {
        Track {
            channel: Some(Channel::PERCUSSION),
            pitched: false,
            feel: Feel::off(true),
            ..Track::pitched(id, name)
        }
    }

    /// The channel a note that came in on `channel` plays on.
    pub fn channel_for(&self, channel: Channel) -> Channel {
        self.channel.unwrap_or(channel)
    }
}
