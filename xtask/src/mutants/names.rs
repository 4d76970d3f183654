//! Names of changes, and the list of those that are equivalent to the original.
//!
//! In: names as the tool prints them, such as `crates/time/src/tick.rs:20:9: replace + with - in add`,
//! and the list. Out: patterns that the tool understands, and faults of the list.

use anyhow::{Context, Result, bail};
use std::fs;
use std::path::Path;

/// Where the equivalent changes are listed; the tool itself reads this file, too.
pub const EQUIVALENTS: &str = ".cargo/mutants.toml";

/// A pattern that fits this name only.
pub fn exactly(name: &str) -> String {
    let mut pattern = String::from("^");
    for letter in name.chars() {
        if !(letter.is_alphanumeric() || " :/_<>='\",&!-".contains(letter)) {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern + "$"
}

/// What is tried, for a person: hundreds of patterns are only counted.
pub fn sum_up(choice: &[String]) -> String {
    let patterns = choice.iter().filter(|word| word.starts_with("--re=")).count();
    match patterns {
        0 if choice.is_empty() => "every file".into(),
        0 => choice.join(" "),
        1 => "1 change is left".into(),
        _ => format!("{patterns} changes are left"),
    }
}

/// Fails if an entry of the list fits no change any more, or gives no reason.
pub fn check_equivalents(top: &Path, fits: impl Fn(&str) -> Result<bool>) -> Result<()> {
    let list = fs::read_to_string(top.join(EQUIVALENTS))
        .with_context(|| format!("{EQUIVALENTS} could not be read"))?;
    check(&list, fits)
}

fn check(list: &str, fits: impl Fn(&str) -> Result<bool>) -> Result<()> {
    for (line, pattern) in entries(list)? {
        if !fits(pattern)? {
            bail!(
                "{EQUIVALENTS}:{line}: no change is called {pattern}: remove the entry or mend it"
            );
        }
    }
    Ok(())
}

/// The entries with their lines. Each stands in single quotes on a line of its own, and one comment
/// above a group of them gives the reason.
fn entries(list: &str) -> Result<Vec<(usize, &str)>> {
    let mut found = Vec::new();
    let mut reason = false;
    for (index, line) in list.lines().map(str::trim).enumerate() {
        let entry = line.strip_prefix('\'').and_then(|rest| rest.split_once('\''));
        reason = line.starts_with('#') || (reason && entry.is_some());
        if let Some((pattern, _)) = entry {
            if !reason {
                bail!(
                    "{EQUIVALENTS}:{}: an entry needs a comment above it that says why",
                    index + 1
                );
            }
            found.push((index + 1, pattern));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_escapes_what_means_something_in_a_regular_expression() {
        let name =
            "crates/a/src/b.rs:1:2: replace f -> Vec<(T, T)> with vec![] in <impl X for Y>::g";
        let expected = r"^crates/a/src/b\.rs:1:2: replace f -> Vec<\(T, T\)> with vec!\[\] in <impl X for Y>::g$";
        assert_eq!(exactly(name), expected);
        assert_eq!(exactly("a * b + c | d ^ e ?"), r"^a \* b \+ c \| d \^ e \?$");
    }

    #[test]
    fn every_entry_of_a_list_is_found_with_its_line() {
        let list =
            "exclude_re = [\n    # Both are the same.\n    'a\\.rs:.*with <',\n    'b',\n]\n";
        assert_eq!(entries(list).unwrap(), [(3, "a\\.rs:.*with <"), (4, "b")]);
    }

    #[test]
    fn an_entry_without_a_reason_is_refused() {
        let refused = entries("exclude_re = [\n    'a',\n]\n").unwrap_err().to_string();
        assert!(refused.starts_with(".cargo/mutants.toml:2: "), "{refused}");
        assert!(entries("# Why.\n'a',\n\n'b',\n").is_err());
    }

    #[test]
    fn an_entry_that_fits_nothing_is_refused() {
        let list = "# Why.\n'a',\n'b',\n";
        check(list, |_| Ok(true)).unwrap();
        let refused = check(list, |pattern| Ok(pattern == "a")).unwrap_err().to_string();
        assert!(refused.starts_with(".cargo/mutants.toml:3: no change is called b"), "{refused}");
    }

    #[test]
    fn the_list_of_the_project_gives_reasons() {
        let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
        check_equivalents(top, |_| Ok(true)).unwrap();
    }

    #[test]
    fn many_patterns_are_counted() {
        let words = |words: &[&str]| words.iter().map(|&word| word.into()).collect::<Vec<String>>();
        assert_eq!(sum_up(&[]), "every file");
        assert_eq!(sum_up(&words(&["--file=a.rs", "--shard", "0/2"])), "--file=a.rs --shard 0/2");
        assert_eq!(sum_up(&words(&["--re=^a$"])), "1 change is left");
        assert_eq!(sum_up(&words(&["--re=^a$", "--re=^b$"])), "2 changes are left");
    }
}
