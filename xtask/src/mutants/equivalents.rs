//! The changes that make no difference, so that no test can notice them: `xtask/equivalents.txt`.
//!
//! In: the list, and the names of all changes as the tool prints them, such as
//! `crates/time/src/tick.rs:20:9: replace + with - in add`. Out: the names that the list means. An entry
//! has no line numbers, because those move: it gives the file, the change, and the changed line.

use anyhow::{Context, Result, bail};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The list, under the top folder.
pub const LIST: &str = "xtask/equivalents.txt";

/// An entry: the file, the change, and the line of code that is changed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Entry {
    file: String,
    change: String,
    code: String,
}

/// The names among `all` that the list means. Fails if an entry gives no reason or fits no name.
pub fn among(top: &Path, all: &[String]) -> Result<BTreeSet<String>> {
    let list =
        fs::read_to_string(top.join(LIST)).with_context(|| format!("{LIST} could not be read"))?;
    let mut sources = BTreeMap::new();
    let mut named: BTreeMap<Entry, Vec<&String>> = BTreeMap::new();
    for name in all {
        let (file, line, change) = parts(name)?;
        if !sources.contains_key(file) {
            let source = fs::read_to_string(top.join(file));
            sources.insert(file, source.with_context(|| format!("{file} could not be read"))?);
        }
        let code = sources[file].lines().nth(line - 1).unwrap_or_default().trim();
        let entry = Entry { file: file.into(), change: change.into(), code: code.into() };
        named.entry(entry).or_default().push(name);
    }
    let mut found = BTreeSet::new();
    for (line, entry) in entries(&list)? {
        let Some(names) = named.get(&entry) else {
            bail!("{LIST}:{line}: there is no such change now: remove the entry or correct it");
        };
        found.extend(names.iter().map(|&name| name.clone()));
    }
    Ok(found)
}

/// The file, line and change of a name.
fn parts(name: &str) -> Result<(&str, usize, &str)> {
    let read = || {
        let (place, change) = name.split_once(": ")?;
        let mut place = place.rsplitn(3, ':');
        let (_column, line) = (place.next()?, place.next()?.parse().ok().filter(|&line| line > 0)?);
        Some((place.next()?, line, change))
    };
    read().with_context(|| format!("cargo-mutants calls a change '{name}', without file and line"))
}

/// The entries with their lines. A comment above one or several of them says why; a blank line ends
/// what it is about.
fn entries(list: &str) -> Result<Vec<(usize, Entry)>> {
    let mut found = Vec::new();
    let mut has_reason = false;
    let mut lines = list.lines().zip(1..);
    while let Some((line, number)) = lines.next() {
        if line.trim().is_empty() {
            has_reason = false;
        } else if line.starts_with('#') {
            has_reason = true;
        } else if !has_reason {
            bail!("{LIST}:{number}: an entry needs a comment above it that says why");
        } else {
            let code = lines.next().map(|(code, _)| code).filter(|code| code.starts_with(' '));
            let (Some((file, change)), Some(code)) = (line.split_once(": "), code) else {
                bail!(
                    "{LIST}:{number}: write 'FILE: CHANGE', and below it, indented, the changed line"
                );
            };
            let [file, change, code] = [file, change, code.trim()].map(String::from);
            found.push((number, Entry { file, change, code }));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIST: &str = "# Both are the same.\n\
                        a.rs: replace < with <= in f\n    if x < y {\n\
                        a.rs: replace < with <= in g\n    if y < z {\n";

    /// A folder with the list and a source file.
    fn folder(list: &str) -> std::path::PathBuf {
        let name = format!("chaconne-equivalents-{:?}", std::thread::current().id());
        let top = std::env::temp_dir().join(format!("{name}-{}", std::process::id()));
        fs::create_dir_all(top.join("xtask")).unwrap();
        fs::write(top.join(super::LIST), list).unwrap();
        fs::write(
            top.join("a.rs"),
            "fn f() {\n    if x < y {\n    if x < z {\n}\n    if y < z {\n",
        )
        .unwrap();
        top
    }

    fn names(words: &[&str]) -> Vec<String> {
        words.iter().map(|&word| word.into()).collect()
    }

    #[test]
    fn an_entry_means_the_change_of_that_line_wherever_the_line_is() {
        let top = folder(LIST);
        let all = names(&[
            "a.rs:2:10: replace < with <= in f",
            "a.rs:2:10: replace < with > in f",
            "a.rs:3:10: replace < with <= in f",
            "a.rs:5:10: replace < with <= in g",
        ]);
        let found = among(&top, &all).unwrap();
        assert_eq!(found.into_iter().collect::<Vec<_>>(), [all[0].clone(), all[3].clone()]);
        fs::remove_dir_all(top).unwrap();
    }

    #[test]
    fn an_entry_that_fits_no_change_is_refused_with_its_line() {
        let top = folder(LIST);
        let refused = among(&top, &names(&["a.rs:2:10: replace < with <= in f"])).unwrap_err();
        assert!(refused.to_string().starts_with("xtask/equivalents.txt:4: "), "{refused}");
        fs::remove_dir_all(top).unwrap();
    }

    #[test]
    fn an_entry_without_a_reason_or_a_line_of_code_is_refused() {
        for list in ["a.rs: b\n    c\n", "# Why.\na.rs: b\n    c\n\na.rs: d\n    e\n"] {
            let refused = entries(list).unwrap_err().to_string();
            assert!(refused.ends_with("that says why"), "{refused}");
        }
        for list in ["# Why.\na.rs: b\n", "# Why.\na.rs: b\nc\n", "# Why.\na.rs\n    c\n"] {
            assert!(entries(list).is_err(), "{list}");
        }
    }

    #[test]
    fn the_list_of_the_project_can_be_read() {
        let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
        let list = fs::read_to_string(top.join(super::LIST)).unwrap();
        for (line, entry) in entries(&list).unwrap() {
            let source = fs::read_to_string(top.join(&entry.file)).unwrap();
            assert!(source.lines().any(|code| code.trim() == entry.code), "line {line}");
        }
    }
}
