//! The keymap in use: the table, or the table with the changes of a file.

use super::{Binding, Facts, Scene, changed, file, needs_of, table};
use crate::action::Action;
use crate::input::Key;
use crate::options::Keyboard;
use crate::screen::View;
use std::fmt;
use std::sync::LazyLock;

pub use file::KeysError;

/// The rows in use. It is one for the whole run of the program, and lives as long.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Keymap {
    rows: &'static [Binding],
}

/// The rows of the table, together.
static BUILT_IN: LazyLock<Vec<Binding>> = LazyLock::new(|| table().copied().collect());

impl Default for Keymap {
    /// The keys of the table.
    fn default() -> Keymap {
        Keymap { rows: &BUILT_IN }
    }
}

impl fmt::Debug for Keymap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Keymap({} rows)", self.rows.len())
    }
}

impl Keymap {
    /// The keys of the table with the changes that a file of keys makes. To be called once: what is
    /// changed stays in memory until the program ends. `keyboard` says which keys play notes.
    ///
    /// # Errors
    /// If the text is not a file of keys, or a change cannot be made: the line, what is wrong, and what
    /// would be right. Nothing is changed then.
    pub fn read(text: &str, keyboard: Keyboard) -> Result<Keymap, KeysError> {
        let rows = changed::apply(&file::read(text)?, keyboard)?;
        Ok(Keymap { rows: rows.leak() })
    }

    /// Every row.
    pub fn rows(self) -> impl Iterator<Item = &'static Binding> + Clone {
        self.rows.iter()
    }

    /// The rows for a scene, in the order of the table.
    pub fn here(self, scene: Scene) -> impl Iterator<Item = &'static Binding> {
        self.rows().filter(move |binding| binding.scenes.contains(&scene))
    }

    /// The action that a key asks for. If it has several, the one that applies now; if none does, the
    /// first, but not one that another key asks for now.
    pub fn find(self, scene: Scene, key: &Key, facts: &Facts) -> Option<Action> {
        let chord = key.chord();
        let rows = || self.here(scene).filter(|binding| binding.keys.contains(&chord));
        let applies = rows().find(|binding| facts.meet(binding.need));
        let is_free = |binding: &&Binding| !needs_of(binding.action).any(|need| facts.meet(need));
        let found = applies.or_else(|| rows().find(is_free)).or_else(|| rows().next());
        found.map(|binding| binding.action)
    }

    /// The first key of an action in a scene.
    pub fn key_in(self, scene: Scene, action: Action) -> Option<&'static Key> {
        self.here(scene).find(|binding| binding.action == action)?.keys.first()
    }

    /// The first key of an action: in a view, if it has one there.
    pub fn key_of(self, action: Action) -> Option<&'static Key> {
        self.key_that(|binding| binding.action == action)
    }

    fn key_that(self, is_meant: impl Fn(&Binding) -> bool) -> Option<&'static Key> {
        let found = || self.rows().filter(|binding| is_meant(binding));
        let in_view = |row: &&Binding| View::ALL.iter().any(|v| row.scenes.contains(&v.scene()));
        found().find(in_view).or_else(|| found().next())?.keys.first()
    }

    /// A text with the key of an action in the place of each `{id}`. Other braces stay as they are.
    pub fn fill(self, text: &str) -> String {
        let key = |id: &str| self.key_that(|binding| binding.words().id == id);
        self.fill_with(text, |id| key(id).map(ToString::to_string))
    }

    /// The same, with the keys of a scene where it has one for the action. If only the views have one, the
    /// key that leaves piano mode comes first there.
    pub fn fill_in(self, scene: Scene, text: &str) -> String {
        let leaves = self.key_in(scene, Action::Piano(false));
        self.fill_with(text, |id| {
            let here = self.here(scene).find(|binding| binding.words().id == id);
            if let Some(key) = here.and_then(|binding| binding.keys.first()) {
                return Some(key.to_string());
            }
            let key = self.key_that(|binding| binding.words().id == id)?;
            Some(leaves.map_or(key.to_string(), |leaves| format!("{leaves}, then {key}")))
        })
    }

    fn fill_with(self, text: &str, key_of: impl Fn(&str) -> Option<String>) -> String {
        let (mut filled, mut rest) = (String::new(), text);
        while let Some((before, after)) = rest.split_once('{') {
            filled += before;
            let named = after.split_once('}').and_then(|(id, after)| Some((key_of(id)?, after)));
            rest = match named {
                Some((key, after)) => {
                    filled += &key;
                    after
                }
                None => {
                    filled.push('{');
                    after
                }
            };
        }
        filled + rest
    }
}
