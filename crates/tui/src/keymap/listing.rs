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
        let what = if words.phrase.is_empty() { row.label } else { words.phrase };
        let line = [words.id.to_string(), keys(row), places(row.scenes), what.to_string()];
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
    names.collect::<Vec<_>>().join(", ")
}
