//! What to say about a key that does nothing where it was pressed.
//!
//! In: the key and where it was pressed. Out: one or two short sentences with what is nearest: the same
//! letter in the other case, the same key in another view, or the key of the finder.

use super::search::in_view;
use super::{Binding, Here, Keymap, Need, Scene};
use crate::action::{Action, Arrows};
use crate::input::{Code, Key};
use crate::screen::View;

/// What to say about a key that does nothing in a scene; `None` if nothing needs saying.
pub fn near(scene: Scene, here: Here, key: &Key) -> Option<String> {
    let chord = key.chord();
    if let Some(twin) = twin(here.keymap, scene, &chord) {
        return Some(format!("The {chord} key does nothing here. {}: {}.", twin.0, does(twin.1)));
    }
    let is_view = scene == here.view.scene();
    // Who goes back where nothing is open is where they want to be.
    if is_view && chord == Key::new(Code::Esc) {
        return None;
    }
    if scene == Scene::Piano
        && let Some(row) = row(here.keymap, here.view.scene(), &chord)
    {
        let row = does(row);
        return Some(format!("The {chord} key does nothing in piano mode. Outside it: {row}."));
    }
    if is_view && let Some(elsewhere) = elsewhere(here, &chord) {
        return Some(format!("The {chord} key does nothing here. {elsewhere}."));
    }
    let key = |action| here.keymap.key_in(scene, action);
    let next = match (key(Action::Find), key(Action::Cancel)) {
        (Some(find), _) => format!("{find} finds an action by what you want to do"),
        (None, Some(back)) => match key(Action::Help) {
            Some(help) => format!("{help} explains what does, {back} goes back"),
            None => format!("{back} goes back"),
        },
        (None, None) => return Some(format!("The {chord} key does nothing here.")),
    };
    Some(format!("The {chord} key does nothing here. {next}."))
}

/// The same letter in the other case, and its row, if it does something.
fn twin(keymap: Keymap, scene: Scene, key: &Key) -> Option<(Key, &'static Binding)> {
    let Code::Char(c) = key.code else { return None };
    let mut other =
        if c.is_lowercase() { c.to_uppercase().next()? } else { c.to_lowercase().next()? };
    if other == c {
        other = match c {
            // With and without Shift on most keyboards.
            '_' => '-',
            _ => return None,
        };
    }
    let twin = Key { code: Code::Char(other), ..*key };
    row(keymap, scene, &twin).map(|row| (twin, row))
}

fn row(keymap: Keymap, scene: Scene, key: &Key) -> Option<&'static Binding> {
    keymap.here(scene).find(|row| row.keys.contains(key))
}

/// The most bytes of what a key does elsewhere, so that all of it fits on a line of 80 columns; where it is
/// more, names and labels have to do.
const ROOM: usize = 60;

/// What the key does in every other view where it does something. Views in which it does the same are named
/// together.
fn elsewhere(here: Here, key: &Key) -> Option<String> {
    let mut found: Vec<(&'static Binding, Vec<View>)> = Vec::new();
    for other in View::ALL.into_iter().filter(|&other| other != here.view) {
        let mut rows = here.keymap.here(other.scene()).filter(|row| row.keys.contains(key));
        // Another view is met with the arrows on its cursor.
        let row =
            rows.find(|row| !matches!(row.need, Need::Arrows(arrows) if arrows != Arrows::Cursor));
        let Some(row) = row else { continue };
        match found.iter_mut().find(|(known, _)| known.action == row.action) {
            Some((_, views)) => views.push(other),
            None => found.push((row, vec![other])),
        }
    }
    let words = |place: &dyn Fn(View) -> String, does: fn(&Binding) -> String| {
        let named = found.iter().map(|(row, views)| {
            let views: Vec<String> = views.iter().copied().map(place).collect();
            format!("{}: {}", views.join(", "), does(row))
        });
        named.collect::<Vec<_>>().join("; ")
    };
    let long = words(&|view| in_view(view, here.keymap), does);
    let in_short = |view: View| match here.keymap.key_of(Action::Show(view)) {
        Some(key) => format!("{} {key}", view.name()),
        None => view.name().to_string(),
    };
    let words = match long.len() > ROOM {
        true => words(&in_short, |row| row.label.to_string()),
        false => long,
    };
    let first = words.chars().next()?;
    Some(format!("{}{}", first.to_uppercase(), &words[first.len_utf8()..]))
}

/// What a row does, in the middle of a sentence.
fn does(row: &Binding) -> String {
    let phrase = row.words().phrase;
    let words = if phrase.is_empty() { row.label } else { phrase };
    let mut chars = words.chars();
    chars.next().map_or(String::new(), |c| format!("{}{}", c.to_lowercase(), chars.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::action::Arrows;

    #[test]
    fn a_key_without_an_action_says_what_is_near() {
        let at = |view| {
            let (arrows, keymap) = (Arrows::Cursor, Keymap::default());
            (Here { view, piano: false, arrows, keymap }, View::scene(view))
        };
        for ((here, scene), key, said) in [
            (
                at(View::Loop),
                Key::char('b'),
                "The b key does nothing here. Layers F3: merge; notes F4: lane; form F6: add entry.",
            ),
            (
                at(View::Loop),
                Key::char('d'),
                "The d key does nothing here. Notes F4: draw; form F6: copy.",
            ),
            (
                at(View::Loop),
                Key::char('H'),
                "The H key does nothing here. Notes F4: velocity; form F6: chords.",
            ),
            (
                at(View::Loop),
                Key::char('M'),
                "The M key does nothing here. m: mute or unmute the track.",
            ),
            (
                at(View::Notes),
                Key::char('7'),
                "The 7 key does nothing here. / finds an action by what you want to do.",
            ),
            (
                (Here { piano: true, ..at(View::Loop).0 }, Scene::Piano),
                Key::char('n'),
                "The n key does nothing in piano mode. Outside it: begin a new song.",
            ),
            (
                (Here { piano: true, ..at(View::Loop).0 }, Scene::Piano),
                Key::char('7'),
                "The 7 key does nothing here. F9 finds an action by what you want to do.",
            ),
            (
                (Here { piano: false, ..at(View::Loop).0 }, Scene::Feel),
                Key::char('x'),
                "The x key does nothing here. ? explains what does, Esc goes back.",
            ),
            (
                (Here { piano: false, ..at(View::Loop).0 }, Scene::Leave),
                Key::char('S'),
                "The S key does nothing here. s: save.",
            ),
        ] {
            assert_eq!(near(scene, here, &key).as_deref(), Some(said));
        }
        for view in View::ALL {
            let (here, scene) = at(view);
            let is_used = row(here.keymap, scene, &Key::new(Code::Esc)).is_some();
            assert_eq!(near(scene, here, &Key::new(Code::Esc)), None, "{view:?} {is_used}");
        }
    }
}
