//! The keymap: one table of every action, the keys that ask for it, when it applies, and the
//! words for it.
//!
//! In: a key, the scene that gets it, and the state. Out: the action. The same table feeds the line
//! of keys at the foot of the screen, the help, and `docs/keys.md`.

mod boxes;
mod changed;
mod file;
mod grooves;
mod keys_box;
mod layers;
mod levels;
mod listing;
mod map;
mod near;
mod need;
mod notes;
mod ports;
mod program;
mod rows;
mod scenes;
mod search;
mod song_form;
mod table;
mod tracks;
mod words;

use crate::action::Action;
use crate::input::Key;

pub use listing::keys_listing;
pub use map::{Keymap, KeysError};
pub use near::near;
pub use need::{Facts, Need};
#[cfg(test)]
pub use search::search;
pub use search::{Entry, Found, Here, Part, Place, is_filler, is_same, look_up, split};
pub use words::Words;

/// The longest line of the finder, in columns.
pub const PHRASE: usize = 40;

/// The tables, those of single views first: the line of keys is filled in this order.
const TABLES: [&[Binding]; 11] = [
    layers::TABLE,
    notes::TABLE,
    levels::TABLE,
    song_form::TABLE,
    ports::TABLE,
    table::TABLE,
    grooves::TABLE,
    boxes::TABLE,
    keys_box::TABLE,
    program::TABLE,
    tracks::TABLE,
];

/// Every row.
pub fn table() -> impl Iterator<Item = &'static Binding> + Clone {
    TABLES.into_iter().flatten()
}

/// What gets the keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scene {
    /// The loop: tracks and transport.
    Loop,
    /// The layers of a track.
    Layers,
    /// The notes of a layer.
    Notes,
    /// The list of operations on a section.
    SectionEdits,
    /// The suggested keys, and the parts with a compass.
    KeyBox,
    /// What the keys of the armed track play.
    KeysBox,
    /// The list of operations on notes.
    NoteEdits,
    /// The list of ways to select notes.
    NoteSelects,
    /// The choice of what the lane under the notes shows.
    Lanes,
    /// A ramp that is being drawn.
    Ramp,
    /// The levels of the tracks.
    Levels,
    /// The sections and the form.
    SongForm,
    /// The ports and the timing.
    Ports,
    /// A view, with two rows of letters playing notes.
    Piano,
    /// A form to fill in.
    Form,
    /// The feel of a track.
    Feel,
    /// The grooves of the song.
    Grooves,
    /// The choice of a section.
    Sections,
    /// The choice of a sound.
    Sounds,
    /// The choice of a song to open.
    Files,
    /// The finder of actions.
    Finder,
    /// The question before a song is left.
    Leave,
    /// The question before a file of another program is replaced.
    Replace,
    /// The question before a song's own file is replaced, which another program has changed.
    Changed,
    /// The comparison of the song with its file.
    Comparison,
    /// The question about an export that runs.
    Exporting,
    /// The question about a rescue copy.
    Rescue,
    /// The help.
    Help,
    /// The help, with a search being typed.
    HelpSearch,
    /// The tour, whose keys come before those of the view under it.
    Tour,
}

impl Scene {
    /// Whether the two rows of letters play notes here.
    pub fn plays_letters(self) -> bool {
        matches!(self, Scene::Piano | Scene::KeysBox)
    }
}

/// A row of the table: one action, as it is asked for in some scenes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Binding {
    /// What is done.
    pub action: Action,
    /// The keys that ask for it.
    pub keys: &'static [Key],
    /// How the keys of this row and those joined to it are written, if their names one by one would
    /// be too long; else empty.
    pub shown: &'static str,
    /// A word or two for the line of keys.
    pub label: &'static str,
    /// One sentence for the help. Rows that follow each other with the same sentence are joined
    /// into one line of it.
    pub sentence: &'static str,
    /// Where.
    pub scenes: &'static [Scene],
    /// What it needs.
    pub need: Need,
}

impl Binding {
    const fn new(
        action: Action,
        keys: &'static [Key],
        label: &'static str,
        sentence: &'static str,
        scenes: &'static [Scene],
        need: Need,
    ) -> Binding {
        Binding { action, keys, shown: "", label, sentence, scenes, need }
    }

    /// The same row with its keys written in a shorter way.
    const fn shown(self, shown: &'static str) -> Binding {
        Binding { shown, ..self }
    }

    /// Whether the two are one line to a reader: the same words, under the same condition.
    fn joins(&self, other: &Binding) -> bool {
        (self.label, self.sentence, self.need) == (other.label, other.sentence, other.need)
    }
}

/// What an action needs, whoever asks for it: one of these.
pub fn needs_of(action: Action) -> impl Iterator<Item = Need> {
    table().filter(move |binding| binding.action == action).map(|binding| binding.need)
}

/// The rows of the table for a scene, in the table's order.
pub fn here(scene: Scene) -> impl Iterator<Item = &'static Binding> {
    table().filter(move |binding| binding.scenes.contains(&scene))
}

/// Rows that are one line to a reader, e.g. the tracks above and below.
#[derive(Debug, Clone)]
pub struct Line {
    /// The rows, at least one.
    rows: Vec<&'static Binding>,
}

impl Line {
    /// Joins rows that follow each other and have the same words.
    pub fn join(bindings: impl Iterator<Item = &'static Binding>) -> Vec<Line> {
        let mut lines: Vec<Line> = Vec::new();
        for binding in bindings {
            match lines.last_mut().filter(|line| line.first().joins(binding)) {
                Some(line) => line.rows.push(binding),
                None => lines.push(Line { rows: vec![binding] }),
            }
        }
        lines
    }

    /// The row that has the words.
    pub fn first(&self) -> &'static Binding {
        self.rows[0]
    }

    /// The keys, in the table's order.
    pub fn keys(&self) -> impl Iterator<Item = &'static Key> + '_ {
        self.rows.iter().flat_map(|binding| binding.keys)
    }

    /// The keys in words: as the table shows them, else one by one as `name` writes them.
    pub fn key_words(&self, name: impl FnMut(&'static Key) -> String) -> String {
        match self.first().shown {
            "" => self.keys().map(name).collect::<Vec<_>>().join(" "),
            shown => shown.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The help itself has keys that close it, and the tour is over a view, which has the help.
    #[test]
    fn the_help_can_be_opened_from_everything_that_has_keys() {
        let scenes: std::collections::BTreeSet<Scene> =
            table().flat_map(|binding| binding.scenes.iter().copied()).collect();
        let helped: std::collections::BTreeSet<Scene> = table()
            .filter(|binding| binding.action == Action::Help)
            .flat_map(|binding| binding.scenes.iter().copied())
            .chain([Scene::Help, Scene::HelpSearch, Scene::Tour])
            .collect();
        assert_eq!(scenes, helped);
    }

    #[test]
    fn no_key_means_two_things_at_once() {
        for (index, binding) in table().enumerate() {
            for other in table().skip(index + 1) {
                let shared = binding.keys.iter().find(|key| other.keys.contains(key));
                let meet = binding.scenes.iter().any(|scene| other.scenes.contains(scene));
                if let Some(key) = shared.filter(|_| meet) {
                    let apart = binding.need.excludes(other.need);
                    assert!(apart, "{key}: {:?} and {:?}", binding.action, other.action);
                }
            }
        }
    }

    #[test]
    fn an_action_needs_the_same_wherever_it_is_asked_for() {
        // Or it is a switch, with words of its own for on and off.
        for binding in table() {
            for need in needs_of(binding.action) {
                let same = need == binding.need || need.excludes(binding.need);
                assert!(same, "{:?}: {need:?} and {:?}", binding.action, binding.need);
            }
        }
    }

    #[test]
    fn every_row_says_what_it_does() {
        for binding in table() {
            assert!(!binding.keys.is_empty() && !binding.scenes.is_empty(), "{binding:?}");
            assert!(!binding.label.is_empty() && binding.label.len() <= 14, "{binding:?}");
            assert!(binding.label.split(' ').count() <= 2, "{binding:?}");
            assert!(binding.sentence.ends_with('.'), "{binding:?}");
        }
    }

    #[test]
    fn every_key_does_what_its_row_says() {
        // An action asked for in one place by one key is found under that key and no other one.
        for binding in table() {
            for (scene, key) in binding
                .scenes
                .iter()
                .flat_map(|scene| binding.keys.iter().map(move |key| (*scene, key)))
            {
                let rows: Vec<Action> = here(scene)
                    .filter(|row| row.keys.contains(key) && row.need == binding.need)
                    .map(|row| row.action)
                    .collect();
                assert_eq!(rows, [binding.action], "{scene:?} {key}");
            }
        }
    }

    #[test]
    fn no_command_lies_on_the_rows_that_play_notes() {
        for keyboard in [crate::Keyboard::Us, crate::Keyboard::De, crate::Keyboard::Fr] {
            for binding in here(Scene::Piano).chain(here(Scene::KeysBox)) {
                for key in binding.keys.iter().filter(|key| !key.ctrl) {
                    let crate::input::Code::Char(c) = key.code else { continue };
                    let c = c.to_lowercase().next().unwrap();
                    assert!(!keyboard.is_on_a_row(c), "{keyboard:?} {c}: {:?}", binding.action);
                }
            }
        }
    }
}
