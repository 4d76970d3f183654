//! The keymap with the changes of a file: which are allowed, and what the rows are then.
//!
//! In: changes as they were read, and the layout of the keyboard. Out: the rows, or one sentence about
//! the first change that cannot be made. No key means two things at once, no key that types or plays
//! gives a command, and every action keeps a key.

use super::file::{Change, KeysError, Word};
use super::{Binding, Scene, TABLES};
use crate::input::{Code, Key};
use crate::options::Keyboard;

/// The names of the places in a file of keys, each with its scenes. Questions are not among them: their
/// answers keep the keys that the question shows.
pub const PLACES: [(&str, &[Scene]); 26] = [
    (
        "views",
        &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::SongForm, Scene::Ports],
    ),
    ("loop", &[Scene::Loop]),
    ("layers", &[Scene::Layers]),
    ("notes", &[Scene::Notes]),
    ("levels", &[Scene::Levels]),
    ("form", &[Scene::SongForm]),
    ("ports", &[Scene::Ports]),
    ("piano", &[Scene::Piano]),
    ("section-edits", &[Scene::SectionEdits]),
    ("key", &[Scene::KeyBox]),
    ("keys-play", &[Scene::KeysBox]),
    ("note-edits", &[Scene::NoteEdits]),
    ("note-selects", &[Scene::NoteSelects]),
    ("lanes", &[Scene::Lanes]),
    ("ramp", &[Scene::Ramp]),
    ("fields", &[Scene::Form]),
    ("feel", &[Scene::Feel]),
    ("grooves", &[Scene::Grooves]),
    ("sections", &[Scene::Sections]),
    ("sounds", &[Scene::Sounds]),
    ("files", &[Scene::Files]),
    ("comparison", &[Scene::Comparison]),
    ("finder", &[Scene::Finder]),
    ("help", &[Scene::Help]),
    ("help-search", &[Scene::HelpSearch]),
    ("tour", &[Scene::Tour]),
];

/// The name of a scene in a file of keys.
pub fn place_name(scene: Scene) -> &'static str {
    let named = PLACES.iter().find(|(_, scenes)| *scenes == [scene]);
    named.map_or("questions", |(name, _)| name)
}

/// A row that may differ from the table.
struct Row {
    binding: Binding,
    keys: Vec<Key>,
    scenes: Vec<Scene>,
    /// The line of the file that changed it last.
    line: Option<usize>,
}

impl Row {
    fn of(binding: &Binding) -> Row {
        let (keys, scenes) = (binding.keys.to_vec(), binding.scenes.to_vec());
        Row { binding: *binding, keys, scenes, line: None }
    }

    fn id(&self) -> &'static str {
        self.binding.words().id
    }

    /// The row as one that lives as long as the program. Only what was changed is new.
    fn settle(self) -> Binding {
        match self.line {
            None => Binding { scenes: self.scenes.leak(), ..self.binding },
            Some(_) => Binding {
                keys: self.keys.leak(),
                scenes: self.scenes.leak(),
                shown: "",
                ..self.binding
            },
        }
    }
}

/// The rows of the table with the changes.
///
/// # Errors
/// If a change names a place, an action or a key that there is not, takes a key that types, plays or
/// always works, leaves an action without a key, or gives a key a second meaning.
pub fn apply(changes: &[Change], keyboard: Keyboard) -> Result<Vec<Binding>, KeysError> {
    let mut rows: Vec<Row> = TABLES.into_iter().flatten().map(Row::of).collect();
    for change in changes {
        rows = with(rows, change, keyboard)?;
    }
    refuse_doubles(&rows)?;
    // What is written in a shorter way is no longer so if a row that is joined to it has changed.
    let changed: Vec<Binding> =
        rows.iter().filter(|row| row.line.is_some()).map(|row| row.binding).collect();
    for row in &mut rows {
        if changed.iter().any(|other| other.joins(&row.binding)) {
            row.binding = row.binding.shown("");
        }
    }
    Ok(rows.into_iter().map(Row::settle).collect())
}

fn wrong(at: &Word, what: String) -> KeysError {
    KeysError { line: at.line, what }
}

/// The rows with one more change.
fn with(rows: Vec<Row>, change: &Change, keyboard: Keyboard) -> Result<Vec<Row>, KeysError> {
    let (place, action) = (&change.place, &change.action);
    let scenes = PLACES.iter().find(|(name, _)| *name == place.text).map(|(_, scenes)| *scenes);
    let scenes = scenes.ok_or_else(|| {
        let names: Vec<&str> = PLACES.iter().map(|(name, _)| *name).collect();
        wrong(place, format!("'{}' is not a place: use {}", place.text, names.join(", ")))
    })?;
    check_action(&rows, place, scenes, action)?;
    if change.keys.is_empty() {
        return Err(wrong(action, format!("'{}' needs at least one key", action.text)));
    }
    let mut keys = Vec::new();
    for word in &change.keys {
        keys.push(key(word, place, scenes, keyboard)?);
    }
    let mut changed = Vec::new();
    for row in rows {
        let takes = |scene: &Scene| {
            row.id() == action.text && !row.binding.is_fixed() && scenes.contains(scene)
        };
        let (here, elsewhere): (Vec<Scene>, Vec<Scene>) = row.scenes.iter().partition(|s| takes(s));
        if here.is_empty() {
            changed.push(row);
            continue;
        }
        let binding = row.binding;
        // Rows of the same action here become one.
        let known = changed.iter_mut().find(|known: &&mut Row| {
            known.line == Some(action.line)
                && (known.binding.action, known.binding.need) == (binding.action, binding.need)
                && known.scenes.iter().any(|scene| here.contains(scene))
        });
        if known.is_none() {
            let line = Some(action.line);
            changed.push(Row { binding, keys: keys.clone(), scenes: here, line });
        }
        if !elsewhere.is_empty() {
            changed.push(Row { scenes: elsewhere, ..row });
        }
    }
    Ok(changed)
}

/// Checks that there is such an action, and that it has a key here that can be changed.
fn check_action(
    rows: &[Row],
    place: &Word,
    scenes: &[Scene],
    action: &Word,
) -> Result<(), KeysError> {
    let of: Vec<&Row> = rows.iter().filter(|row| row.id() == action.text).collect();
    if of.is_empty() {
        let what = format!("'{}' is not an action: `chaconne keys` lists them all", action.text);
        return Err(wrong(action, what));
    }
    let here: Vec<&&Row> =
        of.iter().filter(|row| row.scenes.iter().any(|scene| scenes.contains(scene))).collect();
    if here.is_empty() {
        let mut names: Vec<&str> =
            of.iter().flat_map(|row| row.scenes.iter().map(|&scene| place_name(scene))).collect();
        names.dedup();
        let names = names.join(", ");
        let what = format!("'{}' does nothing in '{}': use {names}", action.text, place.text);
        return Err(wrong(action, what));
    }
    match here.iter().all(|row| row.binding.is_fixed()) {
        false => Ok(()),
        true => {
            let key = here[0].keys.first().map_or(String::new(), ToString::to_string);
            Err(wrong(action, format!("'{}' is always on {key}", action.text)))
        }
    }
}

impl Binding {
    /// Whether the row keeps its keys: those that work everywhere, so that there is always a way out.
    pub fn is_fixed(&self) -> bool {
        let everywhere = [Scene::Form, Scene::Help].iter().all(|s| self.scenes.contains(s));
        everywhere && self.keys.iter().all(|key| key.ctrl)
    }
}

/// Reads a key, and checks that it may give a command there.
fn key(word: &Word, place: &Word, scenes: &[Scene], keyboard: Keyboard) -> Result<Key, KeysError> {
    let key: Key = word.text.parse().map_err(|what| wrong(word, what))?;
    let fixed = TABLES.into_iter().flatten().find(|row| row.is_fixed() && row.keys.contains(&key));
    if let Some(row) = fixed {
        let what = format!("{key} is always '{}': use another key", row.words().id);
        return Err(wrong(word, what));
    }
    let plain = !key.ctrl && !key.alt;
    let plays = |c: char| {
        scenes.iter().any(|scene| scene.plays_letters())
            && c.to_lowercase().any(|c| keyboard.is_on_a_row(c))
    };
    match key.code {
        Code::Char(c) if plain && plays(c) => {
            let what =
                format!("in piano mode {key} plays a note: use a key off the two rows of letters");
            Err(wrong(word, what))
        }
        code if plain && scenes.iter().any(|&scene| types(scene, code)) => {
            let what = format!(
                "in '{}' {key} types or edits text: use a key such as F12 or Ctrl-X",
                place.text
            );
            Err(wrong(word, what))
        }
        _ => Ok(key),
    }
}

/// Whether a plain key types something in a scene.
fn types(scene: Scene, code: Code) -> bool {
    match scene {
        Scene::Form | Scene::Finder | Scene::Files | Scene::HelpSearch => {
            matches!(code, Code::Char(_) | Code::Backspace | Code::Delete)
        }
        Scene::Sounds => {
            matches!(code, Code::Char(c) if c.is_alphanumeric() || c == ' ')
                || code == Code::Backspace
        }
        Scene::Lanes => {
            matches!(code, Code::Char(c) if c.is_ascii_digit() || c.is_ascii_lowercase())
        }
        Scene::Ramp => matches!(code, Code::Char('0'..='9' | '-') | Code::Backspace),
        Scene::Sections => matches!(code, Code::Char(c) if c.is_ascii_alphabetic()),
        _ => false,
    }
}

/// Refuses a key that means two things at once in a scene.
fn refuse_doubles(rows: &[Row]) -> Result<(), KeysError> {
    for (index, row) in rows.iter().enumerate() {
        for other in &rows[index + 1..] {
            let Some(line) = row.line.max(other.line) else { continue };
            let shared = row.keys.iter().find(|key| other.keys.contains(key));
            let scene = row.scenes.iter().find(|scene| other.scenes.contains(scene));
            let (Some(key), Some(&scene)) = (shared, scene) else { continue };
            if !row.binding.need.excludes(other.binding.need) && row.id() != other.id() {
                let what = format!(
                    "{key} would be both '{}' and '{}' in '{}': give one of them another key",
                    row.id(),
                    other.id(),
                    place_name(scene)
                );
                return Err(KeysError { line, what });
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Keymap, table};
    use super::*;
    use crate::action::Action;

    fn read(text: &str) -> Result<Keymap, String> {
        Keymap::read(text, Keyboard::Us).map_err(|error| error.to_string())
    }

    fn keys(keymap: Keymap, scene: Scene, id: &str) -> Vec<String> {
        let rows = keymap.here(scene).filter(|row| row.words().id == id);
        rows.flat_map(|row| row.keys).map(ToString::to_string).collect()
    }

    #[test]
    fn every_scene_but_the_questions_has_a_name_in_a_file_of_keys() {
        let questions =
            [Scene::Leave, Scene::Replace, Scene::Changed, Scene::Exporting, Scene::Rescue];
        for scene in table().flat_map(|row| row.scenes) {
            let is_named = place_name(*scene) != "questions";
            assert_eq!(is_named, !questions.contains(scene), "{scene:?}");
        }
    }

    #[test]
    fn every_id_in_braces_is_that_of_an_action() {
        let keymap = Keymap::default();
        for row in table() {
            for text in [row.sentence, row.need.missing()] {
                assert!(!keymap.fill(text).contains('{'), "{text}");
            }
        }
    }

    #[test]
    fn an_empty_file_changes_nothing() {
        let keymap = read("// nothing yet\n{}").unwrap();
        assert!(keymap.rows().eq(table()));
    }

    #[test]
    fn a_change_holds_in_its_place_and_nowhere_else() {
        let text =
            "{ \"loop\": { \"mute\": [\"x\", \"F12\"] }, \"views\": { \"record\": [\"Ctrl-G\"] } }";
        let keymap = read(text).unwrap();
        assert_eq!(keys(keymap, Scene::Loop, "mute"), ["x", "F12"]);
        assert_eq!(keys(keymap, Scene::Levels, "mute"), ["m"]);
        // All three rows of the switch: record, don't record, stop recording.
        assert_eq!(keys(keymap, Scene::SongForm, "record"), ["Ctrl-G"; 3]);
        assert_eq!(keys(keymap, Scene::Piano, "record"), ["Enter"; 3]);
        assert_eq!(keymap.fill("{record}, {mute} and {such}"), "Ctrl-G, x and {such}");
    }

    #[test]
    fn two_actions_can_change_places() {
        let text = "{ \"loop\": { \"mute\": [\"s\"], \"solo\": [\"m\"] } }";
        let keymap = read(text).unwrap();
        assert_eq!(keys(keymap, Scene::Loop, "solo"), ["m"]);
    }

    #[test]
    fn what_cannot_be_changed_is_refused_with_its_line() {
        for (text, error) in [
            (
                "{\n \"mix\": { \"mute\": [\"x\"] } }",
                "line 2: 'mix' is not a place: use views, loop, layers,",
            ),
            (
                "{ \"loop\": {\n \"mutee\": [\"x\"] } }",
                "line 2: 'mutee' is not an action: `chaconne keys` lists them all",
            ),
            (
                "{ \"notes\": { \"mute\": [\"x\"] } }",
                "line 1: 'mute' does nothing in 'notes': use loop, levels",
            ),
            ("{ \"loop\": {\n\n \"mute\": [] } }", "line 3: 'mute' needs at least one key"),
            (
                "{ \"loop\": { \"mute\": [\n\"Hyper-x\"] } }",
                "line 2: 'Hyper-x' is not a key: write a character,",
            ),
            (
                "{ \"loop\": { \"mute\": [\"Ctrl-C\"] } }",
                "line 1: Ctrl-C is always 'quit': use another key",
            ),
            ("{ \"fields\": { \"suspend\": [\"F12\"] } }", "line 1: 'suspend' is always on Ctrl-Z"),
            ("{ \"piano\": { \"undo\": [\"D\"] } }", "line 1: in piano mode D plays a note:"),
            (
                "{ \"fields\": { \"confirm\": [\"y\"] } }",
                "line 1: in 'fields' y types or edits text:",
            ),
            (
                "{ \"loop\": {\n \"solo\": [\"F12\"],\n \"mute\": [\"a\"] } }",
                "line 3: a would be both 'add-track' and 'mute' in 'loop': give one of them another key",
            ),
        ] {
            let said = read(text).unwrap_err();
            assert!(said.starts_with(error), "{said}\n{error}");
        }
        // Only the rows of the player's own keyboard play notes.
        let german = "{ \"piano\": { \"undo\": [\"ü\"] } }";
        assert!(Keymap::read(german, Keyboard::De).is_err() && read(german).is_ok());
    }

    #[test]
    fn every_action_of_the_views_can_get_another_key_and_is_found_under_it() {
        for row in table().filter(|row| !row.is_fixed()) {
            for &scene in row.scenes.iter().filter(|&&scene| place_name(scene) != "questions") {
                let (place, id) = (place_name(scene), row.words().id);
                let keymap =
                    read(&format!("{{ \"{place}\": {{ \"{id}\": [\"F24\"] }} }}")).unwrap();
                let key = Key::new(Code::F(24));
                let found: Vec<Action> = keymap
                    .here(scene)
                    .filter(|found| found.keys.contains(&key))
                    .map(|found| found.action)
                    .collect();
                assert!(
                    found.iter().all(|&action| action == row.action),
                    "{place} {id}: {found:?}"
                );
                assert!(!found.is_empty(), "{place} {id}");
                let elsewhere = keymap.rows().filter(|found| found.keys.contains(&key));
                assert!(elsewhere.into_iter().all(|found| found.scenes == [scene]), "{place} {id}");
            }
        }
    }
}
