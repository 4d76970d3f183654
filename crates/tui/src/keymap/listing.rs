//! The table of actions as plain text, for `chaconne keys`.

use super::changed::{PLACES, place_name};
use super::{Binding, Keymap, Scene};
use crate::text;

/// The columns of the names of places, beyond which what the action does is on the same line anyway.
const PLACE_COLUMNS: usize = 22;

/// Every action with its id, its keys, where it has them, and what it does: a line each.
pub fn keys_listing(keymap: Keymap) -> String {
    let head = ["action", "keys", "where", "what it does"].map(str::to_string);
    let mut lines = vec![head];
    for row in keymap.rows() {
        let words = row.words();
        let what = match words.phrase {
            "" => keymap.fill(row.sentence),
            phrase => format!("{phrase}."),
        };
        let line = [words.id.to_string(), keys(row), places(row.scenes), what];
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    let width = |column: usize| lines.iter().map(|line| text::width(&line[column])).max();
    let (ids, keys) = (width(0).unwrap_or(0), width(1).unwrap_or(0));
    let mut listing = String::new();
    for [id, names, place, what] in &lines {
        let line = format!("{id:<ids$}  {names:<keys$}  {place:<PLACE_COLUMNS$}  {what}");
        listing += line.trim_end();
        listing.push('\n');
    }
    listing
}

fn keys(row: &Binding) -> String {
    row.keys.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

/// The names of scenes as a file of keys writes them; all views together have one name.
fn places(scenes: &[Scene]) -> String {
    let (name, views) = PLACES[0];
    let all = views.iter().all(|view| scenes.contains(view));
    let others = scenes.iter().filter(|scene| !(all && views.contains(scene)));
    let names = all.then_some(name).into_iter().chain(others.map(|&scene| place_name(scene)));
    let mut names: Vec<&str> = names.collect();
    names.dedup();
    names.join(", ")
}

#[cfg(test)]
mod tests {
    use super::super::table;
    use super::*;

    #[test]
    fn every_action_is_listed_with_its_keys_and_places() {
        let listing = keys_listing(Keymap::default());
        for row in table() {
            let id = row.words().id;
            let starts = |line: &&str| line.split_whitespace().next() == Some(id);
            let named = |line: &str| {
                let words: Vec<&str> = line.split_whitespace().collect();
                row.keys.iter().all(|key| words.contains(&key.to_string().as_str()))
            };
            assert!(listing.lines().filter(starts).any(named), "{id}");
        }
        let line = |start: &str| listing.lines().find(|line| line.starts_with(start)).unwrap();
        let places = "views, section-edits, key, keys-play, grooves, note-edits, ";
        assert!(line("silence ").contains(places));
        assert!(line("record ").contains("views  ") && line("record ").ends_with("Record."));
    }
}
