//! What the finder opens has the cursor where the typed words say: on a setting of a box, or on the row of a
//! drum.

use super::super::{FeelField, Overlay, Screen};
use crate::action::Vertical;
use crate::desk::DeskState;
use crate::keymap::{is_same, split};
use chaconne_song::{U7, drum_name};

/// The labels of settings, and other words for them.
const WORDS: [(&str, &str); 19] = [
    ("name", "rename call"),
    ("title", "rename name call"),
    ("key", "signature"),
    ("transpose", "change key higher lower pitch singer semitones up down"),
    ("kind", "drums pitched"),
    ("port", "output"),
    ("bars", "length long longer short shorter"),
    ("metre", "time signature meter"),
    ("tempo", "bpm speed half time double faster slower"),
    ("grid", "quantise quantize snap"),
    ("pull", "stiff robotic mechanical tight loose"),
    ("swing", "shuffle triplet"),
    ("rolls", "flam drag"),
    ("feel", "own"),
    ("groove", "drummer pocket copy"),
    ("human", "humanise humanize humanised variation natural player"),
    ("dynamics", "accents"),
    ("seed", "another different"),
    ("to", "midi wav"),
];

/// Words for a ramp that goes up, and for one that goes down.
const WAYS: [(Vertical, &str); 2] = [
    (Vertical::Up, "crescendo swell louder rise up in"),
    (Vertical::Down, "decrescendo diminuendo fade softer quieter fall down out"),
];

/// Which way a ramp is to go, if the words say so.
pub fn way(words: &[String]) -> Option<Vertical> {
    let has = |known: &str| words.iter().any(|word| split(known).any(|known| is_same(known, word)));
    WAYS.into_iter().find(|(_, known)| has(known)).map(|(way, _)| way)
}

/// The index of the label that has most of the words; `None` if none has any.
fn best<'a>(words: &[String], labels: impl Iterator<Item = &'a str>) -> Option<usize> {
    let count = |label: &str| {
        let also = WORDS.iter().find(|(known, _)| *known == label).map_or("", |(_, also)| also);
        let all: Vec<&str> = split(label).chain(split(also)).collect();
        words.iter().filter(|word| all.iter().any(|known| is_same(known, word))).count()
    };
    let counts: Vec<usize> = labels.map(count).collect();
    let most = counts.iter().copied().max().filter(|most| *most > 0)?;
    counts.iter().position(|count| *count == most)
}

/// Words for drums that General MIDI calls something else.
const DRUMS: [(&str, &str); 2] = [("hihat", "hat"), ("kick", "bass")];

/// Whether the words name a drum.
fn is_named(words: &[String], drum: &str) -> bool {
    let other = |word: &str| DRUMS.iter().find(|(known, _)| is_same(known, word));
    let meant = |word: &str| other(word).map_or(word, |(_, name)| name).to_string();
    words.iter().any(|word| split(drum).any(|name| name != "Drum" && is_same(name, &meant(word))))
}

impl Screen {
    /// Puts the cursor in the notes on the row of the drum that the words name, if it is played.
    pub(super) fn go_to_drum(&mut self, words: &[String], state: &DeskState) {
        if !(0..128).filter_map(U7::new).filter_map(drum_name).any(|name| is_named(words, name)) {
            return;
        }
        let is_played = |screen: &Screen| {
            let sheet = screen.notes.sheet.as_ref().filter(|sheet| !sheet.track.pitched)?;
            sheet.keys().find(|key| drum_name(*key).is_some_and(|name| is_named(words, name)))
        };
        if is_played(self).is_none() {
            // It may be in another layer.
            self.notes.all_layers = true;
            self.follow_notes(state);
        }
        if let Some(key) = is_played(self) {
            (self.notes.key, self.notes.on) = (key, None);
        }
    }

    /// Puts the cursor of the box on top on the setting that the words name, if they name one.
    pub(super) fn go_to_field(&mut self, words: &[String]) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => {
                let labels = form.fields.iter().map(|field| field.label);
                form.focus = best(words, labels).unwrap_or(form.focus);
            }
            Some(Overlay::Feel(pick)) => {
                let fields: &[FeelField] = pick.fields();
                let at = best(words, fields.iter().map(|field| field.name()));
                pick.field = at.map_or(pick.field, |at| fields[at]);
            }
            _ => {}
        }
    }
}
