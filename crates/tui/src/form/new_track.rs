//! The form of a new track: its kind and its sound follow its name until they are chosen.

use super::{Field, Filled, Form, Line, Purpose, Value, not_too_long, text_field};
use crate::desk::Kits;
use crate::sounds::{self, Sounds};
use chaconne_song::Song;

/// Words in a track's name that make it a drum track.
const DRUM_WORDS: &[&str] =
    &["drum", "kit", "percussion", "hats", "hi-hat", "snare", "cymbal", "shaker", "clap"];

/// The index of the sound among the fields of a new track.
pub(super) const SOUND: usize = 2;

/// The kinds of a track.
pub(super) const KINDS: &[&str] = &["pitched", "drums"];

/// The parts of a sketch, in the order in which they are often recorded.
const PARTS: [&str; 4] = ["drums", "bass", "chords", "lead"];

impl Form {
    /// A new track of `song`, named after the first part that is missing.
    pub fn new_track(song: &Song, kits: &Kits) -> Form {
        let part = PARTS.iter().find(|part| song.track_named(part).is_none());
        let name = part
            .map_or_else(|| format!("track {}", song.tracks.len() + 1), |part| (*part).to_string());
        let at = usize::from(name == "drums");
        let fields = vec![
            text_field("name", "", &name),
            Field {
                label: "kind",
                hint: "drums play on channel 10",
                value: Value::Choice { words: KINDS, at },
            },
            text_field("sound", "a General MIDI name, or 1 to 128", ""),
        ];
        let mut form = Form::of(Purpose::NewTrack, "New track", fields);
        form.kits = kits.clone();
        form.follow_name();
        form
    }

    /// Sets the kind and the sound of a new track from its name, unless the user has chosen them.
    pub(super) fn follow_name(&mut self) {
        if self.purpose != Purpose::NewTrack {
            return;
        }
        let name = self.text(0).to_lowercase();
        if let Value::Choice { at, .. } = &mut self.fields[1].value
            && !self.chosen
        {
            *at = usize::from(DRUM_WORDS.iter().any(|word| name.contains(word)));
        }
        if !self.sound_given {
            let drums = self.is_drums();
            let sound = sounds::name(sounds::proposal(&name, drums), drums, &self.kits);
            self.fields[SOUND].value = Value::Text(Line::proposal(&sound));
        }
    }

    /// The sounds that the track can have.
    pub(super) fn sounds(&self) -> Sounds {
        Sounds::of(self.is_drums(), &self.kits)
    }

    pub(super) fn is_drums(&self) -> bool {
        matches!(self.fields[1].value, Value::Choice { at: 1, .. })
    }

    pub(super) fn track(&self) -> Result<Filled, (usize, String)> {
        let name = self.filled(0, "The track needs a name.")?;
        not_too_long(0, &name)?;
        let drums = self.is_drums();
        let found = self.sounds().find(&self.text(SOUND));
        let program = found.map_err(|error| (SOUND, error))?;
        Ok(Filled::NewTrack { name, drums, program })
    }
}
