//! The form of a track that exists, and that of the song as a whole.
//!
//! In: the track or the song as it is. Out: what it is to be.

use super::keys::{KEY_LABEL, TRANSPOSE_HINT};
use super::new_track::KINDS;
use super::{Field, Form, Line, Purpose, Value, not_too_long, text_field};
use crate::text;
use chaconne_harmony::{compass_name, song_key_heard};
use chaconne_song::{Channel, Compass, KeySignature, Song, Track, TrackId, Transpose};

/// What a track is to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrackSpec {
    /// The track.
    pub of: TrackId,
    /// Its name.
    pub name: String,
    /// Whether its keys are drums, not pitches.
    pub drums: bool,
    /// The channel it plays on; `None` if each note keeps its own.
    pub channel: Option<Channel>,
    /// The name of the port it plays on; empty for the first.
    pub port: String,
    /// What its singer or player reaches, if that is known.
    pub compass: Option<Compass>,
}

/// What the song is to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SongSpec {
    /// Its title.
    pub title: String,
    /// Its key, if it has one.
    pub key: Option<KeySignature>,
    /// By how much its pitched tracks are transposed.
    pub transpose: Transpose,
}

/// The indices of the fields of a track.
const NAME: usize = 0;
const KIND: usize = 1;
const CHANNEL: usize = 2;
const PORT: usize = 3;
const COMPASS: usize = 4;

/// The indices of the fields of the song.
const TITLE: usize = 0;
const KEY: usize = 1;
const TRANSPOSE: usize = 2;

impl Form {
    /// What can be changed of a track at once.
    pub fn edit_track(song: &Song, track: &Track) -> Form {
        let channel = track.channel.map(|channel| channel.to_string()).unwrap_or_default();
        let compass = track.compass.map(|compass| compass_name(compass, song_key_heard(song)));
        let compass = compass.unwrap_or_default();
        let kind = Value::Choice { words: KINDS, at: usize::from(!track.pitched) };
        let fields = vec![
            text_field("name", "", &track.name),
            Field { label: "kind", hint: "drums play on channel 10", value: kind },
            whole("channel", "1 to 16; blank keeps the channel played", &channel),
            whole("port", "blank: the first port", &track.port),
            whole("compass", "e.g. A3 to E5; may be blank", &compass),
        ];
        Form::of(Purpose::Track(track.id), "Change the track", fields)
    }

    /// What can be changed of the song as a whole.
    pub fn edit_song(song: &Song) -> Form {
        let key = song.key.map(|key| key.to_string()).unwrap_or_default();
        let fields = vec![
            text_field("title", "", &song.title),
            whole(KEY_LABEL, "e.g. A minor; may be empty", &key),
            text_field("transpose", TRANSPOSE_HINT, &song.transpose.to_string()),
        ];
        Form::of(Purpose::Song, "Change the song", fields)
    }

    /// Gives a track that has just become a drum track the channel of drums (General MIDI System Level 1).
    pub(super) fn follow_kind_of_track(&mut self) {
        let drums = matches!(self.fields[self.focus].value, Value::Choice { at: 1, .. });
        if matches!(self.purpose, Purpose::Track(_)) && self.focus == KIND && drums {
            let channel = Channel::PERCUSSION.to_string();
            self.fields[CHANNEL].value = Value::Text(Line::whole(&channel));
        }
    }

    pub(super) fn track_spec(&self, of: TrackId) -> Result<TrackSpec, (usize, String)> {
        let name = self.filled(NAME, "The track needs a name.")?;
        not_too_long(NAME, &name)?;
        let typed = self.text(CHANNEL);
        let number = || typed.trim().parse().ok().and_then(Channel::from_number);
        let channel = match typed.trim().is_empty() {
            true => None,
            false => Some(number().ok_or_else(|| {
                let typed = text::clip(typed.trim(), 20, '~');
                (CHANNEL, format!("'{typed}' is not a channel: use 1 to 16, or leave it empty."))
            })?),
        };
        let drums = self.is_drums();
        let port = self.text(PORT).trim().to_string();
        let typed = self.text(COMPASS);
        let compass = match typed.trim().is_empty() {
            true => None,
            false => {
                let read = text::clip(typed.trim(), 20, '~').parse::<Compass>();
                Some(read.map_err(|error| (COMPASS, text::sentence(&error.to_string())))?)
            }
        };
        Ok(TrackSpec { of, name, drums, channel, port, compass })
    }

    pub(super) fn song_spec(&self) -> Result<SongSpec, (usize, String)> {
        let title = self.filled(TITLE, "The song needs a title.")?;
        let key = self.key(KEY)?;
        let transpose = self.transposition(TRANSPOSE, key)?;
        Ok(SongSpec { title, key, transpose })
    }
}

/// A field whose text is not replaced by the first key typed.
fn whole(label: &'static str, hint: &'static str, text: &str) -> Field {
    Field { label, hint, value: Value::Text(Line::whole(text)) }
}
